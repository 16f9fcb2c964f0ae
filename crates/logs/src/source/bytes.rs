//! The raw bytes of one file, with their hash.
use super::{Unreadable, reason};
use sha2::{Digest, Sha256};
use std::fs::Metadata;
use std::io::Read;
use std::path::Path;

/// Bytes as they lie on the disk.
pub(crate) struct Raw {
    pub bytes: Vec<u8>,
    /// Lower-case hexadecimal.
    pub sha256: String,
}

/// A log of 1 GB would hold ten years of seconds: anything larger is no log.
const MOST_BYTES: u64 = 1 << 30;

/// A line of this many bytes is no row in any encoding: the file is read no further.
const MOST_LINE_BYTES: u64 = 4 << 20;

fn refused(found: String) -> Unreadable {
    Unreadable::new(
        "file-unreadable",
        "not a file that can be read",
        found,
        "a regular file",
        "correct the path in the site file, or put the file there",
    )
}

/// Reads a regular file whole. Folders, pipes, devices and huge files are refused unopened, a text with a
/// monstrous line as soon as the line is known to be one.
pub(crate) fn read(path: &Path) -> Result<Raw, Unreadable> {
    read_then(path, || {})
}

/// `meanwhile` is called when the bytes are read and the file has not been looked at again.
fn read_then(path: &Path, meanwhile: impl FnOnce()) -> Result<Raw, Unreadable> {
    let before = regular(path)?;
    let of_lines = !super::is_workbook(&path.to_string_lossy());
    let raw = content(path, before.len(), of_lines)?;
    meanwhile();
    let after = std::fs::metadata(path).map_err(|e| refused(reason(&e)))?;
    let same = |a: &Metadata, b: &Metadata| a.len() == b.len() && a.modified().ok() == b.modified().ok();
    if !same(&before, &after) || raw.bytes.len() as u64 != after.len() {
        return Err(Unreadable::new(
            "file-changing",
            "a file that changed while it was read",
            format!("{} bytes before, {} read, {} after", before.len(), raw.bytes.len(), after.len()),
            "a file that nothing writes to",
            "wait until the download or the program that writes it is done, and run again",
        ));
    }
    if raw.bytes.is_empty() {
        return Err(Unreadable::new(
            "file-empty",
            "an empty file",
            "0 bytes",
            "a header and rows",
            "export the log again, or take the file out of the site file",
        ));
    }
    Ok(raw)
}

fn regular(path: &Path) -> Result<Metadata, Unreadable> {
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
    Ok(about)
}

/// The bytes in pieces, with their hash; never more than the file was long at first, and one byte.
fn content(path: &Path, length: u64, of_lines: bool) -> Result<Raw, Unreadable> {
    let file = std::fs::File::open(path).map_err(|e| refused(reason(&e)))?;
    let mut file = file.take(length.saturating_add(1));
    let (mut bytes, mut hash, mut line) = (Vec::new(), Sha256::new(), Line { row: 1, bytes: 0, after_cr: false });
    let mut piece = vec![0; 1 << 16];
    loop {
        let read = file.read(&mut piece).map_err(|e| refused(reason(&e)))?;
        let Some(piece) = piece.get(..read).filter(|p| !p.is_empty()) else { break };
        if of_lines && line.is_too_long(piece) {
            return Err(Unreadable::new(
                "line-too-long",
                "a line too long to be a row",
                format!("more than {} MB in row {}", MOST_LINE_BYTES >> 20, line.row),
                "rows of a log",
                "export the log again",
            )
            .at_row(line.row));
        }
        hash.update(piece);
        bytes.extend_from_slice(piece);
    }
    Ok(Raw { bytes, sha256: hash.finalize().iter().map(|b| format!("{b:02x}")).collect() })
}

/// The line being read: its row, and how long it is so far.
struct Line {
    row: u32,
    bytes: u64,
    /// The byte before was CR: a LF that follows ends no further line.
    after_cr: bool,
}

impl Line {
    fn is_too_long(&mut self, piece: &[u8]) -> bool {
        for byte in piece {
            match byte {
                b'\n' if self.after_cr => {}
                b'\n' | b'\r' => (self.row, self.bytes) = (self.row + 1, 0),
                _ => self.bytes += 1,
            }
            self.after_cr = *byte == b'\r';
            if self.bytes > MOST_LINE_BYTES {
                return true;
            }
        }
        false
    }
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
    fn a_file_that_changes_while_it_is_read_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("growing.csv");
        std::fs::write(&path, "a,b\n1,2\n").unwrap();
        let grown = read_then(&path, || std::fs::write(&path, "a,b\n1,2\n3,4\n").unwrap()).err().unwrap();
        assert_eq!((grown.code, grown.found.as_str()), ("file-changing", "8 bytes before, 8 read, 12 after"));
        let gone = read_then(&path, || std::fs::remove_file(&path).unwrap()).err().unwrap();
        assert_eq!(gone.found, "no such file");
    }

    #[test]
    fn a_monstrous_line_ends_the_reading_before_the_file_is_in_memory() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("line.csv");
        std::fs::write(&path, "a,b\n1,2\n").unwrap();
        // Sparse: a gigabyte of zeros that takes no room on the disk.
        std::fs::OpenOptions::new().write(true).open(&path).unwrap().set_len(MOST_BYTES).unwrap();
        let told = read(&path).err().unwrap();
        assert_eq!((told.code, told.row), ("line-too-long", Some(3)));
        let mut piece = Line { row: 1, bytes: 0, after_cr: false };
        assert!(!piece.is_too_long(b"12345\r\n123") && piece.row == 2 && piece.bytes == 3);
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
