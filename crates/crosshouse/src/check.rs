//! `crosshouse check`: read, clean, judge the design; fit nothing.
use crate::climate::{Days, houses};
use crate::messages;
use crate::outcome::{DONE, Outcome, UNUSABLE};
use crate::season::{self, Declarations};
use crate::store::{Store, former};
use crosshouse_logs::tables::CleanTables;
use crosshouse_logs::{Progress, Season};
use crosshouse_trial::tables::{HouseDay, TrialTables};
use std::fmt::Write;
use std::path::Path;

pub fn check(path: &Path, progress: &dyn Progress) -> Outcome {
    check_with(path, None, progress)
}

/// The same, with a store: what has not changed since it was written is not read again.
pub fn check_with(path: &Path, store: Option<&Path>, progress: &dyn Progress) -> Outcome {
    let declared = match season::read(path) {
        Ok(declared) => declared,
        Err(faults) => return Outcome::failed(faults, UNUSABLE),
    };
    let days = Days { settings: &declared.settings, keep_records: false };
    let (clean, houses) = match store {
        None => {
            let (clean, climate) = crosshouse_logs::read_season_through(&declared.season, progress, &days);
            (clean, houses(climate))
        }
        Some(folder) => match read_and_keep(&declared, days, folder, progress) {
            Ok(read) => read,
            Err(why) => return Outcome::failed(format!("{why}\n"), UNUSABLE),
        },
    };
    let trial = crosshouse_trial::build_with(&clean, houses, &declared.factors, &declared.settings);
    let fatal = clean.faults.iter().any(|f| f.fatal);
    let out = format!("{}\n{}\n{}", design(&trial, &declared.season), rows(&clean), not_given(&trial));
    Outcome { out, err: messages::faults(&clean.faults), status: if fatal { UNUSABLE } else { DONE } }
}

fn read_and_keep(
    declared: &Declarations,
    days: Days<'_>,
    folder: &Path,
    progress: &dyn Progress,
) -> Result<(CleanTables, Vec<Vec<HouseDay>>), String> {
    let store = Store::new(days, &declared.season, former::of_store(folder));
    let (clean, climate) = crosshouse_logs::read_season_through(&declared.season, progress, &store);
    let houses = houses(climate);
    let by_site = clean.sites.iter().map(|s| s.site.id.as_str()).zip(houses.iter().map(Vec::as_slice));
    former::write(folder, &store.finish(by_site)?)?;
    Ok((clean, houses))
}

/// The design in words: factors, cells with their replication, findings.
fn design(trial: &TrialTables, season: &Season) -> String {
    let design = &trial.design;
    let name = |id: &str| trial.sites.iter().find(|s| s.site == id).map_or(id.to_owned(), |s| s.name.clone());
    let mut text = format!("{}\n\nWhat the design can tell\n", season.title);
    for f in &design.factors {
        let _ = writeln!(text, "  {} ({}), given to each {}", f.label, f.levels.join(" · "), f.unit_of_assignment);
    }
    for cell in &design.cells {
        let levels: Vec<&str> = cell.levels.values().map(String::as_str).collect();
        let _ = writeln!(
            text,
            "  {:<18} {:<36} {:>3} units in {} blocks, {} plants",
            name(&cell.site),
            levels.join(" · "),
            cell.units,
            cell.blocks,
            cell.plants
        );
    }
    for finding in &design.findings {
        let _ = writeln!(text, "\n  {} [{}]\n    mend  {}", finding.text, finding.code, finding.mend);
    }
    if design.findings.is_empty() {
        text.push_str("  Every comparison of these factors can be made at every site.\n");
    }
    text
}

/// Rows read = kept + set aside, file by file.
pub fn rows(clean: &CleanTables) -> String {
    let mut text = format!("{:<52} {:>9} {:>9} {:>9} {:>9}\n", "Rows", "read", "kept", "flagged", "set aside");
    let mut sum = [0_u64; 4];
    for f in &clean.files {
        let counts = [f.read, f.kept, f.flagged, f.set_aside];
        let _ = writeln!(text, "{:<52} {:>9} {:>9} {:>9} {:>9}", f.file, counts[0], counts[1], counts[2], counts[3]);
        sum.iter_mut().zip(counts).for_each(|(s, c)| *s += c);
    }
    let _ = writeln!(text, "{:<52} {:>9} {:>9} {:>9} {:>9}", "all files", sum[0], sum[1], sum[2], sum[3]);
    text
}

fn not_given(trial: &TrialTables) -> String {
    let mut text = String::new();
    for n in &trial.not_given {
        let _ = writeln!(text, "not given: {} at {}: {}\n    mend  {}", n.what, n.site, n.why, n.mend);
    }
    text
}
