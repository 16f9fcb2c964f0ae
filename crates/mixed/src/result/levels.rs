//! An ordered map from categories to levels, such as `{"medium": "perlite"}`.

use std::fmt;

use serde::de::{MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Categories with their levels, in the order in which the model names the categories.
#[derive(Debug, Clone, PartialEq, Eq, Default, PartialOrd, Ord)]
pub struct Levels(pub Vec<(String, String)>);

impl Levels {
    /// The level of a category.
    pub fn get(&self, category: &str) -> Option<&str> {
        self.0.iter().find(|(name, _)| name == category).map(|(_, level)| level.as_str())
    }

    /// Whether no category is named.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl fmt::Display for Levels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (category, level)) in self.0.iter().enumerate() {
            let comma = if index > 0 { ", " } else { "" };
            write!(f, "{comma}{category} {level}")?;
        }
        Ok(())
    }
}

impl Serialize for Levels {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (category, level) in &self.0 {
            map.serialize_entry(category, level)?;
        }
        map.end()
    }
}

impl<'de> Deserialize<'de> for Levels {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Pairs;
        impl<'de> Visitor<'de> for Pairs {
            type Value = Levels;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map from categories to levels")
            }
            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Levels, M::Error> {
                let mut pairs = Vec::new();
                while let Some(pair) = map.next_entry()? {
                    pairs.push(pair);
                }
                Ok(Levels(pairs))
            }
        }
        deserializer.deserialize_map(Pairs)
    }
}
