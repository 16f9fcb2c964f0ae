//! Bytes of a line several at a time: digits, clocks, and cells that stand there again.

/// A cell of at most seven bytes with the byte behind it, to be known again at a glance.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Short {
    word: u64,
    mask: u64,
    length: usize,
}

impl Short {
    /// `cell`: with the byte behind it.
    pub fn of(cell: Option<&[u8]>) -> Short {
        let Some(cell) = cell.filter(|c| c.len() <= 8 && !c.is_empty()) else { return Short::default() };
        let mut word = [0; 8];
        word.iter_mut().zip(cell).for_each(|(slot, byte)| *slot = *byte);
        Short { word: u64::from_le_bytes(word), mask: u64::MAX >> (64 - 8 * cell.len()), length: cell.len() - 1 }
    }

    /// Length of the cell, where it stands at `at`.
    #[inline]
    pub fn length_at(&self, bytes: &[u8], at: usize) -> Option<usize> {
        let word = eight(bytes, at)?;
        (self.mask != 0 && word & self.mask == self.word).then_some(self.length)
    }
}

pub(super) const ONES: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x8080_8080_8080_8080;

/// Eight bytes, the first one lowest.
#[inline]
pub(super) fn eight(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(bytes.get(at..at + 8)?.try_into().ok()?))
}

/// Sixteen bytes, the first one lowest.
#[inline]
pub(super) fn sixteen(bytes: &[u8], at: usize) -> Option<u128> {
    Some(u128::from_le_bytes(bytes.get(at..at + 16)?.try_into().ok()?))
}

pub(super) fn word_of(text: &[u8], length: usize) -> u128 {
    let mut word = [0; 16];
    word.iter_mut().zip(text.iter().take(length)).for_each(|(slot, byte)| *slot = *byte);
    u128::from_le_bytes(word)
}

/// The number of `812.3` in tenths and its length, where one to six digits, a decimal mark and one digit
/// begin the word.
///
/// One to three digits, which are nearly all there are, have a branch each: the processor then guesses where
/// the next cell begins, and need not wait for it.
#[inline]
pub(super) fn tenths(word: u64, marks: u64) -> Option<(u64, usize)> {
    let differs = word ^ marks;
    let is_mark = |place: u32| (differs >> (8 * place)) as u8 == 0;
    if is_mark(2) {
        few_tenths::<2>(word)
    } else if is_mark(1) {
        few_tenths::<1>(word)
    } else if is_mark(3) {
        few_tenths::<3>(word)
    } else {
        many_tenths(word, marks)
    }
}

/// With the mark behind `DIGITS` digits, of which there are at most three.
#[inline]
fn few_tenths<const DIGITS: usize>(word: u64) -> Option<(u64, usize)> {
    // "0" where the mark stands, nothing behind the tenth.
    let mark = 0xff << (8 * DIGITS);
    let digits = ((word ^ (ONES * 0x30)) & !mark) & (u64::MAX >> (64 - 8 * (DIGITS + 2)));
    if (digits | digits.wrapping_add(ONES * 0x76)) & HIGH != 0 {
        return None;
    }
    let digit = |place: usize| digits >> (8 * place) & 0xff;
    let whole = (0..DIGITS).fold(0, |sum, place| sum * 10 + digit(place));
    Some((whole * 10 + digit(DIGITS + 1), DIGITS + 2))
}

/// The mark's place is the lowest zero byte of word ⊕ marks; the digits before it are moved up to end the
/// word, and summed in pairs, fours and eights by three multiplications.
fn many_tenths(word: u64, marks: u64) -> Option<(u64, usize)> {
    let differs = word ^ marks;
    let place = ((differs.wrapping_sub(ONES) & !differs & HIGH).trailing_zeros() / 8) as usize;
    if !(1..=6).contains(&place) {
        return None;
    }
    let after = (word >> (8 * (place + 1))) as u8;
    // The digits at the end of the word, "0" before them.
    let digits = (word << (64 - 8 * place)) | (0x3030_3030_3030_3030 >> (8 * place));
    let high = digits & (ONES * 0xf0);
    let carried = digits.wrapping_add(ONES * 6) & (ONES * 0xf0);
    if high != ONES * 0x30 || carried != ONES * 0x30 || !after.is_ascii_digit() {
        return None;
    }
    let single = digits & (ONES * 0x0f);
    let pairs = single.wrapping_mul(10).wrapping_add(single >> 8) & 0x00ff_00ff_00ff_00ff;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_ffff_0000_ffff;
    let whole = fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xffff_ffff;
    Some((whole * 10 + u64::from(after - b'0'), place + 2))
}

