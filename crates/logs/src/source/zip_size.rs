//! How large the parts of a workbook are when unpacked, found out before anything is unpacked: what
//! the ZIP directory claims (PKWARE APPNOTE 6.3, sections 4.3.7, 4.3.12, 4.3.16 and 4.5.3), and what
//! the packed parts really hold.
use super::inflate_size::inflated;

/// The sum of the unpacked sizes, claimed or real, whichever is larger; counting stops above `most`.
/// `None` if the bytes are no ZIP file.
pub(crate) fn unpacked(bytes: &[u8], most: u64) -> Option<u64> {
    let end = end_record(bytes)?;
    let (mut at, entries) = directory(bytes, end)?;
    let mut total = 0u64;
    for _ in 0..entries {
        if u32_at(bytes, at)? != 0x0201_4b50 {
            return None;
        }
        let [name, extra, comment] = [28, 30, 32].map(|o| u16_at(bytes, at + o).map(usize::from));
        let (name, extra, comment) = (name?, extra?, comment?);
        let claimed = size(bytes, at, name, extra)?;
        total = total.saturating_add(claimed.max(real(bytes, at, most.saturating_sub(total))?));
        if total > most {
            break;
        }
        at += 46 + name + extra + comment;
    }
    Some(total)
}

/// The real length of an entry's part: stored, or deflated and counted. Other methods are not read
/// by workbook readers either.
fn real(bytes: &[u8], at: usize, most: u64) -> Option<u64> {
    let packed = u32_at(bytes, at + 20)?;
    let local = u32_at(bytes, at + 42)? as usize;
    if packed == u32::MAX || local == u32::MAX as usize {
        return Some(0);
    }
    let start = local + 30 + usize::from(u16_at(bytes, local + 26)?) + usize::from(u16_at(bytes, local + 28)?);
    let part = bytes.get(start..start.checked_add(packed as usize)?)?;
    match u16_at(bytes, at + 10)? {
        8 => inflated(part, most),
        _ => Some(u64::from(packed)),
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(bytes.get(at..at + 8)?.try_into().ok()?))
}

/// The end record lies in the last 65,557 bytes: 22 and a comment.
fn end_record(bytes: &[u8]) -> Option<usize> {
    let last = bytes.len().checked_sub(22)?;
    (last.saturating_sub(65_535)..=last).rev().find(|at| u32_at(bytes, *at) == Some(0x0605_4b50))
}

/// Where the directory starts and how many entries it has, by the 64-bit record where there is one.
fn directory(bytes: &[u8], end: usize) -> Option<(usize, u64)> {
    let plain = (u32_at(bytes, end + 16)?, u16_at(bytes, end + 10)?);
    if plain.0 != u32::MAX && plain.1 != u16::MAX {
        return Some((plain.0 as usize, u64::from(plain.1)));
    }
    let locator = end.checked_sub(20)?;
    let record = usize::try_from(u64_at(bytes, locator + 8)?).ok()?;
    if u32_at(bytes, locator)? != 0x0706_4b50 || u32_at(bytes, record)? != 0x0606_4b50 {
        return None;
    }
    Some((usize::try_from(u64_at(bytes, record.checked_add(48)?)?).ok()?, u64_at(bytes, record + 32)?))
}

fn size(bytes: &[u8], at: usize, name: usize, extra: usize) -> Option<u64> {
    let plain = u32_at(bytes, at + 24)?;
    if plain != u32::MAX {
        return Some(u64::from(plain));
    }
    let (mut field, end) = (at + 46 + name, at + 46 + name + extra);
    while field + 4 <= end {
        let length = usize::from(u16_at(bytes, field + 2)?);
        if u16_at(bytes, field)? == 1 {
            return u64_at(bytes, field + 4);
        }
        field += 4 + length;
    }
    Some(u64::from(plain))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_workbook_states_the_size_of_its_parts() {
        let mut book = rust_xlsxwriter::Workbook::new();
        book.add_worksheet().write(0, 0, "x").unwrap();
        let bytes = book.save_to_buffer().unwrap();
        let total = unpacked(&bytes, 1 << 30).unwrap();
        assert!(total > bytes.len() as u64 && total < 100_000, "{total}");
    }

    #[test]
    fn text_is_no_zip_file() {
        assert_eq!(unpacked(b"a,b\n1,2\n", 1 << 30), None);
        assert_eq!(unpacked(&[0; 30], 1 << 30), None);
    }

    /// Reference: the sizes that the writer's own compressor put into the directory.
    #[test]
    fn a_directory_that_claims_nothing_changes_nothing() {
        let mut book = rust_xlsxwriter::Workbook::new();
        let sheet = book.add_worksheet();
        for row in 0..3000 {
            sheet.write(row, 0, f64::from(row) * 1.37).unwrap();
            sheet.write(row, 1, format!("B{}-{:02}", row % 7, row % 31)).unwrap();
        }
        let honest = book.save_to_buffer().unwrap();
        let mut lying = honest.clone();
        let (mut at, entries) = directory(&honest, end_record(&honest).unwrap()).unwrap();
        for _ in 0..entries {
            lying[at + 24..at + 28].fill(0);
            at += 46 + [28, 30, 32].map(|o| usize::from(u16_at(&honest, at + o).unwrap())).iter().sum::<usize>();
        }
        assert_ne!(honest, lying);
        assert_eq!(unpacked(&lying, 1 << 30), unpacked(&honest, 1 << 30));
    }
}
