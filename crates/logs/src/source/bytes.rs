//! The raw bytes of one file, with their hash.
use super::{Unreadable, reason};
use sha2::{Digest, Sha256};
use std::path::Path;

/// Bytes as they lie on the disk.
pub(crate) struct Raw {
    pub bytes: Vec<u8>,
    /// Lower-case hexadecimal.
    pub sha256: String,
}

/// A log of 1 GB would hold ten years of seconds: anything larger is no log.
const MOST_BYTES: u64 = 1 << 30;

/// Reads a regular file whole. Folders, pipes, devices and huge files are refused unopened.
pub(crate) fn read(path: &Path) -> Result<Raw, Unreadable> {
    let refused = |found: String| {
        Unreadable::new(
            "file-unreadable",
            "not a file that can be read",
            found,
            "a regular file",
            "correct the path in the site file, or put the file there",
        )
    };
    let about = std::fs::metadata(path).map_err(|e| refused(reason(&e)))?;
    if about.is_dir() {
        return Err(Unreadable::new(
            "file-is-folder",
            "a folder where a file is meant",
            "a folder",
            "a file",
            "name the files in it, for instance with FOLDER/*.csv",
        ));
    }
    if !about.is_file() {
        return Err(refused("a pipe, socket or device".into()));
    }
    if about.len() > MOST_BYTES {
        return Err(refused(format!("a file of {} MB (at most {} MB is read)", about.len() >> 20, MOST_BYTES >> 20)));
    }
    let bytes = std::fs::read(path).map_err(|e| refused(reason(&e)))?;
    if bytes.is_empty() {
        return Err(Unreadable::new(
            "file-empty",
            "an empty file",
            "0 bytes",
            "a header and rows",
            "export the log again, or take the file out of the site file",
        ));
    }
    let sha256 = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
    Ok(Raw { bytes, sha256 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_is_the_one_sha256sum_prints() {
        // FIPS 180-2, appendix B.1: SHA-256 of "abc".
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc.csv");
        std::fs::write(&path, "abc").unwrap();
        assert_eq!(read(&path).unwrap().sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_folder_an_empty_and_an_absent_file_have_a_sentence_each() {
        let folder = tempfile::tempdir().unwrap();
        let empty = folder.path().join("e.csv");
        std::fs::write(&empty, "").unwrap();
        let code = |p: &Path| read(p).err().unwrap().code;
        assert_eq!(code(folder.path()), "file-is-folder");
        assert_eq!(code(&empty), "file-empty");
        assert_eq!(read(&folder.path().join("no.csv")).err().unwrap().found, "no such file");
    }
}
