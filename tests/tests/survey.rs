//! Drafted site files: for each demo station the draft with a person's answers reads the logs as the hand-written
//! site file does, to the last value.
#![allow(clippy::unwrap_used)]

use crosshouse::survey::{Request, survey};
use crosshouse_logs::tables::{CleanTables, SiteTables};
use crosshouse_logs::{Silent, read_declarations, read_season};
use crosshouse_tests::answers::{answered, open_questions};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// The logs of a demo station, in no particular order.
fn files(station: &str) -> Vec<PathBuf> {
    let folder = root().join("fixtures/four-stations").join(station);
    std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect()
}

fn put(path: &Path, text: &str) {
    #[allow(clippy::disallowed_methods)] // an input of the test
    std::fs::write(path, text).unwrap();
}

/// The demo's season file with one site, in a folder of its own.
fn season(folder: &Path, site: &str) -> PathBuf {
    let text = std::fs::read_to_string(root().join("pipelines/four-stations/season.toml")).unwrap();
    let logs = format!("logs = {:?}", root().join("fixtures/four-stations"));
    let text = text.replace("logs = \"../../fixtures/four-stations\"", &logs);
    let text = text.replace("\"tarn-hollow.toml\", \"sedge-flats.toml\", \"marl-ridge.toml\", \"withy-end.toml\"", &format!("\"{site}\""));
    let path = folder.join("season.toml");
    put(&path, &text);
    path
}

fn tables(season: &Path) -> CleanTables {
    read_season(&read_declarations(season).unwrap(), &Silent)
}

/// All that equal declarations make equal. Files are named, not numbered: two logs may stand in another order.
fn comparable(tables: &CleanTables, site: &SiteTables) -> Value {
    let name = |value: Value| named(value, tables);
    let mut climate: Vec<Value> = site.climate.iter().map(|c| name(json!(c))).collect();
    climate.sort_by_key(|c| c["interval_s"].as_u64());
    let mut files: Vec<Value> = tables.files.iter().map(|f| json!([f.file, f.read, f.kept, f.set_aside, f.other_lines])).collect();
    files.sort_by_key(|f| f[0].as_str().map(str::to_owned));
    let mut aside: Vec<Value> = tables.set_aside.iter().map(|s| json!([s.place, s.code, s.found, s.whole_row])).collect();
    aside.sort_by_key(Value::to_string);
    let s = &site.site;
    json!({
        "units": name(json!(site.units)),
        "picks": name(json!(site.picks)),
        "unread": name(json!(site.unread)),
        "measures": site.measures,
        "climate": climate,
        "root zone": name(json!(site.root_zone)),
        "diary": name(json!(site.diary)),
        "files": files,
        "set aside": aside,
        "facts": [s.id, s.name, s.time_zone, s.transplanted, s.ended, s.unlisted, s.pick_days, s.missed_days],
    })
}

/// Every `"file": number` under a source by the file's name.
fn named(value: Value, tables: &CleanTables) -> Value {
    match value {
        Value::Object(map) => {
            let source = map.contains_key("row") && map.len() == 2;
            let name = |k: &str, v: Value| match v.as_u64() {
                Some(id) if source && k == "file" => json!(tables.files[id as usize].file),
                _ => named(v, tables),
            };
            Value::Object(map.into_iter().map(|(k, v)| (k.clone(), name(&k, v))).collect())
        }
        Value::Array(list) => Value::Array(list.into_iter().map(|v| named(v, tables)).collect()),
        other => other,
    }
}

/// Draft, answers, then the same tables as by the hand-written file.
fn same_as_by_hand(station: &str, questions: usize, renamed: (&str, &str), answers: &[(&str, &str)]) {
    let folder = tempfile::tempdir().unwrap();
    let site = format!("{station}.toml");
    let season = season(folder.path(), &site);
    let out = folder.path().join(&site);
    let files = files(station);
    let outcome = survey(&Request { files: &files, out: Some(&out), season: Some(&season), logs: None, replace: false });
    assert_eq!((outcome.status, outcome.err.as_str()), (0, ""));
    let draft = std::fs::read_to_string(&out).unwrap();
    assert_eq!(open_questions(&draft), questions, "{draft}");
    let refused = read_declarations(&season).unwrap_err();
    assert_eq!(refused.len(), questions, "{refused:#?}");
    assert!(refused.iter().all(|f| f.code == "question-open" && f.place.file == site), "{refused:#?}");
    put(&out, &answered(&draft, answers).replace(renamed.0, renamed.1));
    let ours = tables(&season);
    std::fs::copy(root().join("pipelines/four-stations").join(&site), &out).unwrap();
    let theirs = tables(&season);
    let (a, b) = (comparable(&ours, &ours.sites[0]), comparable(&theirs, &theirs.sites[0]));
    for (part, value) in b.as_object().unwrap() {
        assert!(a[part] == *value, "{station}: {part} differs{}", first_difference(&a[part], value));
    }
}

