//! What one trial can and cannot claim, printed where its condition holds.
//! Ideas: Hurlbert 1984; Dixon, Moore & van Santen 2018; Wasserstein & Lazar 2016 (The American Statistician 70:129–133, from memory).
use crate::answers::{Across, Answer, Caution, Space};
use crate::ask::Case;
use crate::headline::limits;
use crosshouse_trial::tables::{PickState, TrialTables};
use std::collections::BTreeMap;

pub fn cautions(answer: &Answer, case: &Case<'_>, trial: &TrialTables) -> Vec<Caution> {
    let checks = [
        one_season(trial),
        sites_chosen(answer),
        few_sites(answer),
        unreplicated(case),
        bundle(answer),
        not_shown_is_not_same(answer),
        significance_is_not_size(answer),
        many_looks(answer),
        unequal_loss(trial),
        lost_picks(trial),
        unequal_noise(answer, case),
        zeros(answer),
        left_out(answer, case),
    ];
    checks.into_iter().flatten().collect()
}

fn caution(code: &str, text: impl Into<String>) -> Option<Caution> {
    Some(Caution { code: code.into(), text: text.into() })
}

fn first(answer: &Answer) -> Option<&Across> {
    answer.across.iter().find(|a| a.fit.is_some())
}

fn one_season(trial: &TrialTables) -> Option<Caution> {
    let transplanted: std::collections::BTreeSet<i16> = trial.sites.iter().filter_map(|s| s.first_pick).map(|d| d.year()).collect();
    if transplanted.len() > 1 {
        return None;
    }
    caution("one-season", "One season was grown: its weather, cover and pests are one draw. Say \"in this season\".")
}

fn sites_chosen(answer: &Answer) -> Option<Caution> {
    answer.across.iter().find(|a| a.space == Space::TheseSites && a.sites.len() > 1)?;
    caution(
        "sites-chosen",
        "The answer \"at these sites\" is for these sites only; other houses may differ by more than the interval says.",
    )
}

fn few_sites(answer: &Answer) -> Option<Caution> {
    let across = answer.across.iter().find(|a| a.space == Space::SitesLikeThese && a.fit.is_some() && a.sites.len() < 5)?;
    caution(
        "few-sites",
        format!(
            "How much effects change from site to site is judged from {} sites: the interval for \"sites like these\" is honestly wide.",
            across.sites.len()
        ),
    )
}

fn unreplicated(case: &Case<'_>) -> Option<Caution> {
    let first = case.unreplicated.first()?;
    caution(
        "line-not-replicated",
        format!(
            "At {} the compared treatment was given to one carrier each: its units are subsamples, and no test is made there.",
            case.words.site(first)
        ),
    )
}

fn bundle(answer: &Answer) -> Option<Caution> {
    if first(answer).is_some() || answer.cannot_tell.is_empty() {
        return None;
    }
    caution(
        "confounded",
        "What was grown differs in more than one thing at a time: an observed difference belongs to the whole system (site, medium, container), and not to one part of it.",
    )
}

fn shown(a: &Across) -> (usize, usize) {
    let clear = |d: &&crate::answers::Difference| {
        let (low, high) = limits(d, a.differences.len());
        low > 0.0 || high < 0.0
    };
    (a.differences.iter().filter(clear).count(), a.differences.len())
}

fn not_shown_is_not_same(answer: &Answer) -> Option<Caution> {
    let (clear, all) = shown(first(answer)?);
    if clear == all {
        return None;
    }
    caution(
        "not-shown-is-not-same",
        "Treatments not shown to differ are not thereby the same: read the interval. Sameness needs a margin stated beforehand.",
    )
}

fn significance_is_not_size(answer: &Answer) -> Option<Caution> {
    let (clear, _) = shown(first(answer)?);
    (clear > 0).then_some(())?;
    caution("significance-is-not-size", "A difference shown is not thereby a large one: weigh its size and interval against what it costs.")
}

fn many_looks(answer: &Answer) -> Option<Caution> {
    let looks = first(answer)?.differences.len();
    (looks > 10).then_some(())?;
    caution("many-looks", format!("{looks} differences are looked at together: use the adjusted intervals."))
}

