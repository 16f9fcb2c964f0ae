//! Hashes the source of the crates that decide the numbers of the store, so that a store written by other
//! rules is never taken for this program's.
#![allow(clippy::print_stdout)] // how a build script speaks to cargo

use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

fn sources(folder: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            sources(&path, files)?;
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
    Ok(())
}

fn main() -> std::io::Result<()> {
    let mut sha = Sha256::new();
    for name in ["readings", "logs", "trial", "crosshouse"] {
        let folder = Path::new("..").join(name).join("src");
        println!("cargo::rerun-if-changed={}", folder.display());
        let mut files = Vec::new();
        sources(&folder, &mut files)?;
        files.sort();
        for path in files {
            sha.update(path.to_string_lossy().as_bytes());
            sha.update(std::fs::read(&path)?);
        }
    }
    println!("cargo::rerun-if-changed=../../Cargo.lock");
    sha.update(std::fs::read("../../Cargo.lock")?);
    let hash: String = sha.finalize().iter().map(|b| format!("{b:02x}")).collect();
    println!("cargo::rustc-env=CROSSHOUSE_RULES={hash}");
    Ok(())
}
