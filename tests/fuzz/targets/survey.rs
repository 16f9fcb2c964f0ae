//! Bytes of unknown habit → drafts, which are TOML whose only faults are their open questions.
#![no_main]
use crosshouse_fuzz::{FILE_ENDS, chosen, first, leave_caught_panics, sheet};
use crosshouse_readings::declared::Declared;
use crosshouse_survey::{Request, survey};
use libfuzzer_sys::fuzz_target;

const ENDINGS: [&str; 5] = ["csv", "txt", "csv", "xlsx", "ods"];

fuzz_target!(init: leave_caught_panics(), |data: &[u8]| {
    let (choice, data) = first(data);
    let ending = chosen(&ENDINGS, choice);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut files = Vec::new();
    for (i, bytes) in data.splitn(3, |b| *b == FILE_ENDS).enumerate() {
        let path = folder.path().join(format!("log-{i}.{ending}"));
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
        Ok(drafts) => [Some(drafts.site), drafts.season].iter().flatten().for_each(|draft| only_questions(draft)),
        Err(faults) => assert!(!faults.is_empty()),
    }
});

fn only_questions(draft: &str) {
    let file = Declared::new("a.toml", draft);
    file.root();
    let others: Vec<_> = file.into_faults().into_iter().filter(|f| f.code != "question-open").collect();
    assert!(others.is_empty(), "{others:#?}\n{draft}");
}
