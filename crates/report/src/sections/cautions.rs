//! Cautions: the general line, and those that this season calls for. They remind; they do not instruct.
use crate::context::Context;
use crate::words;

pub struct CautionView {
    pub title: &'static str,
    /// Why it stands here.
    pub because: String,
    pub text: &'static str,
    pub sources: &'static str,
}

pub const GENERAL: &str = "These notes remind; they do not instruct. Local law and codes, product labels and safety data \
     sheets, and the advice of licensed or certified practitioners come first.";

pub fn all(context: &Context) -> Vec<CautionView> {
    [dust(context), acids(context), drain(context), heat(context)].into_iter().flatten().collect()
}

/// Media whose dust is a known nuisance.
const DUSTY: [&str; 6] = ["perlite", "peat", "coir", "vermiculite", "bark", "pumice"];

fn dust(context: &Context) -> Option<CautionView> {
    let mut found: Vec<&str> = Vec::new();
    for factor in &context.input.trial.design.factors {
        let texts = factor.levels.iter().chain(factor.level_labels.values()).map(|t| t.to_lowercase());
        let texts: Vec<String> = texts.collect();
        for medium in DUSTY {
            if texts.iter().any(|t| names(t, medium)) && !found.contains(&medium) {
                found.push(medium);
            }
        }
    }
    (!found.is_empty()).then(|| CautionView {
        title: "Dust from growing media",
        because: format!("The trial grew in media that name {}.", words::list(&found)),
        text: "Dry media raise dust when bags are opened, when containers are filled, and again when a crop is cleared. Wet \
               the medium before pouring or emptying it, keep air moving, wear eye protection and a fitted respirator for \
               particles, and wash before eating. Dry peat burns: keep it from flames and sparks. In the United States the \
               limits for nuisance dusts such as perlite with less than 1 % quartz are 15 mg/m³ total and 5 mg/m³ respirable over \
               eight hours; where there is crystalline silica its own, far lower limit holds.",
        sources: "29 CFR 1910.1000, table Z-1; 29 CFR 1910.1053; NIOSH on the 1989 air-contaminants comments for perlite; Bartok, \
                  “Dealing with dust”; handling: common practice.",
    })
}

/// Whether a text names the medium as a word of its own: a variety called Peatland is no peat.
fn names(text: &str, medium: &str) -> bool {
    text.split(|c: char| !c.is_alphanumeric()).any(|word| word == medium)
}

fn practice(context: &Context, words: &[&str]) -> Vec<String> {
    let has = |p: &String| words.iter().any(|w| p.to_lowercase().contains(w));
    let sites = context.declared().filter(|s| s.practices.iter().any(has));
    sites.map(|s| s.name.clone()).collect()
}

fn acids(context: &Context) -> Option<CautionView> {
    let sites = practice(context, &["acid", "stock", "base", "ph-correction"]);
    (!sites.is_empty()).then(|| CautionView {
        title: "Acids, bases and stock tanks",
        because: format!("Declared at {}.", words::list(&sites)),
        text: "Acid goes into water, slowly; water never goes into acid. Wear goggles, face shield, and gloves and apron that \
               resist the acid in use, with an eyewash within reach. Keep concentrated calcium apart from concentrated sulphate or \
               phosphate, acid apart from anything with chlorine, and nitrate fertilisers apart from fuel, peat and sawdust. \
               Where the supply is potable or shared, injection calls for backflow prevention.",
        sources: "29 CFR 1910.151(c) on eyewash; local plumbing code on backflow; the rest: common practice and the safety data \
                  sheets.",
    })
}

fn drain(context: &Context) -> Option<CautionView> {
    let sites = practice(context, &["drain-discharged", "discharge", "leach"]);
    (!sites.is_empty()).then(|| CautionView {
        title: "Drain water and groundwater",
        because: format!("Drain is discharged at {}.", words::list(&sites)),
        text: "Feed commonly holds 100 to 220 mg/L of nitrogen, and the United States limit for drinking water is 10 mg/L of \
               nitrate counted as nitrogen (44 mg/L counted as nitrate), so even a little drain is too strong for a well. Collect, \
               reuse or treat it where you can; to discharge it to ditch, sewer or soil may need a permit. Reused drain carries \
               sodium and disease: note how it is treated.",
        sources: "40 CFR 141.62 (nitrate limit); feed strength: common practice.",
    })
}

/// Air temperature from which heat is spoken of, °C.
const HOT: f64 = 27.0;

fn heat(context: &Context) -> Option<CautionView> {
    let mut hottest: Option<(&str, f64, usize)> = None;
    let mut sites: Vec<&str> = Vec::new();
    for site in context.sites() {
        let hot: Vec<f64> = site.houses.iter().filter_map(|d| d.maximum).filter(|t| *t >= HOT).collect();
        let Some(peak) = hot.iter().copied().reduce(f64::max) else { continue };
        sites.push(&site.name);
        if hottest.is_none_or(|(_, t, _)| peak > t) {
            hottest = Some((&site.name, peak, hot.len()));
        }
    }
    let (name, peak, days) = hottest?;
    Some(CautionView {
        title: "Heat in the houses",
        because: format!(
            "The air reached 27 °C or more at {}; most at {name}, {} °C, with {} at or above 27 °C.",
            words::list(&sites),
            crate::number::fixed(peak, 1),
            words::number_of(days as u64, "house day", "house days")
        ),
        text: "Let new and returning workers start gradually over one to two weeks. Water, shade, rest, and two people. Heat stroke \
               is an emergency: cool first, and call for help. Air temperature and humidity at the canopy are not a heat-stress \
               index: they know nothing of radiation and wind, so none is computed here. Where it matters, measure the wet-bulb \
               globe temperature.",
        sources: "NIOSH 2016-106, criteria for occupational exposure to heat; OSHA Technical Manual, section III, chapter 4.",
    })
}

/// Cautions on what may be claimed, over all questions, each once.
pub fn claims(context: &Context) -> Vec<String> {
    let mut texts: Vec<String> = Vec::new();
    for caution in context.input.answers.questions.iter().flat_map(|a| &a.cautions) {
        if !texts.contains(&caution.text) {
            texts.push(caution.text.clone());
        }
    }
    texts
}

/// Those of one answer that do not hold for every answer alike; with a single question, all of them.
pub fn beside(context: &Context, answer: &crosshouse_questions::answers::Answer) -> Vec<String> {
    let questions = &context.input.answers.questions;
    let shared = |text: &str| questions.len() > 1 && questions.iter().all(|a| a.cautions.iter().any(|c| c.text == text));
    answer.cautions.iter().filter(|c| !shared(&c.text)).map(|c| c.text.clone()).collect()
}
