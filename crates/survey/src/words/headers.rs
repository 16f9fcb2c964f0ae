//! Header words in English, German, French, Spanish and Dutch, and what they mean in each kind of log.
use crosshouse_logs::declare::LogKind::{self, Climate, Diary, Harvest, Plan, RootZone};

/// A meaning that a header's words suggest: 3 = the header says nothing else, 2 = among other words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Meant {
    pub is: &'static str,
    pub weight: u32,
}

struct Word {
    is: &'static str,
    kinds: &'static [LogKind],
    words: &'static [&'static str],
}

const ALL: &[LogKind] = &[Plan, Harvest, Climate, RootZone, Diary];

#[rustfmt::skip]
static WORDS: &[Word] = &[
    Word { is: "unit", kinds: &[Plan, Harvest, Diary], words: &[
        "unit", "tag", "plot", "bucket", "bucket no", "plant id", "unit id", "id", "no", "nr", "number", "label", "pot no", "bag", "container no",
        "einheit", "parzelle", "gefäß", "topf", "nummer", "parcela", "unidad", "cubo", "maceta", "numero", "número", "parcelle", "unité", "numéro", "vak", "emmer"] },
    Word { is: "house", kinds: ALL, words: &[
        "house", "greenhouse", "glasshouse", "tunnel", "compartment", "haus", "gewächshaus", "invernadero", "nave", "serre", "kas"] },
    Word { is: "block", kinds: &[Plan], words: &["block", "blk", "rep", "replicate", "replication", "wiederholung", "bloque", "repetición", "bloc", "répétition", "blok", "herhaling"] },
    Word { is: "line", kinds: &[Plan], words: &["line", "irrigation line", "drip line", "gutter", "linie", "rinne", "tropfleitung", "línea", "linea", "ligne", "lijn", "goot"] },
    Word { is: "bench", kinds: &[Plan], words: &["bench", "table", "tisch", "mesa", "tablette", "tafel"] },
    Word { is: "row", kinds: &[Plan], words: &["row", "reihe", "fila", "rang", "rij"] },
    Word { is: "position", kinds: &[Plan], words: &["pos", "position", "place", "spot", "platz", "posición", "posicion", "lugar", "place no", "plek", "plaats"] },
    Word { is: "medium", kinds: &[Plan], words: &["medium", "media", "growing medium", "substrate", "soil", "mix", "substrat", "boden", "sustrato", "suelo", "substraat"] },
    Word { is: "container", kinds: &[Plan], words: &["container", "container type", "pot", "pot type", "vessel", "behälter", "gefäßart", "topfart", "contenedor", "recipiente", "conteneur", "bak"] },
    Word { is: "treatment", kinds: &[Plan], words: &["treatment", "trt", "behandlung", "variante", "tratamiento", "traitement", "behandeling"] },
    Word { is: "plants", kinds: &[Plan, Diary, RootZone], words: &["plants", "no plants", "plants set", "n plants", "number of plants", "pflanzen", "plantas", "plantes", "planten"] },
    Word { is: "area", kinds: &[Plan], words: &["area", "sq ft", "sqft", "ft2", "m2", "m²", "fläche", "área", "superficie", "surface", "oppervlakte"] },
    Word { is: "guard", kinds: &[Plan], words: &["guard", "border", "edge", "rand", "randpflanze", "borde", "bordure"] },
    Word { is: "date", kinds: &[Harvest, Climate, RootZone, Diary], words: &[
        "date", "day", "pick date", "picked", "harvest date", "datum", "tag", "erntetag", "erntedatum", "fecha", "día", "dia", "jour", "dag", "from", "von", "desde", "week", "kw", "woche", "semana", "semaine"] },
    Word { is: "until", kinds: &[Diary], words: &["until", "to", "end", "till", "bis", "ende", "hasta", "jusqu", "fin", "tot"] },
    Word { is: "time", kinds: &[Climate, RootZone], words: &["time", "hour", "clock", "zeit", "uhrzeit", "hora", "heure", "tijd"] },
    Word { is: "date-time", kinds: &[Climate, RootZone], words: &["date time", "datetime", "timestamp", "time stamp", "zeitstempel", "datum zeit", "datum uhrzeit", "fecha hora", "fecha y hora", "date heure"] },
    Word { is: "mass", kinds: &[Harvest], words: &[
        "mass", "weight", "wt", "yield", "kg", "g", "lb", "lbs", "oz", "pounds", "ounces", "grams", "gewicht", "masse", "ertrag", "peso", "masa", "rendimiento", "poids", "rendement", "opbrengst",
        "box", "boxes", "tray", "trays", "flat", "flats", "crate", "crates", "kiste", "kisten", "cajas", "caja", "caisse", "caisses"] },
    Word { is: "count", kinds: &[Harvest], words: &[
        "count", "fruit", "fruits", "pieces", "pcs", "number of fruit", "fruit count", "no fruit", "stück", "anzahl", "früchte", "fruchtzahl", "frutos", "frutas", "piezas", "fruits count", "nombre", "aantal", "vruchten", "stuks"] },
    Word { is: "grade", kinds: &[Harvest], words: &["grade", "class", "quality", "category", "klasse", "qualität", "sorte", "sortierung", "güte", "calidad", "clase", "categoría", "categoria", "qualité", "classe", "catégorie", "kwaliteit"] },
    Word { is: "measure", kinds: &[Harvest], words: &["brix", "°brix", "soluble solids", "tss"] },
    Word { is: "temperature", kinds: &[Climate], words: &["temperature", "temp", "t", "air temp", "air temperature", "tair", "temperatur", "lufttemperatur", "temperatura", "température", "temperatuur"] },
    Word { is: "humidity", kinds: &[Climate], words: &["rh", "humidity", "relative humidity", "rel hum", "hum", "feuchte", "luftfeuchte", "luftfeuchtigkeit", "rf", "rlf", "humedad", "hr", "humidité", "rv", "luchtvochtigheid"] },
    Word { is: "light", kinds: &[Climate], words: &["light", "par", "ppfd", "lux", "licht", "helligkeit", "luz", "lumière", "illuminance", "radiation", "fc"] },
    Word { is: "co2", kinds: &[Climate], words: &["co2", "co₂", "carbon dioxide"] },
    Word { is: "moisture", kinds: &[RootZone], words: &["moisture", "vwc", "water content", "wc", "wassergehalt", "humedad sustrato", "teneur en eau", "watergehalte"] },
    Word { is: "zone", kinds: &[RootZone], words: &["zone", "line", "row", "bench", "gutter", "valve", "linie", "reihe", "rinne", "tisch", "línea", "linea", "fila", "ligne", "lijn", "rij"] },
    Word { is: "event", kinds: &[Diary], words: &["event", "what", "entry", "kind", "type", "ereignis", "was", "eintrag", "evento", "qué", "que", "événement", "quoi", "gebeurtenis", "wat"] },
    Word { is: "note", kinds: &[Diary], words: &["note", "notes", "remark", "remarks", "comment", "comments", "details", "bemerkung", "bemerkungen", "notiz", "nota", "notas", "observaciones", "remarque", "opmerking"] },
    Word { is: "ignored", kinds: ALL, words: &["battery", "batterie", "batería", "serial", "record", "notes", "remark", "remarks", "note", "comment", "comments", "bemerkung", "picker", "initials"] },
];

