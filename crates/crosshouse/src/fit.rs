//! `crosshouse fit`: one model on any tidy table.
use crate::outcome::{Outcome, UNUSABLE};
use crate::{messages, tidy_columns};
use crosshouse_mixed::{CannotFit, Columns, Fit, Freedom, Model, ModelFaults, Prepared, variance_intervals};
use crosshouse_readings::{Fault, Place};
use std::path::Path;
use std::time::Instant;

mod shown;
mod simulated;

pub use simulated::Draws;

pub struct Request<'a> {
    pub table: &'a Path,
    pub model: &'a Path,
    pub json: bool,
    pub timing: bool,
    pub repeat: usize,
    /// Responses to draw from the fit and to fit again.
    pub simulate: Option<Draws>,
    /// Whether variances, correlations and the autocorrelation get their limits.
    pub variance_intervals: bool,
}

impl<'a> Request<'a> {
    /// The fit as JSON, and nothing besides.
    pub fn of(table: &'a Path, model: &'a Path) -> Self {
        Self { table, model, json: true, timing: false, repeat: 1, simulate: None, variance_intervals: false }
    }
}

/// The fit's JSON, and beside its keys what was asked for besides.
#[derive(serde::Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    fit: &'a Fit,
    #[serde(skip_serializing_if = "Option::is_none")]
    simulated: Option<simulated::Simulated>,
}

pub fn fit(request: &Request<'_>) -> Outcome {
    let model = match read_model(request.model) {
        Ok(model) => model,
        Err(faults) => return Outcome::failed(messages::faults(&faults), UNUSABLE),
    };
    let mut seconds = Seconds::default();
    let mut last = None;
    for _ in 0..request.repeat.max(1) {
        match once(request, &model, &mut seconds) {
            Ok(read) => last = Some(read),
            Err(outcome) => return outcome,
        }
    }
    let Some((columns, fit)) = last else { return Outcome::done("", "") };
    let simulated = match request.simulate.map(|draws| seconds.simulate(|| simulated::simulated(&columns, &model, draws))).transpose() {
        Ok(simulated) => simulated,
        Err(error) => return refused(&error, request),
    };
    let shown = Shown { fit: &fit, simulated };
    let out = if request.json { json(&shown) } else { Ok(reading(&shown, &model)) };
    let err = if request.timing { seconds.line() } else { String::new() };
    match out {
        Ok(out) => Outcome::done(out, err),
        Err(why) => Outcome::failed(why, UNUSABLE),
    }
}

fn reading(shown: &Shown<'_>, model: &Model) -> String {
    shown::fit(shown.fit, model) + &shown.simulated.as_ref().map_or_else(String::new, simulated::shown)
}

fn json(shown: &Shown<'_>) -> Result<String, String> {
    serde_json::to_string_pretty(shown).map(|text| text + "\n").map_err(|e| format!("the result cannot be written as JSON: {e}\n"))
}

fn once(request: &Request<'_>, model: &Model, seconds: &mut Seconds) -> Result<(Columns, Fit), Outcome> {
    let start = Instant::now();
    let columns = read_table(request.table, model).map_err(|f| Outcome::failed(messages::faults(&f), UNUSABLE))?;
    seconds.read.push(start.elapsed().as_secs_f64());
    if request.timing {
        let start = Instant::now();
        let _ = crosshouse_mixed::fit(&columns, &bare(model));
        seconds.fit.push(start.elapsed().as_secs_f64());
    }
    let start = Instant::now();
    let fit = fit_once(&columns, model, request.variance_intervals).map_err(|e| refused(&e, request))?;
    seconds.whole.push(start.elapsed().as_secs_f64());
    Ok((columns, fit))
}

fn fit_once(columns: &Columns, model: &Model, intervals: bool) -> Result<Fit, CannotFit> {
    if !intervals {
        return crosshouse_mixed::fit(columns, model);
    }
    let mut prepared = Prepared::new(columns, model)?;
    let (mut fit, _) = prepared.fit()?;
    variance_intervals(&mut prepared, &mut fit)?;
    Ok(fit)
}

