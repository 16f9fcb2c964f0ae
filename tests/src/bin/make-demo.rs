//! Writes the committed demo season again: fixtures/four-stations and its truth.toml, from the stated seed.
use crosshouse_tests::demo;
use std::error::Error;
use std::io::Write;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/four-stations");
    let files = demo::files(&demo::season(demo::SEED)?)?;
    demo::put_all(&folder, &files)?;
    let mut out = std::io::stdout().lock();
    for (name, bytes) in &files {
        writeln!(out, "{:>9}  {name}", bytes.len())?;
    }
    writeln!(out, "{:>9}  bytes in {} files", files.values().map(Vec::len).sum::<usize>(), files.len())?;
    Ok(())
}