const FEED: [&str; 18] = [
    "feed",
    "in",
    "input",
    "inlet",
    "supply",
    "applied",
    "irrigation",
    "dripper",
    "drip",
    "zulauf",
    "gabe",
    "gieß",
    "aporte",
    "riego",
    "entrada",
    "apport",
    "gift",
    "entrée",
];
const DRAIN: [&str; 16] = [
    "drain",
    "out",
    "drainage",
    "runoff",
    "run off",
    "leachate",
    "leach",
    "outlet",
    "ablauf",
    "drän",
    "drenaje",
    "salida",
    "lixiviado",
    "sortie",
    "drainwater",
    "dran",
];
const EC: [&str; 8] = ["ec", "conductivity", "leitfähigkeit", "lf", "ce", "conductividad", "conductivité", "ppm"];

/// Lower-case words of a header, parted at marks and at the humps of `airTemp`.
pub(crate) fn tokens(header: &str) -> Vec<String> {
    let mut spaced = String::with_capacity(header.len() + 4);
    let mut low = 0;
    for c in header.chars() {
        // Two low letters before the hump: "pH", "mL" and "rH" are one word each.
        if low > 1 && c.is_uppercase() {
            spaced.push(' ');
        }
        spaced.push(if c.is_alphanumeric() || matches!(c, '°' | '%' | 'µ') { c } else { ' ' });
        low = if c.is_lowercase() { low + 1 } else { 0 };
    }
    spaced.to_lowercase().split_whitespace().map(str::to_owned).collect()
}

