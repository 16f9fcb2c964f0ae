//! The `[[question]]` tables of a season file.
use crate::likelihood::{families, kind};
use crate::records::OWN_COLUMNS;
use crosshouse_mixed::{Family, ResponseScale};
use crosshouse_readings::Fault;
use crosshouse_readings::declared::{Declared, Table, nearest};
use serde::{Deserialize, Serialize};

/// The inference spaces that a question asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SiteSpace {
    These,
    LikeThese,
    Both,
}

/// One question, as the season file states it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// Names its files: letters, digits, `-`.
    pub id: String,
    pub ask: String,
    /// Key of a response.
    pub response: String,
    pub compare: Vec<String>,
    pub within: Vec<String>,
    /// all · against LEVEL · against average
    pub pairs: String,
    pub adjust: String,
    /// In the response's unit.
    pub margin: Option<f64>,
    pub sites: SiteSpace,
    pub by_site: bool,
    pub letters: bool,
    /// A residual variance for each site.
    pub variance_by_site: bool,
    /// In place of the family that the response's kind calls for.
    pub family: Option<Family>,
    /// The scale of a normal response: identity · log · sqrt.
    pub response_scale: Option<ResponseScale>,
    pub model: Option<OwnModel>,
}

/// The statistician's own effects and groups, in place of the derived ones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OwnModel {
    pub effects: Vec<Vec<String>>,
    pub groups: Vec<Vec<String>>,
    /// Why the derived model was set aside: printed in the report.
    pub reason: String,
}

const ADJUSTMENTS: [&str; 7] = ["tukey", "holm", "bonferroni", "sidak", "dunnett", "joint", "none"];

/// Words of `family`, in the order of the model file.
const FAMILIES: [Family; 5] = [Family::Normal, Family::Poisson, Family::NegativeBinomial, Family::Binomial, Family::BetaBinomial];
const SCALES: [(&str, ResponseScale); 3] =
    [("identity", ResponseScale::Identity), ("log", ResponseScale::Log), ("sqrt", ResponseScale::Sqrt)];

/// The questions of a season file; `factors` and `responses` are the names that they may use.
///
/// # Errors
/// All faults of all questions, each with its line.
pub fn questions(file: &str, text: &str, factors: &[String], responses: &[&str]) -> Result<Vec<Question>, Vec<Fault>> {
    let declared = Declared::new(file, text);
    let mut list: Vec<Question> = Vec::new();
    {
        let root = declared.root();
        if let Some(table) = root.table("factors") {
            names_taken(&table);
        }
        for table in root.tables("question") {
            let question = question(&table, factors, responses);
            table.finish();
            if let Some(q) = question {
                if list.iter().any(|other| other.id == q.id) {
                    table.fault("id", "question-twice", "two questions have this id", &q.id, "an id of its own", "rename one of them");
                }
                list.push(q);
            }
        }
    }
    // Syntax faults of the file are told once, by the reader of its first section.
    let mut faults = declared.into_faults();
    faults.retain(|f| f.code != "toml-syntax");
    if faults.is_empty() { Ok(list) } else { Err(faults) }
}

/// A factor may not be called as a column that the trial itself brings.
fn names_taken(factors: &Table<'_, '_>) {
    for (name, _) in factors.keys().iter().filter(|(n, _)| OWN_COLUMNS.contains(&n.as_str())) {
        factors.fault(
            name,
            "factor-name-taken",
            "a factor called as a part of the trial",
            name,
            &format!("any name but {}", OWN_COLUMNS.join(", ")),
            "give the factor another name, here and in the plans",
        );
    }
}

fn question(table: &Table<'_, '_>, factors: &[String], responses: &[&str]) -> Option<Question> {
    let id = table.required_text("id");
    let ask = table.required_text("ask");
    let response = table.required_text("response");
    let compare = table.texts("compare").unwrap_or_default();
    let within = table.texts("within").unwrap_or_default();
    let pairs = table.text("pairs").unwrap_or_else(|| "all".into());
    let margin = table.number("margin");
    let question = Question {
        adjust: table.one_of("adjust", &ADJUSTMENTS).unwrap_or(default_adjust(&pairs)).to_owned(),
        sites: site_space(table.one_of("sites", &["these", "like-these", "both"])),
        by_site: table.flag("by_site").unwrap_or(true),
        letters: table.flag("letters").unwrap_or(false),
        variance_by_site: table.flag("variance_by_site").unwrap_or(false),
        family: family(table),
        response_scale: response_scale(table),
        model: table.table("model").map(|t| own_model(&t)),
        id: id?,
        ask: ask?,
        response: response?,
        compare,
        within,
        pairs,
        margin,
    };
    check(table, &question, factors, responses);
    Some(question)
}

