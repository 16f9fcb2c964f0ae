//! Which likelihood a response calls for, and what its numbers are called.
use crate::answers::{AsCounted, Quantity};
use crate::declare::Question;
use crate::records::Record;
use crosshouse_mixed::{Family, ResponseScale};
use crosshouse_trial::Kind;

/// The kind of a response by its key; free measures are continuous.
pub fn kind(response: &str) -> Kind {
    crosshouse_trial::responses().iter().find(|r| r.key == response).map_or(Kind::Continuous, |r| r.kind)
}

/// The families that a kind of response can have, its default first.
pub fn families(kind: Kind) -> &'static [Family] {
    match kind {
        Kind::Count => &[Family::NegativeBinomial, Family::Poisson, Family::Normal],
        Kind::Portion => &[Family::BetaBinomial, Family::Binomial, Family::Normal],
        Kind::Continuous | Kind::Share => &[Family::Normal],
    }
}

/// The scale of means and differences as fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    Identity,
    Log,
    Sqrt,
    Logit,
}

impl Link {
    pub fn word(self) -> &'static str {
        match self {
            Link::Identity => "identity",
            Link::Log => "log",
            Link::Sqrt => "sqrt",
            Link::Logit => "logit",
        }
    }

    pub fn back(self, x: f64) -> f64 {
        match self {
            Link::Identity => x,
            Link::Log => x.exp(),
            Link::Sqrt => x * x,
            Link::Logit => 1.0 / (1.0 + (-x).exp()),
        }
    }

    /// Derivative of [`back`](Link::back).
    pub fn slope(self, x: f64) -> f64 {
        match self {
            Link::Identity => 1.0,
            Link::Log => x.exp(),
            Link::Sqrt => 2.0 * x,
            Link::Logit => self.back(x) * self.back(-x),
        }
    }
}

/// The likelihood of one question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    pub family: Family,
    pub scale: ResponseScale,
    stated: bool,
    kind: Kind,
    /// Every share is out of one: nothing can spread within a unit.
    single: bool,
}

impl Law {
    pub fn of(q: &Question, records: &[Record]) -> Law {
        let kind = kind(&q.response);
        let single = records.iter().all(|r| r.counted.is_none_or(|c| c.of <= 1.0));
        let default = families(kind).first().copied().unwrap_or_default();
        let default = if default == Family::BetaBinomial && single { Family::Binomial } else { default };
        Law { family: q.family.unwrap_or(default), scale: q.response_scale.unwrap_or_default(), stated: q.family.is_some(), kind, single }
    }

    /// The same response by another family.
    pub fn by(self, family: Family) -> Law {
        Law { family, ..self }
    }

    /// Whether whole numbers are fitted, and not a response on a line.
    pub fn counts(self) -> bool {
        self.family != Family::Normal
    }

    pub fn link(self) -> Link {
        match (self.family, self.scale) {
            (Family::Poisson | Family::NegativeBinomial, _) => Link::Log,
            (Family::Binomial | Family::BetaBinomial, _) => Link::Logit,
            (Family::Normal, ResponseScale::Log) => Link::Log,
            (Family::Normal, ResponseScale::Sqrt) => Link::Sqrt,
            (Family::Normal, ResponseScale::Identity) => Link::Identity,
        }
    }

    /// The family fitted in parallel: with and without room for more spread than chance.
    pub fn other(self) -> Option<Family> {
        match self.family {
            Family::Normal => None,
            Family::NegativeBinomial => Some(Family::Poisson),
            Family::Poisson => Some(Family::NegativeBinomial),
            Family::BetaBinomial => Some(Family::Binomial),
            Family::Binomial => (!self.single).then_some(Family::BetaBinomial),
        }
    }

    pub fn mean_quantity(self) -> Quantity {
        match (self.link(), self.counts()) {
            (Link::Identity, _) => Quantity::Mean,
            (Link::Log, true) => Quantity::Rate,
            (Link::Log, false) => Quantity::GeometricMean,
            (Link::Sqrt, _) => Quantity::SquaredRoot,
            (Link::Logit, _) => Quantity::Share,
        }
    }

    /// Which family, and why.
    pub fn in_words(self, things: &Things) -> String {
        let name = family_words(self.family.name());
        let what = match self.kind {
            Kind::Count => format!("counts of {}", things.number),
            Kind::Portion => format!("{} out of {}", things.number, things.of),
            Kind::Continuous | Kind::Share => "the response".to_owned(),
        };
        let why = match self.family {
            _ if self.stated => "as the question asks".to_owned(),
            Family::NegativeBinomial | Family::BetaBinomial => "since units differ more than chance alone lets them".to_owned(),
            Family::Binomial => format!("since each unit holds one of the {}", things.of),
            Family::Poisson => String::new(),
            Family::Normal => format!("on the {} scale, as the question asks", self.link().word()),
        };
        let over = if self.family == Family::Poisson || self.family == Family::NegativeBinomial {
            format!("; the number is taken per {}", things.exposure)
        } else {
            String::new()
        };
        format!("{what}: {name}, {why}{over}")
    }