/// Digits from `at` on, behind those of `value`; where they end. More than 18 wrap: the caller counts them.
#[inline]
pub(super) fn digits(bytes: &[u8], mut at: usize, mut value: u64) -> (u64, usize) {
    while let Some(digit) = bytes.get(at).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    (value, at)
}

/// Seconds of `06:30` or `06:30:15`, and where they end.
#[inline]
pub(super) fn clock(bytes: &[u8], at: usize) -> Option<(i64, usize)> {
    let Some(word) = eight(bytes, at) else { return short_clock(bytes, at) };
    // Digits as numbers, and 0 where the colon stands.
    let of = |word: u64| word ^ 0x30_30_3a_30_30;
    let digits = of(word) & 0xff_ff_ff_ff_ff;
    let odd = (digits | digits.wrapping_add(0x76_76_7f_76_76)) & HIGH;
    let digit = |word: u64, place: u32| (word >> (8 * place) & 0xff) as i64;
    let (hour, minute) = (digit(digits, 0) * 10 + digit(digits, 1), digit(digits, 3) * 10 + digit(digits, 4));
    if odd != 0 || hour > 23 || minute > 59 {
        return None;
    }
    if digit(word, 5) != i64::from(b':') {
        return Some((hour * 3600 + minute * 60, at + 5));
    }
    let second = two(bytes, at + 6).filter(|s| *s < 60)?;
    Some((hour * 3600 + minute * 60 + second, at + 8))
}

/// The same, byte by byte, where the bytes soon end.
fn short_clock(bytes: &[u8], at: usize) -> Option<(i64, usize)> {
    let (hour, minute) = (two(bytes, at)?, two(bytes, at + 3)?);
    if bytes.get(at + 2) != Some(&b':') || hour > 23 || minute > 59 {
        return None;
    }
    let mut seconds = hour * 3600 + minute * 60;
    let mut next = at + 5;
    if bytes.get(next) == Some(&b':') {
        seconds += two(bytes, next + 1).filter(|s| *s < 60)?;
        next += 3;
    }
    Some((seconds, next))
}

#[inline]
pub(super) fn two(bytes: &[u8], at: usize) -> Option<i64> {
    let pair = bytes.get(at..at + 2)?;
    let digit = |i: usize| pair.get(i).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10).map(i64::from);
    Some(digit(0)? * 10 + digit(1)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<(u64, usize)> {
        tenths(eight(format!("{text}        ").as_bytes(), 0)?, u64::from(b'.') * ONES)
    }

    #[test]
    fn ok_tenths_of_one_to_six_digits() {
        assert_eq!(
            (read("0.0,"), read("7.5,"), read("812.3"), read("123456.7")),
            (Some((0, 3)), Some((75, 3)), Some((8123, 5)), Some((1_234_567, 8)))
        );
    }

    #[test]
    fn err_signs_letters_and_lone_marks() {
        for text in ["-1.5", ".5", "1234567.8", "1,5", "a.5", "1.", "1.x", "/1.5", ":1.5", "1:.5", "12", "1 .5"] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn a_clock_is_read_alike_wherever_the_bytes_end() {
        for text in ["06:30", "23:59:59", "00:00", "24:00", "12:60", "12:00:60", "1:30", "06-30", "06:3", "0a:30", "/6:30", "06:30:1x"] {
            let long = format!("{text}, and more");
            assert_eq!(clock(text.as_bytes(), 0), clock(long.as_bytes(), 0), "{text}");
        }
        assert_eq!(clock(b"23:59:59,", 0), Some((86_399, 8)));
    }

    proptest::proptest! {
        /// Whatever the bytes: the branches for few digits say what the general way says.
        #[test]
        fn few_digits_are_read_like_many(bytes in proptest::collection::vec(proptest::sample::select(b"0123456789.,-/:; \n\xff".to_vec()), 8)) {
            let word = eight(&bytes, 0).unwrap();
            let marks = u64::from(b'.') * ONES;
            proptest::prop_assert_eq!(tenths(word, marks), many_tenths(word, marks));
        }

        /// Reference: the standard library's parser.
        #[test]
        fn tenths_equal_the_standard_parser(text in "[0-9]{1,6}[.][0-9]") {
            let (found, length) = read(&text).unwrap();
            proptest::prop_assert_eq!((found, length), (text.replace('.', "").parse().unwrap(), text.len()));
        }
    }
}
