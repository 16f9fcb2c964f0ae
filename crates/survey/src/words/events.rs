//! Diary entries that say themselves what happened. Any other is asked.

/// What the site file may call an entry, in words.
pub(crate) const EVENTS: [(&str, &str); 6] = [
    ("plant-death", "plants died"),
    ("missed-irrigation", "water failed"),
    ("missed-pick", "ripe fruit was left on the plants"),
    ("lost-pick", "fruit was picked and not weighed"),
    ("sensor-change", "a logger or sensor was changed, moved or mended"),
    ("note", "nothing that a number depends on"),
];

const NOTES: [&str; 14] = [
    "note",
    "notes",
    "remark",
    "remarks",
    "comment",
    "comments",
    "info",
    "notiz",
    "bemerkung",
    "nota",
    "observación",
    "remarque",
    "opmerking",
    "other",
];
const PLANTS: [&str; 8] = ["plant", "plants", "pflanze", "pflanzen", "planta", "plantas", "plante", "plantes"];
const DEAD: [&str; 12] = ["dead", "died", "death", "deaths", "lost", "dies", "tot", "abgestorben", "muerta", "muertas", "morte", "mortes"];

/// The event that a written entry names beyond doubt.
pub(crate) fn event(written: &str) -> Option<&'static str> {
    let word = written.trim().to_lowercase();
    if let Some((known, _)) = EVENTS.iter().find(|(e, _)| *e == word) {
        return Some(known);
    }
    if NOTES.contains(&word.as_str()) {
        return Some("note");
    }
    let parts: Vec<&str> = word.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty()).collect();
    let has = |list: &[&str]| parts.iter().any(|p| list.contains(p));
    (has(&PLANTS) && has(&DEAD) && parts.len() <= 3).then_some("plant-death")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dead_plant_is_told_by_both_of_its_words_and_a_logger_is_asked_about() {
        for written in ["plant died", "Dead plant", "plant lost", "Pflanze tot"] {
            assert_eq!(event(written), Some("plant-death"), "{written}");
        }
        assert_eq!(event("remark"), Some("note"));
        assert_eq!((event("logger"), event("no pick"), event("plant moved")), (None, None, None));
    }
}
