//! Bytes to text: byte-order mark, then what was declared, else UTF-16, UTF-8 or the best guess. No byte is ever replaced: one that does not decode is named by its offset.
use super::Unreadable;
use chardetng::{EncodingDetector, Iso2022JpDetection, Utf8Detection};
use encoding_rs::{DecoderResult, Encoding, UTF_8, UTF_16BE, UTF_16LE};

/// Decoded text; `inferred` says how the encoding was found out where nobody declared it.
#[derive(Debug)]
pub(crate) struct Decoded {
    pub text: String,
    /// (encoding, evidence)
    pub inferred: Option<(String, String)>,
    /// The bytes are not UTF-8 and nobody declared what they are: the first of them, and its row.
    pub guessed_from: Option<(String, u32)>,
}

pub(crate) fn decode(bytes: Vec<u8>, declared: Option<&str>) -> Result<Decoded, Unreadable> {
    if let Some((encoding, mark)) = Encoding::for_bom(&bytes) {
        let text = strictly(bytes.get(mark..).unwrap_or_default(), encoding, mark)?;
        let told = declared.is_none();
        let inferred = told.then(|| (encoding.name().to_owned(), "the file begins with a byte-order mark".to_owned()));
        return checked(text, inferred);
    }
    if let Some(encoding) = declared.and_then(|label| Encoding::for_label(label.as_bytes())) {
        return checked(strictly(&bytes, encoding, 0)?, None);
    }
    // UTF-16 without a mark is valid UTF-8 full of zeros: look for it first.
    if let Some((encoding, evidence)) = utf16(&bytes) {
        return checked(strictly(&bytes, encoding, 0)?, Some((encoding.name().to_owned(), evidence)));
    }
    match String::from_utf8(bytes) {
        Ok(text) => {
            let told = (!text.is_ascii()).then(|| (UTF_8.name().to_owned(), "every byte decodes".to_owned()));
            checked(text, told)
        }
        Err(e) => guessed(e.as_bytes()),
    }
}