/// All pairs of means: Tukey–Kramer. Comparisons with a control: the joint distribution of these.
fn default_adjust(pairs: &str) -> &'static str {
    if pairs == "all" { "tukey" } else { "joint" }
}

fn site_space(word: Option<&str>) -> SiteSpace {
    match word {
        Some("these") => SiteSpace::These,
        Some("like-these") => SiteSpace::LikeThese,
        _ => SiteSpace::Both,
    }
}

fn family(table: &Table<'_, '_>) -> Option<Family> {
    let word = table.one_of("family", &FAMILIES.map(Family::name))?;
    FAMILIES.into_iter().find(|f| f.name() == word)
}

fn response_scale(table: &Table<'_, '_>) -> Option<ResponseScale> {
    let word = table.one_of("response_scale", &SCALES.map(|(name, _)| name))?;
    SCALES.into_iter().find(|(name, _)| *name == word).map(|(_, scale)| scale)
}

fn own_model(table: &Table<'_, '_>) -> OwnModel {
    let model = OwnModel {
        effects: table.text_lists("effects").unwrap_or_default(),
        groups: table.text_lists("groups").unwrap_or_default(),
        reason: table.text("reason").unwrap_or_default(),
    };
    table.finish();
    model
}

fn check(table: &Table<'_, '_>, q: &Question, factors: &[String], responses: &[&str]) {
    let file_safe = !q.id.is_empty() && q.id.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
    if !file_safe {
        table.fault("id", "question-id", "not a name for files", &q.id, "letters, digits and -", "rename the question");
    }
    if q.compare.is_empty() {
        table.fault(
            "compare",
            "question-compares-nothing",
            "nothing to compare",
            "nothing",
            &factors.join(" · "),
            "name at least one factor of the season file",
        );
    }
    for (key, names) in [("compare", &q.compare), ("within", &q.within)] {
        for name in names.iter().filter(|n| !factors.contains(n)) {
            let mend = nearest(name, factors.iter().map(String::as_str))
                .map_or("declare it as [factors.…]".into(), |n| format!("did you mean \"{n}\"?"));
            table.fault(key, "question-unknown-factor", "not a factor of this season", name, &factors.join(" · "), &mend);
        }
    }
    if let Some(name) = q.within.iter().find(|n| q.compare.contains(n)) {
        table.fault(
            "within",
            "question-compared-within-itself",
            "a factor both compared and held",
            name,
            "other factors than those compared",
            "take it out of one list",
        );
    }
    if !q.response.starts_with("measure:") && !responses.contains(&q.response.as_str()) {
        let mend = nearest(&q.response, responses.iter().copied())
            .map_or("use one of the keys listed".into(), |n| format!("did you mean \"{n}\"?"));
        table.fault(
            "response",
            "question-unknown-response",
            "not a response of the trial tables",
            &q.response,
            &format!("{} · measure:NAME", responses.join(" · ")),
            &mend,
        );
    }
    let pairs_known = q.pairs == "all" || q.pairs.starts_with("against ");
    if !pairs_known {
        table.fault("pairs", "question-pairs", "not a set of pairs", &q.pairs, "all · against LEVEL · against average", "correct the word");
    }
    if q.pairs.starts_with("against ") && q.pairs != "against average" && q.compare.len() != 1 {
        table.fault(
            "pairs",
            "question-control",
            "a control of several factors together",
            &q.pairs,
            "one factor under compare",
            "ask one question a factor",
        );
    }
    check_likelihood(table, q);
    if q.margin.is_some_and(|m| m <= 0.0) {
        table.fault(
            "margin",
            "question-margin",
            "a margin of nothing",
            &q.margin.unwrap_or(0.0).to_string(),
            "a number above 0, in the response's unit",
            "state the smallest difference worth acting on",
        );
    }
}

