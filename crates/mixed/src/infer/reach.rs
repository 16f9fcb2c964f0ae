//! Means and differences of counts and shares that lie beyond what the records hold.

use crate::notice::NoticeCode;
use crate::result::{Fit, NotEstimable};

/// A standard error beyond this, on a log or logit scale, says that nothing holds the estimate.
pub const NO_INFORMATION: f64 = 30.0;

/// Takes means and differences without information out of the fit and says why they are not given: at the covariates'
/// means, a level recorded only far from these is told by its slope alone.
pub fn within_reach(fit: &mut Fit) {
    let why = |se: f64| {
        format!(
            "its standard error is {se:.0} on the fitted scale: the records lie too far from where it is asked for (covariates are held at their means)"
        )
    };
    let (kept, beyond): (Vec<_>, Vec<_>) = std::mem::take(&mut fit.adjusted_means).into_iter().partition(|m| m.se <= NO_INFORMATION);
    fit.adjusted_means = kept;
    let means = beyond.into_iter().map(|m| NotEstimable::Mean { of: m.of, within: m.within, why: why(m.se) });
    let (kept, beyond): (Vec<_>, Vec<_>) = std::mem::take(&mut fit.differences).into_iter().partition(|d| d.se <= NO_INFORMATION);
    fit.differences = kept;
    let differences = beyond.into_iter().map(|d| NotEstimable::Difference { of: d.of, minus: d.minus, within: d.within, why: why(d.se) });
    let gone: Vec<NotEstimable> = means.chain(differences).collect();
    if !gone.is_empty() {
        let text = format!("{} of the things asked for lie beyond what the records hold: see not_estimable", gone.len());
        fit.notices.push(NoticeCode::NotEstimable.says(text));
        fit.not_estimable.extend(gone);
    }
}
