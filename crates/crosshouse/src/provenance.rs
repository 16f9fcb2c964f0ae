//! The one file that may hold a clock reading and the machine's kind: when, with what, from what.
use crate::store::stamps::{Stamp, Stamps};
use crosshouse_audit::OutFile;
use crosshouse_logs::tables::CleanTables;
use crosshouse_readings::said::FileAccount;
use serde_json::json;

fn input(f: &FileAccount, stamp: Option<&Stamp>) -> serde_json::Value {
    let mut input = json!({"file": f.file, "sha256": f.sha256, "bytes": f.bytes});
    if let (Some(stamp), Some(entry)) = (stamp, input.as_object_mut()) {
        entry.insert("stamp".to_owned(), json!(stamp));
    }
    input
}

/// What a provenance file says of the raw files' times; nothing, where it is none.
pub fn stamps(text: &[u8]) -> Stamps {
    let value: serde_json::Value = serde_json::from_slice(text).unwrap_or_default();
    let inputs = value["inputs"].as_array().into_iter().flatten();
    let one = |input: &serde_json::Value| {
        let stamp = serde_json::from_value(input.get("stamp")?.clone()).ok()?;
        Some((input.get("file")?.as_str()?.to_owned(), stamp))
    };
    inputs.filter_map(one).collect()
}

#[allow(clippy::disallowed_methods)] // the one module that may ask for the time
pub fn file(clean: &CleanTables, stamps: &Stamps) -> OutFile {
    let now = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
    let inputs: Vec<_> = clean.files.iter().map(|f| input(f, stamps.get(&f.file))).collect();
    let value = json!({
        "tool": "crosshouse",
        "version": env!("CARGO_PKG_VERSION"),
        "run_ended": now,
        "system": format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
        "inputs": inputs,
    });
    OutFile::new(crate::writer::MARK, format!("{value:#}\n"))
}