/// Keys that the response's kind or its scale does not go with.
fn check_likelihood(table: &Table<'_, '_>, q: &Question) {
    let fits = families(kind(&q.response));
    let names: Vec<&str> = fits.iter().map(|f| f.name()).collect();
    if let Some(family) = q.family.filter(|f| !fits.contains(f)) {
        let mend = if q.response == "cull-share" {
            "ask for cull-share-by-number: a share of mass is out of no number of trials"
        } else {
            "take the key out, or ask for a response that is counted"
        };
        table.fault("family", "question-family", "a family that this response cannot have", family.name(), &names.join(" · "), mend);
    }
    let family = q.family.or(fits.first().copied()).unwrap_or_default();
    let transformed = q.response_scale.is_some_and(|s| s != ResponseScale::Identity);
    if transformed && family != Family::Normal {
        table.fault(
            "response_scale",
            "question-scale",
            "a transformed scale for a response that is counted",
            family.name(),
            "a normal family, or no response_scale",
            "take the key out: the family has a scale of its own",
        );
    }
    if q.variance_by_site && family != Family::Normal {
        table.fault(
            "variance_by_site",
            "question-variance-by-site",
            "a residual variance for a response that is counted",
            family.name(),
            "variance_by_site with a normal family",
            "take the key out; each site's own answer has its own spread",
        );
    }
    if q.margin.is_some() && (transformed || family != Family::Normal) {
        table.fault(
            "margin",
            "question-margin-scale",
            "a margin for an answer that is a ratio or an odds ratio",
            &q.margin.unwrap_or(0.0).to_string(),
            "a margin with a response on its own scale",
            "take the margin out and read the interval, or ask with family = \"normal\"",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<Question>, Vec<Fault>> {
        questions("season.toml", text, &["medium".into(), "container".into()], &["total-yield-per-plant"])
    }

    #[test]
    fn a_question_with_three_faults_tells_all_three() {
        let faults =
            read("[[question]]\nid = \"a b\"\nask = \"Which?\"\nresponse = \"total-yield-per-plot\"\ncompare = [\"medum\"]\n").unwrap_err();
        let codes: Vec<_> = faults.iter().map(|f| f.code.as_str()).collect();
        assert_eq!(codes, ["question-id", "question-unknown-response", "question-unknown-factor"]);
        assert_eq!(faults[2].mend, "did you mean \"medium\"?");
    }

    #[test]
    fn keys_that_a_response_cannot_have_are_told_with_those_it_can() {
        let responses = ["fruit-count-per-plant", "cull-share", "total-yield-per-plant"];
        let ask = |response: &str, keys: &str| {
            let text = format!("[[question]]\nid = \"a\"\nask = \"Which?\"\nresponse = \"{response}\"\ncompare = [\"medium\"]\n{keys}\n");
            questions("season.toml", &text, &["medium".into()], &responses)
        };
        let codes = |found: Result<Vec<Question>, Vec<Fault>>| found.unwrap_err().into_iter().map(|f| f.code).collect::<Vec<_>>();
        let list = ask("fruit-count-per-plant", "family = \"poisson\"").unwrap();
        assert_eq!(list[0].family, Some(Family::Poisson));
        assert_eq!(codes(ask("cull-share", "family = \"beta-binomial\"")), ["question-family", "question-scale"][..1]);
        assert_eq!(
            codes(ask("fruit-count-per-plant", "response_scale = \"log\"\nmargin = 2")),
            ["question-scale", "question-margin-scale"]
        );
        assert_eq!(codes(ask("fruit-count-per-plant", "variance_by_site = true")), ["question-variance-by-site"]);
        assert_eq!(ask("total-yield-per-plant", "response_scale = \"log\"").unwrap()[0].response_scale, Some(ResponseScale::Log));
        assert_eq!(codes(ask("total-yield-per-plant", "family = \"gaussian\"")).len(), 1);
    }

    #[test]
    fn comparisons_with_a_control_are_adjusted_jointly_unless_told_otherwise() {
        let list = read(
            "[[question]]\nid = \"a\"\nask = \"Which?\"\nresponse = \"measure:brix\"\ncompare = [\"medium\"]\npairs = \"against perlite\"\n",
        )
        .unwrap();
        assert_eq!(list[0].adjust, "joint");
        assert_eq!(list[0].sites, SiteSpace::Both);
    }
}
