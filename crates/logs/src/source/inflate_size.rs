//! How long a deflated part really is, counted without unpacking it (RFC 1951): a directory may
//! state any size it likes.

/// Bits of a deflate stream, the lowest first.
struct Bits<'b> {
    bytes: &'b [u8],
    at: usize,
    held: u32,
    count: u32,
}

impl Bits<'_> {
    fn take(&mut self, wanted: u32) -> Option<u32> {
        while self.count < wanted {
            self.held |= u32::from(*self.bytes.get(self.at)?) << self.count;
            self.at += 1;
            self.count += 8;
        }
        let value = self.held & ((1 << wanted) - 1);
        self.held >>= wanted;
        self.count -= wanted;
        Some(value)
    }

    /// Bytes from here on, the rest of this one skipped.
    fn align(&mut self) {
        self.held = 0;
        self.count = 0;
    }
}

/// A canonical code: how many codes of each length, and the symbols in their order.
struct Code {
    counts: [u16; 16],
    symbols: Vec<u16>,
}

impl Code {
    fn of(lengths: &[u8]) -> Self {
        let mut counts = [0u16; 16];
        for length in lengths {
            if let Some(count) = counts.get_mut(usize::from(*length)) {
                *count += 1;
            }
        }
        let mut symbols: Vec<u16> = (0..lengths.len() as u16).filter(|s| lengths.get(usize::from(*s)).is_some_and(|l| *l > 0)).collect();
        symbols.sort_by_key(|s| (lengths.get(usize::from(*s)).copied(), *s));
        Code { counts, symbols }
    }

    fn read(&self, bits: &mut Bits<'_>) -> Option<usize> {
        let (mut code, mut first, mut index) = (0i32, 0i32, 0i32);
        for count in self.counts.iter().skip(1).map(|c| i32::from(*c)) {
            code |= bits.take(1)? as i32;
            if code - count < first {
                return self.symbols.get(usize::try_from(index + code - first).ok()?).map(|s| usize::from(*s));
            }
            index += count;
            first = (first + count) << 1;
            code <<= 1;
        }
        None
    }
}

/// RFC 1951, section 3.2.5: least length and further bits of the length codes from 257 on.
const LENGTHS: [(u64, u32); 29] = [
    (3, 0),
    (4, 0),
    (5, 0),
    (6, 0),
    (7, 0),
    (8, 0),
    (9, 0),
    (10, 0),
    (11, 1),
    (13, 1),
    (15, 1),
    (17, 1),
    (19, 2),
    (23, 2),
    (27, 2),
    (31, 2),
    (35, 3),
    (43, 3),
    (51, 3),
    (59, 3),
    (67, 4),
    (83, 4),
    (99, 4),
    (115, 4),
    (131, 5),
    (163, 5),
    (195, 5),
    (227, 5),
    (258, 0),
];
/// Section 3.2.7: the order in which the lengths of the length codes stand.
const ORDER: [usize; 19] = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

/// The unpacked length; it stops counting once it exceeds `most`. `None`: not a deflate stream.
pub(crate) fn inflated(bytes: &[u8], most: u64) -> Option<u64> {
    let mut bits = Bits { bytes, at: 0, held: 0, count: 0 };
    let mut length = 0;
    loop {
        let last = bits.take(1)? == 1;
        length += match bits.take(2)? {
            0 => stored(&mut bits)?,
            1 => block(&mut bits, &fixed(), &Code::of(&[5; 30]), most.saturating_sub(length))?,
            2 => {
                let (symbols, distances) = dynamic(&mut bits)?;
                block(&mut bits, &symbols, &distances, most.saturating_sub(length))?
            }
            _ => return None,
        };
        if last || length > most {
            return Some(length);
        }
    }
}

fn stored(bits: &mut Bits<'_>) -> Option<u64> {
    bits.align();
    let length = bits.take(16)?;
    bits.take(16)?;
    bits.align();
    bits.at += length as usize;
    (bits.at <= bits.bytes.len()).then_some(u64::from(length))
}

fn fixed() -> Code {
    let lengths: Vec<u8> = (0..288)
        .map(|s| match s {
            0..=143 => 8,
            144..=255 => 9,
            256..=279 => 7,
            _ => 8,
        })
        .collect();
    Code::of(&lengths)
}

fn dynamic(bits: &mut Bits<'_>) -> Option<(Code, Code)> {
    let (literals, distances, given) = (bits.take(5)? as usize + 257, bits.take(5)? as usize + 1, bits.take(4)? as usize + 4);
    let mut of_lengths = [0u8; 19];
    for place in ORDER.iter().take(given) {
        *of_lengths.get_mut(*place)? = bits.take(3)? as u8;
    }
    let code = Code::of(&of_lengths);
    let mut lengths: Vec<u8> = Vec::with_capacity(320);
    while lengths.len() < literals + distances {
        let (value, times) = match code.read(bits)? {
            16 => (*lengths.last()?, 3 + bits.take(2)?),
            17 => (0, 3 + bits.take(3)?),
            18 => (0, 11 + bits.take(7)?),
            length => (length as u8, 1),
        };
        lengths.extend(std::iter::repeat_n(value, times as usize));
    }
    let (symbols, rest) = lengths.split_at_checked(literals)?;
    Some((Code::of(symbols), Code::of(rest.get(..distances)?)))
}

fn block(bits: &mut Bits<'_>, symbols: &Code, distances: &Code, most: u64) -> Option<u64> {
    let mut length = 0;
    while length <= most {
        match symbols.read(bits)? {
            256 => break,
            literal if literal < 256 => length += 1,
            code => {
                let (least, further) = LENGTHS.get(code - 257)?;
                length += least + u64::from(bits.take(*further)?);
                let distance = distances.read(bits)?;
                bits.take((distance / 2).saturating_sub(1) as u32)?;
            }
        }
    }
    Some(length)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_streams_have_their_known_lengths() {
        // zlib 1.3, raw deflate of "aaaaaaaaaa" (fixed codes) and of nothing (RFC 1951, 3.2.6).
        assert_eq!(inflated(&[0x4b, 0x4c, 0x84, 0x01, 0x00], 100), Some(10));
        assert_eq!(inflated(&[0x03, 0x00], 100), Some(0));
        // A stored block of 3 bytes.
        assert_eq!(inflated(&[0x01, 3, 0, 0xfc, 0xff, b'a', b'b', b'c'], 100), Some(3));
    }

    #[test]
    fn counting_stops_above_the_limit_and_broken_streams_have_no_length() {
        assert!(inflated(&[0x4b, 0x4c, 0x84, 0x01, 0x00], 4).unwrap() > 4);
        assert_eq!(inflated(&[0x07, 0x00], 100), None);
        assert_eq!(inflated(&[], 100), None);
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_counted_or_refused(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..300)) {
            let _ = inflated(&bytes, 1 << 20);
        }
    }
}
