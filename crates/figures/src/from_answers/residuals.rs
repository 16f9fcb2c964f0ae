//! Residual checks of a question.
use super::Told;
use crate::residuals::{ResidualPoint, ResidualsFigure};

impl Told<'_> {
    /// Of the first fit that has them.
    pub(super) fn residuals(&self) -> ResidualsFigure {
        let across = self.answer.across.iter().find(|a| !a.residuals.is_empty());
        let rows = across.map_or(&[][..], |a| a.residuals.as_slice());
        let keys: Vec<&str> = self.trial.sites.iter().map(|s| s.site.as_str()).filter(|s| rows.iter().any(|r| r.site == *s)).collect();
        let likelihood = self.answer.likelihood.as_ref();
        let standard = likelihood.is_some_and(|l| l.family != "normal");
        let (factor, unit, residual_factor, residual_unit) = match likelihood {
            Some(l) if !standard => (1.0, format!("{} scale", l.scale), 1.0, format!("{} scale", l.scale)),
            Some(_) => (self.scale.factor, self.scale.unit.clone(), 1.0, "standard normal deviate".to_string()),
            None => (self.scale.factor, self.scale.unit.clone(), self.scale.factor, self.scale.difference_unit.clone()),
        };
        let point = |r: &crosshouse_questions::answers::Residual| {
            let site = keys.iter().position(|k| *k == r.site)?;
            Some(ResidualPoint { site, fitted: r.fitted * factor, residual: r.residual * residual_factor })
        };
        ResidualsFigure {
            caption: self.caption("residuals", format!("Residual checks of {}", self.answer.response_label), String::new()),
            response: self.answer.response_label.clone(),
            unit,
            residual_unit,
            points: rows.iter().filter_map(point).collect(),
            standard,
            sites: keys.iter().map(|k| self.words.site(k)).collect(),
            ..ResidualsFigure::default()
        }
    }
}
