//! Whole logs of every kind, read as a season is.
use super::declarations::{KINDS, Kind, site};
use super::folder::Folder;
use super::kept::Kept;
use super::{FILE_ENDS, first, sheet};
use crosshouse_logs::loggers::{Loggers, Whole};
use crosshouse_logs::tables::Climate;
use crosshouse_logs::{CleanTables, Season, Silent, read_declarations, read_season_through};
use std::cell::RefCell;
use std::collections::HashMap;

thread_local! {
    static FOLDER: Folder = Folder::default();
    static SEASONS: RefCell<HashMap<(usize, u16), Season>> = RefCell::default();
}

/// Reads an input: a byte for the kind of log, two for the keys of its declaration, then the files.
///
/// # Panics
/// Where what must hold does not.
pub fn check(data: &[u8]) {
    let (kind, data) = first(data);
    let (low, data) = first(data);
    let (high, data) = first(data);
    let (kind, switches) = (kind % KINDS.len(), (high << 8 | low) as u16);
    FOLDER.with(|folder| {
        let season = season(folder, kind, switches);
        let kind = &KINDS[kind];
        let files: Vec<&[u8]> = data.splitn(3, |b| *b == FILE_ENDS).collect();
        let kept = Kept::default();
        let tables = read(folder, kind, &season, &files, &kept);
        beside_kept(folder, kind, &season, &files, &tables, kept);
        for file in &tables.files {
            assert!(file.balances(), "{}: {file:?}", kind.name);
        }
        streamed_or_not(folder, kind, &season, &files, tables);
    });
}

fn season(folder: &Folder, kind: usize, switches: u16) -> Season {
    SEASONS.with_borrow_mut(|seasons| {
        let read = || {
            folder.write("tarn-hollow.toml", site(&KINDS[kind], switches).as_bytes());
            read_declarations(&folder.path("season.toml")).unwrap_or_else(|faults| panic!("{faults:#?}"))
        };
        if seasons.len() > 20_000 {
            seasons.clear();
        }
        seasons.entry((kind, switches)).or_insert_with(read).clone()
    })
}

fn read(folder: &Folder, kind: &Kind, season: &Season, files: &[impl AsRef<[u8]>], loggers: &impl Loggers<Out = Climate>) -> CleanTables {
    let name = |i: usize| format!("logs/log-{i}.{}", kind.ending);
    for (i, bytes) in files.iter().enumerate() {
        let bytes = bytes.as_ref();
        match kind.ending {
            "xlsx" => folder.write(&name(i), &sheet::xlsx(bytes, false)),
            _ => folder.write(&name(i), bytes),
        }
    }
    let (mut tables, climate) = read_season_through(season, &Silent, loggers);
    for (site, loggers) in tables.sites.iter_mut().zip(climate) {
        site.climate = loggers.into_iter().map(|logger| logger.out).collect();
    }
    (0..files.len()).for_each(|i| folder.remove(&name(i)));
    tables
}

/// Each file by itself forgotten, and read beside the rows that were kept of the others.
fn beside_kept(folder: &Folder, kind: &Kind, season: &Season, files: &[&[u8]], first: &CleanTables, mut kept: Kept) {
    if kept.is_empty() {
        return;
    }
    let first = told(first.clone());
    for i in 0..files.len() {
        let rows = kept.forget(&format!("log-{i}.{}", kind.ending));
        let again = read(folder, kind, season, files, &kept);
        assert_eq!(first, told(again), "rows that were kept are not read alike");
        kept.remember(rows);
    }
}

/// Text beyond ASCII is left out, for it is told of once or twice; and a file's bytes and hash differ.
fn streamed_or_not(folder: &Folder, kind: &Kind, season: &Season, files: &[&[u8]], streamed: CleanTables) {
    let climate =
        season.sites.first().is_some_and(|s| s.climate.first().is_some_and(|c| c.log.layout.encoding.as_deref() == Some("utf-8")));
    if !climate || files.iter().any(|f| f.is_empty() || f.contains(&0) || f.starts_with(&[0xEF, 0xBB, 0xBF])) {
        return;
    }
    let wide = |f: &&[u8]| std::str::from_utf8(f).ok().map(|t| t.encode_utf16().collect::<Vec<u16>>());
    let Some(wide) = files.iter().map(wide).collect::<Option<Vec<_>>>() else { return };
    let bytes = |w: &Vec<u16>| [0xFEFF].iter().chain(w).flat_map(|u| u.to_le_bytes()).collect::<Vec<u8>>();
    let whole = read(folder, kind, season, &wide.iter().map(bytes).collect::<Vec<_>>(), &Whole);
    assert_eq!(told(streamed), told(whole), "a stream and a whole file are not read alike");
}

fn told(mut tables: CleanTables) -> String {
    for file in &mut tables.files {
        (file.bytes, file.sha256) = (0, String::new());
    }
    for fault in &mut tables.faults {
        fault.also_rows.sort_unstable();
    }
    format!("{tables:#?}")
}
