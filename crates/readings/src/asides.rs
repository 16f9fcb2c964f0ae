//! The list of rows and cells kept out: the longest of a run.
use crate::place::Place;
use crate::said::SetAside;
use crate::shared::Texts;
use serde::de::{SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// So many stand together before a new piece begins.
const PIECE: usize = 4096;

/// Rows and cells set aside, in the order in which they were read. The list is kept in pieces, so that it grows
/// and joins others without being copied.
#[derive(Clone, Default)]
pub struct SetAsides {
    pieces: Vec<Vec<SetAside>>,
}

impl SetAsides {
    pub fn push(&mut self, aside: SetAside) {
        match self.pieces.last_mut().filter(|piece| piece.len() < PIECE) {
            Some(piece) => piece.push(aside),
            None => self.pieces.push(vec![aside]),
        }
    }

    /// Takes over another list, behind this one.
    pub fn append(&mut self, other: SetAsides) {
        self.pieces.extend(other.pieces);
    }

    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &SetAside> {
        self.pieces.iter().flatten()
    }

    pub fn len(&self) -> usize {
        self.pieces.iter().map(Vec::len).sum()
    }

    pub fn is_empty(&self) -> bool {
        self.pieces.iter().all(Vec::is_empty)
    }
}

impl FromIterator<SetAside> for SetAsides {
    fn from_iter<I: IntoIterator<Item = SetAside>>(asides: I) -> Self {
        SetAsides { pieces: vec![asides.into_iter().collect()] }
    }
}

impl IntoIterator for SetAsides {
    type Item = SetAside;
    type IntoIter = std::iter::Flatten<std::vec::IntoIter<Vec<SetAside>>>;
    fn into_iter(self) -> Self::IntoIter {
        self.pieces.into_iter().flatten()
    }
}

impl<'a> IntoIterator for &'a SetAsides {
    type Item = &'a SetAside;
    type IntoIter = std::iter::Flatten<std::slice::Iter<'a, Vec<SetAside>>>;
    fn into_iter(self) -> Self::IntoIter {
        self.pieces.iter().flatten()
    }
}

impl PartialEq for SetAsides {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}

impl std::fmt::Debug for SetAsides {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

impl Serialize for SetAsides {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.iter())
    }
}

/// A list read again shares its texts as one that was just made.
impl<'de> Deserialize<'de> for SetAsides {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct List;
        impl<'de> Visitor<'de> for List {
            type Value = SetAsides;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a list of rows and cells set aside")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<SetAsides, A::Error> {
                let (mut all, mut texts) = (SetAsides::default(), Texts::default());
                while let Some(aside) = list.next_element::<SetAside>()? {
                    all.push(shared(aside, &mut texts));
                }
                Ok(all)
            }
        }
        deserializer.deserialize_seq(List)
    }
}

/// The same with the one copy of every text that others may have too.
fn shared(aside: SetAside, texts: &mut Texts) -> SetAside {
    let SetAside { site, log, place, whole_row, code, found, why } = aside;
    let place = Place { file: texts.one(&place.file), row: place.row, column: place.column.map(|c| texts.one(&c)) };
    let (site, log, code, why) = (texts.one(&site), texts.one(&log), texts.one(&code), texts.one(&why));
    SetAside { site, log, place, whole_row, code, found, why }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aside(row: u32) -> SetAside {
        let text = || "x".into();
        SetAside { site: text(), log: text(), place: Place::row("f", row), whole_row: true, code: text(), found: text(), why: text() }
    }

    #[test]
    fn the_order_is_that_of_reading_in_whatever_pieces() {
        let (mut first, mut second) = (SetAsides::default(), SetAsides::default());
        (0..5000).for_each(|row| first.push(aside(row)));
        (5000..5003).for_each(|row| second.push(aside(row)));
        first.append(second);
        let rows: Vec<u32> = first.iter().filter_map(|s| s.place.row).collect();
        assert_eq!((first.len(), rows), (5003, (0..5003).collect()));
        assert_eq!(first, (0..5003).map(aside).collect());
        assert_eq!(serde_json::from_str::<SetAsides>(&serde_json::to_string(&first).unwrap()).unwrap(), first);
    }

    #[test]
    fn a_list_read_again_has_one_copy_of_the_words_that_its_rows_share() {
        let list: SetAsides = (0..3).map(aside).collect();
        let read: SetAsides = serde_json::from_str(&serde_json::to_string(&list).unwrap()).unwrap();
        let copies: std::collections::BTreeSet<*const u8> = read.iter().map(|s| s.why.as_ptr()).collect();
        assert_eq!((list.len(), copies.len()), (3, 1));
    }
}
