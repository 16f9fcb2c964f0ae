//! All figures of a season.
use crate::drawing::Drawing;
use crate::faults::FigureFault;
use crate::reader::Reader;
use crate::{from_answers, from_trial};
use crosshouse_questions::answers::Answers;
use crosshouse_trial::Settings;
use crosshouse_trial::tables::TrialTables;

/// Draws the answers, then the trial tables; no two drawings have the same name.
///
/// # Errors
/// The first drawing that could not be made; none depends on a value in the data.
pub fn season_drawings(answers: &Answers, trial: &TrialTables, settings: &Settings, reader: Reader) -> Result<Vec<Drawing>, FigureFault> {
    let mut drawings = from_answers::drawings(answers, trial, reader)?;
    drawings.extend(from_trial::drawings(trial, settings, reader)?);
    let mut taken: Vec<String> = Vec::new();
    for drawing in &mut drawings {
        drawing.name = free(&drawing.name, &taken);
        taken.push(drawing.name.clone());
    }
    Ok(drawings)
}

/// The name, or the name with the first number that nobody has.
fn free(name: &str, taken: &[String]) -> String {
    let numbered = (2..).map(|n| format!("{name}-{n}"));
    std::iter::once(name.to_string()).chain(numbered).find(|n| !taken.contains(n)).unwrap_or_default()
}
