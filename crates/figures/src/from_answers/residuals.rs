//! Residual checks of a question.
use super::Told;
use crate::residuals::{ResidualPoint, ResidualsFigure};

impl Told<'_> {
    /// Of the first fit that has them.
    pub(super) fn residuals(&self) -> ResidualsFigure {
        let across = self.answer.across.iter().find(|a| !a.residuals.is_empty());
        let rows = across.map_or(&[][..], |a| a.residuals.as_slice());
        let keys: Vec<&str> = self.trial.sites.iter().map(|s| s.site.as_str()).filter(|s| rows.iter().any(|r| r.site == *s)).collect();
        let normal = across.is_none_or(|a| !a.model_toml.contains("family = \"") || a.model_toml.contains("family = \"normal\""));
        let model = || "scale of the model".to_string();
        let (factor, unit, residual_unit) =
            if normal { (self.scale.factor, self.scale.unit.clone(), self.scale.difference_unit.clone()) } else { (1.0, model(), model()) };
        let point = |r: &crosshouse_questions::answers::Residual| {
            let site = keys.iter().position(|k| *k == r.site)?;
            Some(ResidualPoint { site, fitted: r.fitted * factor, residual: r.residual * factor })
        };
        ResidualsFigure {
            caption: self.caption("residuals", format!("Residual checks of {}", self.answer.response_label), String::new()),
            response: self.answer.response_label.clone(),
            unit,
            residual_unit,
            points: rows.iter().filter_map(point).collect(),
            sites: keys.iter().map(|k| self.words.site(k)).collect(),
            ..ResidualsFigure::default()
        }
    }
}
