//! Label and unit of a response, by its key.
use crosshouse_trial::tables::TrialTables;

/// Unit of the trial's own tables; free measures have the unit declared for them.
pub fn unit<'a>(trial: &'a TrialTables, key: &str) -> &'a str {
    if let Some(name) = key.strip_prefix("measure:") {
        return trial.measure_units.get(name).map_or("", String::as_str);
    }
    crosshouse_trial::responses().iter().find(|r| r.key == key).map_or("", |r| r.unit)
}

/// "marketable yield"; a key that is no response stands for itself.
pub fn label(key: &str) -> String {
    if let Some(name) = key.strip_prefix("measure:") {
        return name.to_owned();
    }
    let known = crosshouse_trial::responses().iter().find(|r| r.key == key);
    known.map_or_else(|| key.replace('-', " "), |r| r.label.to_owned())
}

/// "marketable yield, kg per m²"; keys that are no response stand for themselves.
pub fn label_with_unit(trial: &TrialTables, key: &str) -> String {
    match unit(trial, key) {
        "" | "1" | "d" => label(key),
        unit => format!("{}, {unit}", label(key)),
    }
}
