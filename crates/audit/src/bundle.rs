//! The files under `audit/`, but for the provenance and the hashes.
use crate::OutFile;
use crosshouse_logs::tables::CleanTables;
use crosshouse_questions::answers::{Across, AnalysisTable, Answer, Answers, Space};
use crosshouse_trial::tables::TrialTables;
use serde::Serialize;

/// A declared file (season or site) as it was read.
#[derive(Debug, Clone)]
pub struct Declared {
    /// File name inside `audit/declared/`.
    pub name: String,
    pub text: String,
}

/// # Errors
/// A sentence, where a table cannot be turned into JSON, CSV or Parquet (never for finite numbers).
pub fn bundle(declared: &[Declared], clean: &CleanTables, trial: &TrialTables, answers: &Answers) -> Result<Vec<OutFile>, String> {
    let mut files: Vec<OutFile> = declared.iter().map(|d| OutFile::new(format!("audit/declared/{}", d.name), d.text.clone())).collect();
    files.push(json("audit/answers.json", answers)?);
    files.push(json("audit/design.json", &trial.design)?);
    files.push(json("audit/not-given.json", &trial.not_given)?);
    files.push(json("audit/files.json", &clean.files)?);
    for answer in &answers.questions {
        fits(answer, &mut files)?;
    }
    for (name, bytes) in crosshouse_logs::store::all(clean).map_err(|e| e.to_string())? {
        files.push(OutFile::new(format!("audit/clean/{name}"), bytes));
    }
    Ok(files)
}

fn json<T: Serialize>(path: &str, value: &T) -> Result<OutFile, String> {
    let mut text = serde_json::to_string_pretty(value).map_err(|e| format!("{path}: {e}"))?;
    text.push('\n');
    Ok(OutFile::new(path, text))
}

fn fits(answer: &Answer, files: &mut Vec<OutFile>) -> Result<(), String> {
    for (index, across) in answer.across.iter().enumerate() {
        let folder = format!("audit/fits/{}/{}", answer.id, folder_name(answer, across, index));
        files.push(OutFile::new(format!("{folder}/table.csv"), csv(&across.table)?));
        files.push(OutFile::new(format!("{folder}/model.toml"), across.model_toml.clone()));
        files.push(OutFile::new(format!("{folder}/why.txt"), format!("{}\n", across.model_in_words)));
        if let Some(fit) = &across.fit {
            files.push(json(&format!("{folder}/fit.json"), fit)?);
        }
    }
    Ok(())
}

/// "at-these-sites"; numbered where a question has several sets of sites.
fn folder_name(answer: &Answer, across: &Across, index: usize) -> String {
    let space = match across.space {
        Space::TheseSites => "at-these-sites",
        Space::SitesLikeThese => "at-sites-like-these",
    };
    let earlier = answer.across[..index].iter().filter(|a| a.space == across.space).count();
    if earlier == 0 { space.to_owned() } else { format!("{space}-{}", earlier + 1) }
}

fn csv(table: &AnalysisTable) -> Result<Vec<u8>, String> {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    writer.write_record(&table.columns).map_err(|e| e.to_string())?;
    for row in &table.rows {
        writer.write_record(row).map_err(|e| e.to_string())?;
    }
    writer.into_inner().map_err(|e| e.to_string())
}
