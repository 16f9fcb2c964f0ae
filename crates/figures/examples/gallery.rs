//! Draws every sample figure into a folder, to look at: `cargo run -p crosshouse-figures --example gallery -- FOLDER [DPI]`.
//! Prints what each figure and its picture cost.
#![allow(clippy::print_stdout, clippy::disallowed_methods)] // a tool for the eye, not part of a run
#[path = "../benches/samples/mod.rs"]
mod samples;

use crosshouse_figures::{Drawing, FigureFault, Width};
use std::path::{Path, PathBuf};
use std::time::Instant;

type Drawn = Result<Vec<Drawing>, FigureFault>;

fn single(name: &str) -> Drawn {
    let mut all = match name {
        "means" => crosshouse_figures::means::MeansFigure { width: Width::Single, ..samples::means() }.draw(),
        "differences" => crosshouse_figures::differences::DifferencesFigure { width: Width::Single, ..samples::differences() }.draw(),
        _ => crosshouse_figures::residuals::ResidualsFigure { width: Width::Single, ..samples::residuals(4) }.draw(),
    }?;
    all.iter_mut().for_each(|d| d.name = format!("{}-single", d.name));
    Ok(all)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().ok_or("a folder to draw into is needed")?);
    let dpi = arguments.next().map_or(Ok(150), |d| d.parse())?;
    std::fs::create_dir_all(&folder)?;
    let figures: Vec<fn() -> Drawn> = vec![
        || samples::means().draw(),
        || samples::means_of_ten_varieties().draw(),
        || samples::differences().draw(),
        || samples::differences_of_45_pairs().draw(),
        || samples::cumulative().draw(),
        || samples::climate().draw(),
        || samples::root_zone().draw(),
        || samples::calendar(60, 40).draw(),
        || samples::plan(true).draw(),
        || samples::plan(false).draw(),
        || samples::residuals(4).draw(),
        || single("means"),
        || single("differences"),
        || single("residuals"),
    ];
    for figure in figures {
        let start = Instant::now();
        let drawings = figure()?;
        let svg = start.elapsed();
        for drawing in drawings {
            write(&folder, &drawing, dpi, svg)?;
        }
    }
    Ok(())
}

fn write(folder: &Path, drawing: &Drawing, dpi: u32, svg: std::time::Duration) -> Result<(), Box<dyn std::error::Error>> {
    let start = Instant::now();
    let png = drawing.png(dpi)?;
    println!(
        "{:<34} {:>5.0} × {:>3.0} mm  svg {svg:>9.1?} {:>4} kB  png {:>9.1?} {:>5} kB",
        drawing.name,
        drawing.width_mm,
        drawing.height_mm,
        drawing.svg.len() / 1000,
        start.elapsed(),
        png.len() / 1000
    );
    std::fs::write(folder.join(format!("{}.svg", drawing.name)), &drawing.svg)?;
    std::fs::write(folder.join(format!("{}.png", drawing.name)), png)?;
    Ok(())
}
