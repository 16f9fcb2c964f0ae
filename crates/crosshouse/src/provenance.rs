//! The one file that may hold a clock reading and the machine's kind: when, with what, from what.
use crosshouse_audit::OutFile;
use crosshouse_logs::tables::CleanTables;
use serde_json::json;

#[allow(clippy::disallowed_methods)] // the one module that may ask for the time
pub fn file(clean: &CleanTables) -> OutFile {
    let now = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
    let inputs: Vec<_> = clean.files.iter().map(|f| json!({"file": f.file, "sha256": f.sha256, "bytes": f.bytes})).collect();
    let value = json!({
        "tool": "crosshouse",
        "version": env!("CARGO_PKG_VERSION"),
        "run_ended": now,
        "system": format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
        "inputs": inputs,
    });
    OutFile::new(crate::writer::MARK, format!("{value:#}\n"))
}
