//! A family and the one that allows for more spread, fitted side by side.

use crate::cannot_fit::CannotFit;
use crate::columns::Columns;
use crate::model::{Family, Model};
use crate::result::{Difference, Fit};

/// A model fitted with and without spread beyond its family.
#[derive(Debug, Clone, PartialEq)]
pub struct BothFamilies {
    /// Poisson, or binomial.
    pub narrow: Result<Fit, CannotFit>,
    /// Negative binomial, or beta-binomial.
    pub wide: Result<Fit, CannotFit>,
}

/// Fits counts as Poisson and negative binomial, or shares as binomial and beta-binomial, whichever of the two `model`
/// states; `None` for the normal family.
pub fn both_families(data: &Columns, model: &Model) -> Option<BothFamilies> {
    let (narrow, wide) = match model.family {
        Family::Normal => return None,
        Family::Poisson | Family::NegativeBinomial => (Family::Poisson, Family::NegativeBinomial),
        Family::Binomial | Family::BetaBinomial => (Family::Binomial, Family::BetaBinomial),
    };
    let of = |family: Family| crate::fit(data, &Model { family, ..model.clone() });
    let (narrow, wide) = rayon::join(|| of(narrow), || of(wide));
    Some(BothFamilies { narrow, wide })
}

impl BothFamilies {
    /// For each difference that both can estimate: the narrow family's, the wide one's, and how many times as wide
    /// the wide one's interval is.
    pub fn widening(&self) -> Vec<(&Difference, &Difference, f64)> {
        let (Ok(narrow), Ok(wide)) = (&self.narrow, &self.wide) else { return Vec::new() };
        let same = |a: &Difference, b: &Difference| (&a.of, &a.minus, &a.within, a.adjust) == (&b.of, &b.minus, &b.within, b.adjust);
        let pair = |a| wide.differences.iter().find(|b| same(a, b)).map(|b| (a, b, b.se / a.se));
        narrow.differences.iter().filter_map(pair).collect()
    }
}