/// Bytes of the older encodings are told apart by their frequencies. Where more characters are sound
/// UTF-8 than not, the file is a damaged UTF-8 rather than an older encoding.
fn guessed(bytes: &[u8]) -> Result<Decoded, Unreadable> {
    let (sound, unsound) = bytes.utf8_chunks().fold((0, 0), |(sound, unsound), chunk| {
        (sound + chunk.valid().chars().filter(|c| !c.is_ascii()).count(), unsound + usize::from(!chunk.invalid().is_empty()))
    });
    if sound > unsound {
        strictly(bytes, UTF_8, 0)?;
    }
    let mut detector = EncodingDetector::new(Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    let encoding = detector.guess(None, Utf8Detection::Allow);
    let foreign = bytes.iter().filter(|b| **b >= 0x80).count();
    let first = bytes.iter().position(|b| *b >= 0x80).unwrap_or(0);
    let evidence = format!("not UTF-8; guessed from {foreign} bytes beyond ASCII, the first at offset {first}");
    let decoded = checked(strictly(bytes, encoding, 0)?, Some((encoding.name().to_owned(), evidence)))?;
    let row = row_of(bytes, first);
    let byte = bytes.get(first).copied().unwrap_or(0);
    let found = format!("byte 0x{byte:02X} at offset {first}; {} read as {}", crate::flags::many(foreign, "such byte"), encoding.name());
    Ok(Decoded { guessed_from: Some((found, row as u32)), ..decoded })
}

/// The row in which a byte stands.
fn row_of(bytes: &[u8], at: usize) -> usize {
    bytes.iter().take(at).filter(|b| **b == b'\n').count() + 1
}

/// UTF-16 shows itself by a zero in every second byte.
fn utf16(bytes: &[u8]) -> Option<(&'static Encoding, String)> {
    let head = bytes.get(..bytes.len().min(4096) & !1)?;
    let zeros = |odd: usize| head.iter().skip(odd).step_by(2).filter(|b| **b == 0).count();
    let (even, odd, half) = (zeros(0), zeros(1), head.len() / 2);
    let encoding = match () {
        () if half >= 2 && odd * 10 > half * 6 && even * 10 < half => UTF_16LE,
        () if half >= 2 && even * 10 > half * 6 && odd * 10 < half => UTF_16BE,
        () => return None,
    };
    Some((encoding, "every second byte is zero".to_owned()))
}

fn strictly(bytes: &[u8], encoding: &'static Encoding, skipped: usize) -> Result<String, Unreadable> {
    if encoding == UTF_8 {
        return std::str::from_utf8(bytes).map(str::to_owned).map_err(|e| undecodable(encoding, bytes, skipped, e.valid_up_to()));
    }
    let mut decoder = encoding.new_decoder_without_bom_handling();
    let room = decoder.max_utf8_buffer_length_without_replacement(bytes.len()).unwrap_or(bytes.len() * 3 + 16);
    let mut text = String::with_capacity(room);
    match decoder.decode_to_string_without_replacement(bytes, &mut text, true) {
        (DecoderResult::Malformed(length, after), read) => {
            let at = read.saturating_sub(usize::from(length) + usize::from(after));
            Err(undecodable(encoding, bytes, skipped, at))
        }
        _ => Ok(text),
    }
}

fn undecodable(encoding: &'static Encoding, bytes: &[u8], skipped: usize, at: usize) -> Unreadable {
    let byte = bytes.get(at).copied().unwrap_or(0);
    let row = row_of(bytes, at);
    Unreadable::new(
        "bytes-undecodable",
        "bytes that are not text in the file's encoding",
        format!("byte 0x{byte:02X} at offset {} (row {row}) is not {}", at + skipped, encoding.name()),
        "text in one encoding throughout",
        "export the log as UTF-8, or declare encoding = \"…\" (such as windows-1252) in the site file",
    )
    .at_row(row as u32)
}

/// A zero character never stands in a log: the file is a picture, a database or a damaged text.
fn checked(text: String, inferred: Option<(String, String)>) -> Result<Decoded, Unreadable> {
    if let Some(at) = text.as_bytes().iter().position(|b| *b == 0) {
        return Err(Unreadable::new(
            "file-not-text",
            "not a text file",
            format!("a zero character at character offset {at}"),
            "a text file, or a workbook with the ending .xlsx or .ods",
            "export the log again",
        ));
    }
    Ok(Decoded { text, inferred, guessed_from: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ok_utf8_with_and_without_a_mark() {
        let plain = decode("Größe,°F\n".into(), None).unwrap();
        let marked = decode("\u{feff}Größe,°F\n".into(), None).unwrap();
        assert_eq!((plain.text.as_str(), marked.text.as_str()), ("Größe,°F\n", "Größe,°F\n"));
        assert_eq!(
            (plain.inferred.unwrap().1.as_str(), marked.inferred.unwrap().1.as_str()),
            ("every byte decodes", "the file begins with a byte-order mark")
        );
        assert!(decode("Size,F\n".into(), None).unwrap().inferred.is_none());
    }

    #[test]
    fn ok_utf16_both_ways_with_and_without_a_mark() {
        for (mark, little) in [(true, true), (true, false), (false, true), (false, false)] {
            let units = "Day;Temp\n1;2,5\n".encode_utf16();
            let mut bytes: Vec<u8> = units.flat_map(|u| if little { u.to_le_bytes() } else { u.to_be_bytes() }).collect();
            if mark {
                bytes.splice(0..0, if little { [0xFF, 0xFE] } else { [0xFE, 0xFF] });
            }
            let decoded = decode(bytes, None).unwrap();
            assert_eq!(decoded.text, "Day;Temp\n1;2,5\n");
            assert!(decoded.inferred.unwrap().0.starts_with("UTF-16"));
        }
    }

    #[test]
    fn ok_windows_1252_is_guessed_and_told() {
        let bytes: Vec<u8> = "Datum;Behälter;Früchte;Größe\n1.7.2031;B1;3;groß\n".chars().map(|c| c as u8).collect();
        let decoded = decode(bytes, None).unwrap();
        assert!(decoded.text.contains("Früchte"));
        let (encoding, because) = decoded.inferred.unwrap();
        assert_eq!(encoding, "windows-1252");
        assert_eq!(decoded.guessed_from.unwrap(), ("byte 0xE4 at offset 9; 5 such bytes read as windows-1252".to_owned(), 1));
        assert_eq!(because, "not UTF-8; guessed from 5 bytes beyond ASCII, the first at offset 9");
    }

    #[test]
    fn err_a_stray_byte_in_a_file_of_sound_utf8_is_damage_and_no_older_encoding() {
        let fault = decode(b"T \xc2\xb0F,W \xc2\xb5mol\n21,\xff300\n".to_vec(), None).unwrap_err();
        assert_eq!((fault.code, fault.found.as_str()), ("bytes-undecodable", "byte 0xFF at offset 17 (row 2) is not UTF-8"));
    }

    #[test]
    fn err_a_byte_that_is_not_utf8_is_named_by_its_offset() {
        let fault = decode(b"a,b\n1,\xff2\n".to_vec(), Some("utf-8")).unwrap_err();
        assert_eq!(fault.found, "byte 0xFF at offset 6 (row 2) is not UTF-8");
    }

    #[test]
    fn err_a_picture_is_not_a_log() {
        assert_eq!(decode(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec(), Some("windows-1252")).unwrap_err().code, "file-not-text");
    }
}