fn first_difference(a: &Value, b: &Value) -> String {
    match (a, b) {
        (Value::Array(x), Value::Array(y)) if x.len() != y.len() => format!(": {} against {}", x.len(), y.len()),
        (Value::Array(x), Value::Array(y)) => {
            x.iter().zip(y).find(|(a, b)| a != b).map_or_else(String::new, |(a, b)| first_difference(a, b))
        }
        (Value::Object(x), _) => {
            x.iter().find(|(k, v)| b[*k] != **v).map_or_else(String::new, |(k, v)| format!(" in {k}{}", first_difference(v, &b[k])))
        }
        _ => format!(": {a} against {b}"),
    }
}

const BASIS: (&str, &str) = ("house.area_basis", "\"house floor incl. share of aisle\"");

#[test]
fn tarn_hollow_answered_reads_as_by_hand() {
    let answers = [
        ("site.time_zone", "\"CST6CDT\""),
        ("site.transplanted", "2031-03-03"),
        ("site.ended", "2031-07-22"),
        BASIS,
        ("plan.levels.medium.CPP", "\"blend\""),
        ("plan.levels.medium.Per", "\"perlite\""),
        ("plan.levels.container.#5 pot", "\"pot\""),
        ("plan.levels.container.5 gal bucket", "\"bucket\""),
        ("harvest.unlisted", "\"zero\""),
        ("harvest.same_day", "\"add\""),
        ("harvest.grades.1", "\"marketable\""),
        ("harvest.grades.2", "\"marketable\""),
        ("harvest.grades.C", "\"cull\""),
        ("climate.clock", "\"site\""),
        ("climate.light_is", "\"instant\""),
        ("root_zone.plants", "8"),
        ("root_zone.columns.Feed gal.unit", "\"US gal\""),
        ("diary.events.pump off", "\"missed-irrigation\""),
    ];
    same_as_by_hand("tarn-hollow", 18, ("house-1", "glass-1"), &answers);
}

#[test]
fn sedge_flats_answered_reads_as_by_hand() {
    let answers = [
        ("site.time_zone", "\"EST5EDT\""),
        ("site.transplanted", "2031-05-05"),
        ("site.ended", "2031-09-18"),
        ("house.area_basis", "\"bed incl. share of aisle\""),
        ("harvest.unlisted", "\"missed\""),
        ("harvest.grades.M", "\"marketable\""),
        ("harvest.grades.C", "\"cull\""),
        ("climate.light_is", "\"instant\""),
        ("root_zone.plants", "8"),
        ("root_zone.columns.In gal.unit", "\"US gal\""),
        ("root_zone.columns.Out gal.unit", "\"US gal\""),
        ("root_zone.columns.EC in.unit", "\"µS/cm\""),
        ("root_zone.columns.EC out.unit", "\"µS/cm\""),
        ("diary.events.logger", "\"sensor-change\""),
        ("diary.events.no pick", "\"missed-pick\""),
    ];
    same_as_by_hand("sedge-flats", 15, ("", ""), &answers);
}

#[test]
fn marl_ridge_answered_reads_as_by_hand() {
    let answers = [
        ("site.time_zone", "\"CET\""),
        ("site.transplanted", "2031-03-17"),
        ("site.ended", "2031-08-01"),
        BASIS,
        ("plan.columns.Row.is", "\"line\""),
        ("plan.levels.medium.mix", "\"blend\""),
        ("harvest.unlisted", "\"zero\""),
        ("harvest.grades.I", "\"marketable\""),
        ("harvest.grades.out", "\"cull\""),
        ("climate.clock", "\"standard\""),
        ("climate.light_is", "\"instant\""),
        ("root_zone.plants", "8"),
        ("diary.events.logger", "\"sensor-change\""),
    ];
    same_as_by_hand("marl-ridge", 15, ("", ""), &answers);
}

#[test]
fn withy_end_answered_reads_as_by_hand() {
    let answers = [
        ("site.time_zone", "\"EST5EDT\""),
        ("site.transplanted", "2031-06-23"),
        ("site.ended", "2031-11-06"),
        ("harvest.unlisted", "\"zero\""),
        ("harvest.same_day", "\"replace\""),
        ("climate.clock", "\"site\""),
        ("climate.light_is", "\"instant\""),
        ("climate.columns.Lux.lamp", "\"sun and sky\""),
        ("root_zone.plants", "8"),
        ("root_zone.columns.Feed ppm.scale", "700"),
        ("root_zone.columns.Drain ppm.scale", "700"),
    ];
    same_as_by_hand("withy-end", 11, ("house-1", "main"), &answers);
}

#[test]
fn a_draft_is_the_same_in_whatever_order_the_files_are_named() {
    let mut files = files("tarn-hollow");
    files.sort();
    let draft = |files: &[PathBuf]| survey(&Request { files, out: None, season: None, logs: None, replace: false }).out;
    let one = draft(&files);
    files.reverse();
    assert_eq!(one, draft(&files));
    assert!(!one.contains(root().to_str().unwrap()), "a path of this machine in the draft");
}