/// The model without anything to compare: what its fit alone costs.
fn bare(model: &Model) -> Model {
    let mut bare = model.clone();
    bare.compare.clear();
    bare.estimation.freedom = Some(Freedom::LargeSample);
    bare
}

fn read_table(path: &Path, model: &Model) -> Result<Columns, Vec<Fault>> {
    let table = crosshouse_logs::tidy::read(path)?;
    tidy_columns::columns(&table, model)
}

/// Faults told one by one; the others are counted.
const MOST_TOLD: usize = 20;

fn refused(error: &CannotFit, request: &Request<'_>) -> Outcome {
    if let CannotFit::Model(faults) = error {
        return Outcome::failed(messages::faults(&model_faults(request.model, faults)), UNUSABLE);
    }
    let fault = |one: &CannotFit| Fault {
        code: one.code().into(),
        title: one.to_string(),
        place: Place::file(name(request.table)),
        found: String::new(),
        expected: String::new(),
        mend: one.mend().into(),
        also_rows: vec![],
        fatal: true,
    };
    let mut faults: Vec<Fault> = error.each().iter().take(MOST_TOLD).map(fault).collect();
    if let (Some(last), more @ 1..) = (faults.last_mut(), error.each().len().saturating_sub(MOST_TOLD)) {
        last.title.push_str(&format!(" (and {more} more such cells)"));
    }
    Outcome::failed(messages::faults(&faults), error.exit_status())
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned())
}

/// The model file, checked.
fn read_model(path: &Path) -> Result<Model, Vec<Fault>> {
    let unreadable = |found: String| {
        vec![crate::season::file_fault(
            &name(path),
            "model-unreadable",
            "the model file cannot be read",
            &found,
            "a TOML file in UTF-8",
            "correct the path given with --model",
        )]
    };
    let about = std::fs::metadata(path).map_err(|e| unreadable(e.to_string()))?;
    if !about.is_file() {
        return Err(unreadable(if about.is_dir() { "a folder".into() } else { "a pipe, socket or device".into() }));
    }
    let text = std::fs::read_to_string(path).map_err(|e| unreadable(e.to_string()))?;
    Model::from_toml(&text).map_err(|faults| model_faults(path, &faults))
}

fn model_faults(path: &Path, faults: &ModelFaults) -> Vec<Fault> {
    let one = |f: &crosshouse_mixed::ModelFault| Fault {
        code: f.code.code().into(),
        title: "the model cannot be used".into(),
        place: Place { file: name(path).into(), row: f.line.map(|l| l as u32), column: Some(f.key.as_str().into()) },
        found: f.found.clone(),
        expected: f.expected.clone(),
        mend: f.mend.clone(),
        also_rows: vec![],
        fatal: true,
    };
    faults.0.iter().map(one).collect()
}

/// Seconds of each repeat.
#[derive(Default)]
struct Seconds {
    read: Vec<f64>,
    fit: Vec<f64>,
    whole: Vec<f64>,
    simulate: Option<f64>,
}

impl Seconds {
    fn simulate<T>(&mut self, work: impl FnOnce() -> T) -> T {
        let start = Instant::now();
        let done = work();
        self.simulate = Some(start.elapsed().as_secs_f64());
        done
    }

    fn line(&self) -> String {
        let (read, fit, whole) = (median(&self.read), median(&self.fit), median(&self.whole));
        let mut value =
            serde_json::json!({"read_s": read, "fit_s": fit, "inference_s": (whole - fit).max(0.0), "repeats": self.read.len()});
        if let Some(simulate) = self.simulate {
            value["simulate_s"] = simulate.into();
        }
        format!("{value}\n")
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    if n == 0 { 0.0 } else { (sorted[(n - 1) / 2] + sorted[n / 2]) / 2.0 }
}