/// What the header may mean in a log of `kind`, the likeliest first.
pub(crate) fn meanings(header: &str, kind: LogKind) -> Vec<Meant> {
    let words = tokens(header);
    let phrase = format!(" {} ", words.join(" "));
    let mut found: Vec<Meant> = Vec::new();
    if kind == RootZone {
        found.extend(root_zone(&words, &phrase));
    }
    for entry in WORDS.iter().filter(|w| w.kinds.contains(&kind)) {
        let weight = entry.words.iter().map(|w| weight(&phrase, w, words.len())).max().unwrap_or(0);
        if weight > 0 {
            found.push(Meant { is: entry.is, weight });
        }
    }
    found.sort_by_key(|m| std::cmp::Reverse(m.weight));
    found
}

/// 3: the whole header; 2: among other words; 0: not there. A single letter counts alone.
fn weight(phrase: &str, word: &str, words: usize) -> u32 {
    match () {
        () if phrase.trim() == word => 3,
        () if word.chars().count() == 1 && words > 2 => 0,
        () if phrase.contains(&format!(" {word} ")) => 2,
        () => 0,
    }
}

/// Feed or drain, and which of its quantities.
fn root_zone(words: &[String], phrase: &str) -> Option<Meant> {
    let has = |list: &[&str]| list.iter().any(|w| phrase.contains(&format!(" {w} ")));
    let (drain, feed) = (has(&DRAIN), has(&FEED));
    // "Temp in" is no feed.
    let of_air = WORDS.iter().filter(|w| matches!(w.is, "temperature" | "humidity" | "light" | "co2")).flat_map(|w| w.words);
    if drain == feed || of_air.into_iter().any(|w| phrase.contains(&format!(" {w} "))) {
        return None;
    }
    let acid = words.iter().any(|w| w == "ph");
    let salt = has(&EC);
    let is = match (drain, acid, salt) {
        (false, true, _) => "feed-ph",
        (true, true, _) => "drain-ph",
        (false, false, true) => "feed-ec",
        (true, false, true) => "drain-ec",
        (false, false, false) => "feed-volume",
        (true, false, false) => "drain-volume",
    };
    Some(Meant { is, weight: 3 })
}

/// Whether any kind of log knows the header.
pub(crate) fn is_known(header: &str) -> bool {
    ALL.iter().any(|kind| !meanings(header, *kind).is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first(header: &str, kind: LogKind) -> &'static str {
        meanings(header, kind).first().map_or("", |m| m.is)
    }

    #[test]
    fn headers_of_several_languages_are_known() {
        for (header, kind, is) in [
            ("Temp. °C", Climate, "temperature"),
            ("airTemp", Climate, "temperature"),
            ("Temperatur", Climate, "temperature"),
            ("rH", Climate, "humidity"),
            ("Gewicht", Harvest, "mass"),
            ("fecha", Harvest, "date"),
            ("Erntedatum", Harvest, "date"),
            ("Substrat", Plan, "medium"),
            ("Sq ft", Plan, "area"),
            ("PPFD µmol/m²s", Climate, "light"),
        ] {
            assert_eq!(first(header, kind), is, "{header}");
        }
    }

    #[test]
    fn feed_and_drain_have_volume_ec_and_ph() {
        for (header, is) in [
            ("Feed L", "feed-volume"),
            ("In gal", "feed-volume"),
            ("EC out", "drain-ec"),
            ("pH feed", "feed-ph"),
            ("Drain ppm", "drain-ec"),
        ] {
            assert_eq!(first(header, RootZone), is, "{header}");
        }
        assert_eq!(first("Line", RootZone), "zone");
    }

    #[test]
    fn a_word_nobody_knows_means_nothing() {
        assert!(!is_known("Xyzzy"));
    }
}
