//! One model a question and inference space, in words.
use super::variances;
use crate::context::Context;
use crate::estimation::Estimation;
use crate::number;
use crate::page::PageTable;
use crate::sections::answers::space_name;
use crate::words;
use crosshouse_questions::answers::{Across, Answer};

pub struct ModelView {
    pub ask: String,
    pub space: &'static str,
    pub in_words: String,
    pub why: Vec<String>,
    pub no_fit: String,
    /// Criterion, freedom and rows.
    pub how: Vec<String>,
    pub variances: Option<PageTable>,
    /// "The variance between blocks is estimated as zero …"
    pub at_zero: Vec<String>,
    pub tests: Option<PageTable>,
    pub notices: Vec<String>,
    pub model_file: String,
}

pub fn all(context: &Context) -> Vec<ModelView> {
    let each = |(answer, stem)| move |across| view(context, answer, stem, across);
    context.answers().flat_map(|(a, stem)| a.across.iter().map(each((a, stem)))).collect()
}

fn view(context: &Context, answer: &Answer, stem: &str, across: &Across) -> ModelView {
    let estimation = Estimation::read(&across.model_toml);
    // Reasons that the model in words already holds are not said twice.
    let said = across.model_in_words.to_lowercase();
    let why = across.why.iter().filter(|w| !said.contains(&w.to_lowercase())).map(|w| words::capital(w)).collect();
    let notices = across.fit.iter().flat_map(|f| &f.notices);
    ModelView {
        ask: answer.ask.clone(),
        space: space_name(across.space),
        in_words: across.model_in_words.clone(),
        why,
        no_fit: across.no_fit.clone().unwrap_or_default(),
        how: how(across, &estimation),
        variances: variances::table(context, answer, stem, across),
        at_zero: variances::at_zero(context, across),
        tests: tests(context, answer, stem, across),
        notices: notices.filter(|n| n.code != "variance-at-zero").map(|n| n.text.clone()).collect(),
        model_file: across.model_toml.clone(),
    }
}

fn how(across: &Across, estimation: &Estimation) -> Vec<String> {
    let Some(fit) = &across.fit else { return Vec::new() };
    let mut lines = vec![criterion(estimation), freedom(estimation, across)];
    let used = words::number_of(fit.rows_used as u64, "unit", "units");
    lines.push(match fit.rows_left_out {
        0 => format!("{} entered the fit; none was left out.", words::capital(&used)),
        n => format!("{} entered the fit; {n} left out for want of a value that the model uses.", words::capital(&used)),
    });
    lines
}

fn criterion(estimation: &Estimation) -> String {
    match (estimation.family.as_str(), estimation.criterion.as_str()) {
        ("normal", "reml") => "Variances by restricted maximum likelihood (Patterson & Thompson 1971).".to_owned(),
        ("normal", _) => "Variances by maximum likelihood.".to_owned(),
        (family, _) => {
            let name = if family == "poisson" { "Poisson".to_owned() } else { family.replace("negative-", "negative ") };
            format!("Family: {name}; maximum likelihood with Laplace’s approximation.")
        }
    }
}

/// Whether the model has random effects; without any, least squares has its own freedom.
fn has_groups(across: &Across) -> bool {
    across.fit.iter().flat_map(|f| &f.variance_components).any(|v| v.effect.is_some())
}

fn freedom(estimation: &Estimation, across: &Across) -> String {
    let residual = across.fit.iter().flat_map(|f| &f.notices).any(|n| n.code == "residual-freedom");
    if estimation.family != "normal" {
        return "The fit kept for the audit has large-sample intervals; those published are Student’s t, as told above.".to_owned();
    }
    if estimation.family == "normal" && (residual || !has_groups(across)) {
        return "Degrees of freedom of the residual (ordinary least squares).".to_owned();
    }
    match estimation.freedom.as_str() {
        "kenward-roger" => "Degrees of freedom and standard errors by the method of Kenward & Roger (1997), row by row.".to_owned(),
        "satterthwaite" => "Degrees of freedom by Satterthwaite’s method (1946), row by row; several contrasts together \
             after Fai & Cornelius (1996)."
            .to_owned(),
        _ => "Large-sample intervals and tests: quantiles of the normal distribution.".to_owned(),
    }
}

/// Tests of the effects; those of a comparison that the design lets no one test are left out.
fn tests(context: &Context, answer: &Answer, stem: &str, across: &Across) -> Option<PageTable> {
    let fit = across.fit.as_ref()?;
    let space = crate::context::slug(space_name(across.space));
    let mut table = PageTable::new(format!("tests-{stem}-{space}"), "Tests of the effects, each given all others")
        .csv(format!("answers-{stem}-tests.csv"))
        .words("Effect")
        .number("F")
        .number("df above")
        .number("df below")
        .number("p");
    for t in fit.effect_tests.iter().filter(|t| shown(context, answer, across, &t.effect)) {
        let names: Vec<&str> = t.effect.iter().map(|f| context.words.factor(f)).collect();
        table.row(vec![
            words::capital(&names.join(" × ")),
            number::significant(t.f, 3),
            number::count(t.df_num as u64),
            number::degrees(t.df_den),
            number::p_value(t.p),
        ]);
    }
    if Estimation::read(&across.model_toml).family != "normal" {
        table.note(
            "These tests are of the fit as it stands, for large samples: they find differences too easily. Differences are judged on \
             the freedom of the design, as told above.",
        );
    }
    table.if_any()
}

/// Whether the test of an effect may be shown: not where one of its factors has no replicate of its carrier.
pub fn shown(context: &Context, answer: &Answer, across: &Across, effect: &[String]) -> bool {
    context.testable(answer, &across.sites) || !effect.iter().any(|f| answer.compare.contains(f))
}