fn unequal_loss(trial: &TrialTables) -> Option<Caution> {
    let mut lost: BTreeMap<&BTreeMap<String, String>, u32> = BTreeMap::new();
    for u in trial.sites.iter().flat_map(|s| &s.units) {
        *lost.entry(&u.levels).or_default() += u.plants_set.saturating_sub(u.plants_alive_at_end) + u.picks_missed.min(1);
    }
    let counts: std::collections::BTreeSet<u32> = lost.values().copied().collect();
    (counts.len() > 1).then_some(())?;
    caution(
        "unequal-loss",
        "Plant deaths or missed picks are not equal over the treatments: see the counts by treatment, and the yields per plant-day beside those per plant set.",
    )
}

/// Units of which some fruit was picked and is not on record: their sums lack it.
fn lost_picks(trial: &TrialTables) -> Option<Caution> {
    let mut units: Vec<String> = Vec::new();
    for site in &trial.sites {
        for day in site.states.iter().filter(|d| d.state == PickState::Lost) {
            let name = format!("{} at {}", day.unit, site.name);
            if !units.contains(&name) {
                units.push(name);
            }
        }
    }
    let first = units.first()?;
    let more = if units.len() > 1 { format!(" and {} more", units.len() - 1) } else { String::new() };
    caution(
        "lost-picks",
        format!(
            "Fruit was picked and is not on record for {first}{more}: the sums of these units lack it. The completeness calendars show the days."
        ),
    )
}

/// Ratio of the largest to the smallest site's residual spread, seen in the residuals (a warning above 4: common practice, no source).
fn unequal_noise(answer: &Answer, case: &Case<'_>) -> Option<Caution> {
    let across = first(answer).filter(|_| !case.law.counts())?;
    let mut squares: BTreeMap<&str, (f64, u32)> = BTreeMap::new();
    for r in &across.residuals {
        let entry = squares.entry(r.site.as_str()).or_default();
        entry.0 += r.residual * r.residual;
        entry.1 += 1;
    }
    let means: Vec<f64> = squares.values().filter(|(_, n)| *n > 3).map(|(s, n)| s / f64::from(*n)).collect();
    let (low, high) = (means.iter().copied().fold(f64::INFINITY, f64::min), means.iter().copied().fold(0.0, f64::max));
    (means.len() > 1 && low > 0.0 && high / low > 4.0).then_some(())?;
    caution(
        "unequal-noise",
        format!(
            "The sites' residual variances differ {:.1}-fold: see each site's own answer, or ask the question with variance_by_site = true.",
            high / low
        ),
    )
}

/// More units without a single one than the family leads to.
fn zeros(answer: &Answer) -> Option<Caution> {
    let notices = answer.across.iter().filter_map(|a| a.fit.as_ref()).flat_map(|f| &f.notices);
    let told = notices.clone().find(|n| n.code == "zero-inflation")?;
    caution("zero-inflation", format!("Zeros: {}. Look at these units: a unit that never bore may have a cause of its own.", told.text))
}

/// Cells of which nothing or everything was counted.
fn left_out(answer: &Answer, case: &Case<'_>) -> Option<Caution> {
    let cells = answer.likelihood.iter().flat_map(|l| &l.as_counted).filter(|c| c.left_out);
    let said = |c: &crate::answers::AsCounted| {
        let site = c.site.as_deref().map(|s| case.words.site(s)).unwrap_or_default();
        format!("{site}, {}: {}", case.words.levels(&c.of), crate::likelihood::counted_words(c, &answer.response))
    };
    let list: Vec<String> = cells.map(said).collect();
    (!list.is_empty()).then_some(())?;
    caution(
        "nothing-or-everything-counted",
        format!(
            "Where nothing or everything was counted no model on the {} scale has a finite estimate. These were left out of the fits at these sites, and stand here as counted, with exact intervals that take every one as independent: {}.",
            case.law.link().word(),
            list.join("; ")
        ),
    )
}
