//! The command. Everything it does is in the library; this file reads the command line and prints.
#![allow(clippy::print_stdout, clippy::print_stderr)]

use clap::{Args, Parser, Subcommand};
use crosshouse::outcome::UNUSABLE;
use crosshouse::{Outcome, check, fit, run, survey};
use crosshouse_logs::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const EXAMPLES: &str = "\
Examples:
  crosshouse survey logs/north/* --out north.toml --season season.toml
  crosshouse check pipelines/four-stations/season.toml
  crosshouse run pipelines/four-stations/season.toml --out reports/four-stations
  crosshouse fit --table plots.csv --model model.toml --json

Exit status: 0 done · 2 the input or a declared file is unusable (each fault is told with its place and mend) ·
3 the model cannot be fitted from these data";

/// Fits make many small matrices; this allocator hands them out in a fraction of the time.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Compares growing media and containers across growing houses at several sites, from the logs as the sites keep them.
#[derive(Parser)]
#[command(name = "crosshouse", version, after_help = EXAMPLES)]
struct Line {
    #[command(subcommand)]
    command: Command,
    /// Threads to use; the digits are the same whatever their number
    #[arg(long, global = true, value_name = "N")]
    threads: Option<usize>,
    /// Print nothing but faults
    #[arg(long, short, global = true)]
    quiet: bool,
}

#[derive(Subcommand)]
enum Command {
    /// The whole job: read, clean, judge the design, answer, report
    #[command(
        after_help = "Example:\n  crosshouse run pipelines/four-stations/season.toml --out reports/four-stations\n\nAn earlier run's folder is replaced when everything could be made, and left as it is otherwise."
    )]
    Run {
        /// The season file
        season: PathBuf,
        /// Results folder [default: reports/NAME, NAME being the season file's folder]
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
        /// Folder of the daily tables and of what was said of each climate log; logs that have not changed since are not read again [default: store/ in the results folder]
        #[arg(long, value_name = "DIR")]
        store: Option<PathBuf>,
    },
    /// Read, clean and judge the design; fit nothing
    #[command(after_help = "Example:\n  crosshouse check pipelines/four-stations/season.toml")]
    Check {
        /// The season file
        season: PathBuf,
        /// Folder of the daily tables and of what was said of each climate log; logs that have not changed since are not read again [default: none is kept]
        #[arg(long, value_name = "DIR")]
        store: Option<PathBuf>,
    },
    /// Read unfamiliar logs and draft the site file, with the evidence and the open questions
    #[command(after_help = SURVEY_HELP)]
    Survey(SurveyLine),
    /// One model on any tidy table
    #[command(after_help = "Example:\n  crosshouse fit --table plots.csv --model model.toml --json --timing --repeat 15")]
    Fit(FitLine),
}

const SURVEY_HELP: &str = "\
Example:
  crosshouse survey logs/north/* --out north.toml --season season.toml

Give all the files of one site at once: plan, picks, climate, feed and drain, diary. What the files do not show is
written as \"?\", with the question and the possible answers above it; a draft runs when each is answered.

Exit status: 0 drafted, open questions or not · 2 a file cannot be read, or the draft cannot be written";

#[derive(Args)]
struct SurveyLine {
    /// The files of one site: text in any encoding, .xlsx or .ods
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The site file to write [default: standard output]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// The season file: its factors are used if it is there, else it is drafted too
    #[arg(long, value_name = "FILE", requires = "out")]
    season: Option<PathBuf>,
    /// The folder of logs, which holds a folder for each site [default: the folder above the files' own]
    #[arg(long, value_name = "DIR")]
    logs: Option<PathBuf>,
    /// Replace the site file if it is there already
    #[arg(long, requires = "out")]
    replace: bool,
}

#[derive(Args)]
struct FitLine {
    /// A tidy CSV: one row a record, a header, missing cells empty or NA
    #[arg(long, value_name = "CSV")]
    table: PathBuf,
    /// The model file
    #[arg(long, value_name = "TOML")]
    model: PathBuf,
    /// The result as JSON on standard output
    #[arg(long)]
    json: bool,
    /// Limits of every variance, correlation and autocorrelation, at the model's level (slower)
    #[arg(long)]
    variance_intervals: bool,
    /// Medians of the seconds inside the process, as a JSON line on standard error
    #[arg(long)]
    timing: bool,
    /// How often to read and fit, for --timing
    #[arg(long, value_name = "N", default_value_t = 1)]
    repeat: usize,
    /// Draw so many responses from the fit, fit each again, and tell how often the intervals hold
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    simulate: Option<u32>,
    /// Where the random numbers of --simulate start
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
}

/// A bar on a terminal, nothing elsewhere.
struct Bar(Option<ProgressBar>);

impl Bar {
    fn new(quiet: bool) -> Self {
        let shown = !quiet && std::io::stderr().is_terminal();
        let style = ProgressStyle::with_template("reading {wide_msg} {pos}/{len}").unwrap_or_else(|_| ProgressStyle::default_bar());
        Bar(shown.then(|| ProgressBar::new(0).with_style(style)))
    }
}

impl Progress for Bar {
    fn file(&self, name: &str, index: usize, of: usize) {
        if let Some(bar) = &self.0 {
            bar.set_length(of as u64);
            bar.set_position(index as u64);
            bar.set_message(name.to_owned());
            if index >= of {
                bar.finish_and_clear();
            }
        }
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        if let Some(bar) = &self.0 {
            bar.finish_and_clear();
        }
    }
}

/// `reports/NAME`, NAME being the season file's folder.
fn default_out(season: &Path) -> PathBuf {
    let folder = season.canonicalize().ok().and_then(|p| p.parent()?.file_name().map(|n| n.to_owned()));
    Path::new("reports").join(folder.unwrap_or_else(|| "season".into()))
}

fn fit_request(line: &FitLine) -> fit::Request<'_> {
    fit::Request {
        table: &line.table,
        model: &line.model,
        json: line.json,
        timing: line.timing,
        repeat: line.repeat,
        variance_intervals: line.variance_intervals,
        simulate: line.simulate.map(|count| fit::Draws { count: count as usize, seed: line.seed }),
    }
}

fn perform(line: &Line) -> Outcome {
    let bar = Bar::new(line.quiet);
    match &line.command {
        Command::Run { season, out, store } => {
            let out = out.clone().unwrap_or_else(|| default_out(season));
            run::run_with(season, &out, store.as_deref(), &bar)
        }
        Command::Check { season, store } => check::check_with(season, store.as_deref(), &bar),
        Command::Survey(s) => survey::survey(&survey::Request {
            files: &s.files,
            out: s.out.as_deref(),
            season: s.season.as_deref(),
            logs: s.logs.as_deref(),
            replace: s.replace,
        }),
        Command::Fit(f) => fit::fit(&fit_request(f)),
    }
}

/// Leaves unprinted what is told as a fault of a workbook.
fn quiet_where_told() {
    let printed = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        if !crosshouse_logs::panic_is_told() {
            printed(panic);
        }
    }));
}

fn main() -> ExitCode {
    quiet_where_told();
    let line = Line::parse();
    if let Some(n) = line.threads {
        let built = rayon::ThreadPoolBuilder::new().num_threads(n.max(1)).build_global();
        if let Err(why) = built {
            eprintln!("--threads {n}: {why}");
            return ExitCode::from(UNUSABLE);
        }
    }
    let outcome = perform(&line);
    let silent = line.quiet && !matches!(line.command, Command::Fit(_) | Command::Survey(SurveyLine { out: None, .. }));
    // A reader that closes the pipe early is no fault of ours.
    let _ = std::io::stderr().write_all(outcome.err.as_bytes());
    if !silent {
        let _ = std::io::stdout().write_all(outcome.out.as_bytes());
    }
    ExitCode::from(outcome.status)
}
