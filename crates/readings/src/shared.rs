//! Texts that many things have in common, kept once: a season may set a hundred thousand rows aside for one
//! reason.
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A text that may be kept in several places at the cost of one.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Shared(Arc<str>);

impl Shared {
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::ops::Deref for Shared {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl std::borrow::Borrow<str> for Shared {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl AsRef<str> for Shared {
    fn as_ref(&self) -> &str {
        &self.0
    }
}

impl Default for Shared {
    fn default() -> Self {
        Shared::from("")
    }
}

impl From<&str> for Shared {
    fn from(text: &str) -> Self {
        Shared(text.into())
    }
}

impl From<String> for Shared {
    fn from(text: String) -> Self {
        Shared(text.into())
    }
}

impl From<&String> for Shared {
    fn from(text: &String) -> Self {
        Shared::from(text.as_str())
    }
}

impl PartialEq<str> for Shared {
    fn eq(&self, other: &str) -> bool {
        &*self.0 == other
    }
}

impl PartialEq<&str> for Shared {
    fn eq(&self, other: &&str) -> bool {
        &*self.0 == *other
    }
}

impl PartialEq<String> for Shared {
    fn eq(&self, other: &String) -> bool {
        *self.0 == **other
    }
}

impl std::fmt::Display for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0)
    }
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Debug::fmt(&self.0, f)
    }
}

impl Serialize for Shared {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self)
    }
}

impl<'de> Deserialize<'de> for Shared {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Shared::from)
    }
}

/// The texts met so far.
#[derive(Debug, Clone, Default)]
pub struct Texts(BTreeSet<Shared>);

impl Texts {
    /// The one copy of a text.
    pub fn one(&mut self, text: &str) -> Shared {
        if let Some(known) = self.0.get(text) {
            return known.clone();
        }
        let text = Shared::from(text);
        self.0.insert(text.clone());
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_met_again_is_the_same_copy() {
        let mut texts = Texts::default();
        let (a, b, c) = (texts.one("blank"), texts.one("blank"), texts.one("torn"));
        assert!(Arc::ptr_eq(&a.0, &b.0) && a == b && a != c);
        assert_eq!((format!("{a:>6}"), format!("{a:?}"), a == "blank"), (" blank".into(), "\"blank\"".into(), true));
    }

    #[test]
    fn a_shared_text_is_a_plain_string_in_a_file() {
        let read: Shared = serde_json::from_str("\"day \\u00e9\"").unwrap();
        assert_eq!(serde_json::to_string(&read).unwrap(), "\"day é\"");
    }
}
