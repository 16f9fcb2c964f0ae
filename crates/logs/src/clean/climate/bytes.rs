//! The bytes of a file, a buffer of whole lines at a time, hashed as they are read.
use super::file::Stop;
use crate::declare::Log;
use encoding_rs::{DecoderResult, Encoding, UTF_8};
use sha2::{Digest, Sha256};
use std::borrow::Cow;
use std::io::Read;

/// Bytes held at a time; a line longer than this is no plain one.
const BUFFER: usize = 256 << 10;

/// The encoding, where lines can be told apart by their bytes.
pub(super) fn encoding(log: &Log) -> Result<&'static Encoding, Stop> {
    match log.layout.encoding.as_deref().and_then(|label| Encoding::for_label(label.as_bytes())) {
        None => Ok(UTF_8),
        Some(declared) if declared == UTF_8 || (declared.is_single_byte() && declared.is_ascii_compatible()) => Ok(declared),
        Some(_) => Err(Stop::General),
    }
}

/// Bytes as text; a byte that is none of the encoding gives the file to the general readers, which name it.
pub(super) fn decoded<'b>(bytes: &'b [u8], encoding: &'static Encoding) -> Result<Cow<'b, str>, Stop> {
    if encoding == UTF_8 || bytes.is_ascii() {
        return std::str::from_utf8(bytes).map(Cow::Borrowed).map_err(|_| Stop::General);
    }
    let mut decoder = encoding.new_decoder_without_bom_handling();
    let mut text = String::with_capacity(bytes.len() * 3 + 16);
    match decoder.decode_to_string_without_replacement(bytes, &mut text, true) {
        (DecoderResult::InputEmpty, _) => Ok(Cow::Owned(text)),
        _ => Err(Stop::General),
    }
}

/// The bytes of a file, a buffer at a time.
pub(super) struct Bytes {
    pub file: std::fs::File,
    pub buffer: Vec<u8>,
    pub filled: usize,
    pub ended: bool,
    pub sha: Option<Sha256>,
    pub length: u64,
    pub ascii: bool,
    /// UTF-8, or a declared encoding of one byte a character.
    pub encoding: &'static Encoding,
}

impl Bytes {
    pub fn of(file: std::fs::File, encoding: &'static Encoding, hashed: bool) -> Self {
        let sha = hashed.then(Sha256::new);
        Bytes { file, buffer: vec![0; BUFFER], filled: 0, ended: false, sha, length: 0, ascii: true, encoding }
    }

    pub fn fill(&mut self) -> Result<(), Stop> {
        // One byte stays free for the line end that a file's last line may lack.
        while self.filled + 1 < self.buffer.len() {
            let room = self.buffer.len() - 1;
            let free = self.buffer.get_mut(self.filled..room).unwrap_or_default();
            let got = self.file.read(free).map_err(|_| Stop::General)?;
            let fresh = self.buffer.get(self.filled..self.filled + got).unwrap_or_default();
            if let Some(sha) = &mut self.sha {
                sha.update(fresh);
            }
            // Zeros and bytes beyond ASCII at once.
            if fresh.iter().fold(false, |odd, b| odd | (b.wrapping_sub(1) >= 0x7f)) {
                if fresh.contains(&0) {
                    return Err(Stop::General);
                }
                self.ascii = false;
            }
            self.filled += got;
            self.length += got as u64;
            if got == 0 {
                self.ended = true;
                if self.filled > 0 && self.buffer.get(self.filled - 1) != Some(&b'\n') {
                    if let Some(end) = self.buffer.get_mut(self.filled) {
                        *end = b'\n';
                    }
                    self.filled += 1;
                }
                break;
            }
        }
        Ok(())
    }

    /// End of the last whole line in the buffer; text beyond ASCII must be sound UTF-8.
    pub fn whole_lines(&self, from: usize) -> Result<usize, Stop> {
        let held = self.buffer.get(..self.filled).unwrap_or_default();
        let end = held.iter().rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
        if end < from || (end == 0 && !self.ended) {
            return if self.ended && end <= from { Ok(from) } else { Err(Stop::General) };
        }
        let lines = held.get(from..end).unwrap_or_default();
        if self.ascii || decoded(lines, self.encoding).is_ok() { Ok(end) } else { Err(Stop::General) }
    }

    pub fn keep_from(&mut self, at: usize) {
        self.buffer.copy_within(at..self.filled, 0);
        self.filled -= at;
    }
}
