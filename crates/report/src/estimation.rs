//! How a fit was made, read from the model file as fitted: level, likelihood, freedom.

/// The estimation settings of a model file; what is not stated has the model file's default.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimation {
    pub level: f64,
    pub criterion: String,
    pub freedom: String,
    pub family: String,
    /// Averaging over the other categories: `equal` or `observed`.
    pub weights: String,
}

impl Estimation {
    /// Reads a model file; an unreadable one gives the defaults.
    pub fn read(model_toml: &str) -> Self {
        let table: toml::Table = model_toml.parse().unwrap_or_default();
        let estimation = table.get("estimation").and_then(toml::Value::as_table);
        let text = |key: &str| estimation.and_then(|e| e.get(key)).and_then(toml::Value::as_str);
        let family = table.get("family").and_then(toml::Value::as_str).unwrap_or("normal");
        let normal = family == "normal";
        Estimation {
            level: estimation.and_then(|e| e.get("level")).and_then(toml::Value::as_float).unwrap_or(0.95),
            criterion: text("criterion").unwrap_or("reml").to_owned(),
            freedom: text("freedom").unwrap_or(if normal { "kenward-roger" } else { "large-sample" }).to_owned(),
            family: family.to_owned(),
            weights: weights(&table).unwrap_or("equal").to_owned(),
        }
    }

    /// "95 %"
    pub fn level_words(&self) -> String {
        format!("{}\u{a0}%", crate::number::significant(100.0 * self.level, 3).trim_end_matches(".0"))
    }

    /// The risk level that belongs to the interval, such as 0.05.
    pub fn alpha(&self) -> f64 {
        1.0 - self.level
    }

    /// "5 %"
    pub fn alpha_words(&self) -> String {
        let percent = format!("{:.4}", 100.0 * self.alpha());
        format!("{}\u{a0}%", percent.trim_end_matches('0').trim_end_matches('.'))
    }
}

fn weights(table: &toml::Table) -> Option<&str> {
    table.get("compare")?.as_array()?.first()?.get("weights")?.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_model_file_without_estimation_has_the_defaults() {
        let e = Estimation::read("response = \"y\"");
        assert_eq!((e.level, e.criterion.as_str(), e.freedom.as_str()), (0.95, "reml", "kenward-roger"));
        assert_eq!(e.level_words(), "95\u{a0}%");
        assert_eq!(e.alpha_words(), "5\u{a0}%");
    }

    #[test]
    fn the_level_stated_is_the_level_shown() {
        let e = Estimation::read("[estimation]\nlevel = 0.9\nfreedom = \"satterthwaite\"");
        assert_eq!((e.level_words().as_str(), e.freedom.as_str()), ("90\u{a0}%", "satterthwaite"));
    }
}
