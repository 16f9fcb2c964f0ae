//! Bytes of unknown habit → drafts. Read as a season's declarations, their only faults are their open questions.
#![no_main]
use crosshouse_fuzz::{FILE_ENDS, chosen, first, leave_caught_panics, sheet};
use crosshouse_logs::read_declarations;
use crosshouse_survey::{Request, Survey, survey};
use libfuzzer_sys::fuzz_target;
use std::path::Path;

const ENDINGS: [&str; 5] = ["csv", "txt", "csv", "xlsx", "ods"];

fuzz_target!(init: leave_caught_panics(), |data: &[u8]| {
    let (choice, data) = first(data);
    let ending = chosen(&ENDINGS, choice);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let logs = folder.path().join("tarn-hollow");
    std::fs::create_dir(&logs).expect("a folder");
    let mut files = Vec::new();
    for (i, bytes) in data.splitn(3, |b| *b == FILE_ENDS).enumerate() {
        let path = logs.join(format!("log-{i}.{ending}"));
        let bytes = match ending {
            "xlsx" => sheet::xlsx(bytes, choice >= 128),
            "ods" => sheet::ods(bytes),
            _ => bytes.to_vec(),
        };
        std::fs::write(&path, bytes).expect("room in the temporary folder");
        files.push(path);
    }
    let request = Request { files: &files, logs: None, factors: None, season: Some((folder.path(), "a.toml")) };
    match survey(&request) {
        Ok(drafts) => only_questions(folder.path(), &drafts),
        Err(faults) => assert!(!faults.is_empty()),
    }
});

fn only_questions(folder: &Path, drafts: &Survey) {
    let season = drafts.season.as_deref().unwrap_or_default();
    for (name, text) in [("a.toml", drafts.site.as_str()), ("season.toml", season)] {
        std::fs::write(folder.join(name), text).expect("room in the temporary folder");
    }
    let faults = read_declarations(&folder.join("season.toml")).err().unwrap_or_default();
    let others: Vec<_> = faults.iter().filter(|f| f.code != "question-open").collect();
    assert!(others.is_empty(), "{others:#?}\n{}\n{season}", drafts.site);
}
