//! What each figure costs as SVG, and a page as PNG at 300 dots per inch.
mod samples;

use crosshouse_figures::Drawing;
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

/// A kind of figure by name, drawn from the samples.
fn drawn(kind: &str) -> Vec<Drawing> {
    match kind {
        "means" => samples::means().draw(),
        "means-varieties" => samples::means_of_ten_varieties().draw(),
        "differences" => samples::differences().draw(),
        "differences-45" => samples::differences_of_45_pairs().draw(),
        "cumulative" => samples::cumulative().draw(),
        "climate" => samples::climate().draw(),
        "root-zone" => samples::root_zone().draw(),
        "calendar" => samples::calendar(60, 40).draw(),
        "plan" => samples::plan(true).draw(),
        _ => samples::residuals(4).draw(),
    }
    .unwrap_or_default()
}

const KINDS: [&str; 10] =
    ["means", "means-varieties", "differences", "differences-45", "cumulative", "climate", "root-zone", "calendar", "plan", "residuals"];

#[divan::bench(args = KINDS)]
fn svg(kind: &str) -> Vec<Drawing> {
    drawn(black_box(kind))
}

#[divan::bench(args = KINDS, sample_count = 10)]
fn png_300(bencher: Bencher, kind: &str) {
    let drawings = drawn(kind);
    bencher.bench(|| drawings.first().map(|d| d.png(300)));
}
