//! Hashes of a results folder's files.
use crate::OutFile;
use sha2::{Digest, Sha256};

/// SHA-256 in lower-case hexadecimal, as `sha256sum` prints it.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// A text in the form that `sha256sum --check` reads: one line a file, sorted by path.
pub fn manifest(files: &[OutFile]) -> OutFile {
    let mut lines: Vec<String> = files.iter().map(|f| format!("{}  {}\n", sha256(&f.bytes), f.path)).collect();
    lines.sort_by(|a, b| a[64..].cmp(&b[64..]));
    OutFile::new("audit/sha256.txt", lines.concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4, example "abc".
    #[test]
    fn the_hash_of_abc_is_the_standards_example() {
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn the_manifest_does_not_depend_on_the_order_of_the_files() {
        let (a, b) = (OutFile::new("b.txt", "1"), OutFile::new("a.txt", "2"));
        assert_eq!(manifest(&[a.clone(), b.clone()]), manifest(&[b, a]));
    }
}
