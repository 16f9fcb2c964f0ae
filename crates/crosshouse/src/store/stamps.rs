//! Which raw files are as they were when they were last read. A file of the same length and times is
//! taken to be the same unread; one whose times moved is told by its hash.
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

/// Length and times of a file, as its file system tells them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    pub bytes: u64,
    /// When its content, and when anything of it, last changed: nanoseconds since 1970. Where the system
    /// tells no second time it is 0.
    pub modified: i128,
    pub changed: i128,
    /// Its number in the file system, or 0.
    pub file: u64,
}

/// By name relative to the folder of logs.
pub type Stamps = BTreeMap<String, Stamp>;

pub fn of(path: &Path) -> Option<Stamp> {
    let about = std::fs::metadata(path).ok()?;
    let modified = about.modified().ok()?.duration_since(std::time::UNIX_EPOCH).map_or(0, |d| d.as_nanos() as i128);
    let (changed, file) = further(&about);
    Some(Stamp { bytes: about.len(), modified, changed, file })
}

#[cfg(unix)]
fn further(about: &std::fs::Metadata) -> (i128, u64) {
    use std::os::unix::fs::MetadataExt;
    (i128::from(about.ctime()) * 1_000_000_000 + i128::from(about.ctime_nsec()), about.ino())
}

#[cfg(not(unix))]
fn further(_about: &std::fs::Metadata) -> (i128, u64) {
    (0, 0)
}

/// SHA-256 of a file's bytes in lower-case hexadecimal.
pub fn sha256(path: &Path) -> Option<String> {
    let mut file = std::fs::File::open(path).ok()?;
    let (mut sha, mut buffer) = (Sha256::new(), vec![0; 256 << 10]);
    loop {
        match file.read(&mut buffer).ok()? {
            0 => return Some(sha.finalize().iter().map(|b| format!("{b:02x}")).collect()),
            n => sha.update(buffer.get(..n)?),
        }
    }
}