    /// What the published numbers are.
    pub fn quantities(self) -> Vec<String> {
        let list: &[&str] = match (self.link(), self.counts()) {
            (Link::Identity, _) => &[],
            (Link::Log, true) => &[
                "A mean is the number in a block of the middle, a geometric mean over the sites and treatments that it averages: it lies below the arithmetic mean.",
                "A difference of logarithms is reported as the ratio of two such means; 1 stands for no difference.",
            ],
            (Link::Log, false) => &[
                "A mean is a geometric mean, turned back from the mean of logarithms: near the median of units, below their arithmetic mean.",
                "A difference of logarithms is reported as the ratio of two geometric means; 1 stands for no difference.",
            ],
            (Link::Sqrt, _) => &[
                "A mean is the square of a mean of square roots: near the median of units, below their arithmetic mean.",
                "A difference is one such mean less the other, with limits recovered from the limits of both (Zou & Donner 2008).",
            ],
            (Link::Logit, _) => &[
                "A mean is the share in a block of the middle, turned back from the mean of logits over the sites and treatments that it averages: it is not the mean of shares.",
                "A difference of two such shares, in percentage points, has limits recovered from the limits of both on the logit scale (Zou & Donner 2008); the odds ratio is the difference of logits turned back. p values are of the odds ratio.",
            ],
        };
        list.iter().map(|s| (*s).to_owned()).collect()
    }
}

/// A family as sentences have it.
pub fn family_words(name: &str) -> &str {
    match name {
        "poisson" => "Poisson",
        "negative-binomial" => "negative binomial",
        other => other,
    }
}

/// Nouns of a counted response.
pub struct Things {
    /// "fruit", "culls", "plants lost"
    pub number: &'static str,
    /// The same of one.
    pub one: &'static str,
    /// "fruit counted", "plants set"; of a count, the exposure's unit in the plural.
    pub of: &'static str,
    pub exposure: &'static str,
}

pub fn things(response: &str) -> Things {
    match response {
        "cull-share-by-number" => Things { number: "culls", one: "cull", of: "fruit counted", exposure: "" },
        "plants-lost" => Things { number: "plants lost", one: "plant lost", of: "plants set", exposure: "" },
        "fruit-count-per-plant-day-season" => {
            Things { number: "fruit", one: "fruit", of: "plants of a full season", exposure: "plant and full season of plant-days" }
        }
        _ => Things { number: "fruit", one: "fruit", of: "plants set", exposure: "plant set" },
    }
}

/// "0 plants lost of 12 plants set (0.0 %; exact 95 % interval 0.0 to 26.5 %)".
pub fn counted_words(c: &AsCounted, response: &str) -> String {
    let things = things(response);
    let of = if (c.out_of - c.out_of.round()).abs() < 0.05 { format!("{:.0}", c.out_of) } else { format!("{:.1}", c.out_of) };
    let share = c.number / c.out_of;
    match kind(response) {
        Kind::Portion => format!(
            "{:.0} {} of {of} {} ({:.1} %; exact 95 % interval {:.1} to {:.1} %)",
            c.number,
            if c.number == 1.0 { things.one } else { things.number },
            things.of,
            100.0 * share,
            100.0 * c.low,
            100.0 * c.high
        ),
        _ => format!("{:.0} {} on {of} {} (exact 95 % interval {:.2} to {:.2} a plant)", c.number, things.number, things.of, c.low, c.high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_undo_their_inverses_and_slopes_are_slopes() {
        for link in [Link::Identity, Link::Log, Link::Sqrt, Link::Logit] {
            let (x, h) = (0.7, 1e-6);
            let slope = (link.back(x + h) - link.back(x - h)) / (2.0 * h);
            assert!((slope - link.slope(x)).abs() < 1e-8, "{link:?}");
        }
        assert!((Link::Logit.back(0.0) - 0.5).abs() < 1e-15);
    }

    #[test]
    fn counts_are_negative_binomial_and_shares_by_mass_normal_unless_told_otherwise() {
        assert_eq!(families(kind("fruit-count-per-plant"))[0], Family::NegativeBinomial);
        assert_eq!(families(kind("cull-share-by-number"))[0], Family::BetaBinomial);
        assert_eq!(families(kind("cull-share")), [Family::Normal]);
        assert_eq!(families(kind("measure:soluble solids")), [Family::Normal]);
    }
}
