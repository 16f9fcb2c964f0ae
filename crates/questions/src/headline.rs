//! The sentence that answers a question.
use crate::answers::{Across, Answer, Difference, Levels, Mean, Shown, Space};
use crate::likelihood::counted_words;
use crate::words::Words;

/// One sentence with the number that matters and its interval, or the reason why there is none.
pub fn headline(answer: &Answer, words: &Words<'_>) -> String {
    let told = answer.across.iter().find(|a| !a.differences.is_empty());
    match told {
        Some(across) if across.differences.len() <= 4 => few(across, words) + &without_flagged(answer, across, words),
        Some(across) => many(across, words),
        None => none(answer, words),
    }
}

/// How the first difference reads without flagged rows, where there are any.
fn without_flagged(answer: &Answer, across: &Across, words: &Words<'_>) -> String {
    let same = |d: &Difference, o: &Difference| d.of == o.of && d.minus == o.minus && d.within == o.within;
    let told = across.differences.first();
    let other = told.and_then(|d| answer.without_flagged.iter().flatten().find(|o| same(d, o)));
    let Some(d) = other else { return String::new() };
    let shown = d.published();
    format!(
        " Without the flagged rows the first of these is {} ({}).",
        words.published(shown.estimate, &shown),
        interval((shown.low, shown.high), &shown, words)
    )
}

fn scope(across: &Across, words: &Words<'_>) -> String {
    match across.space {
        Space::TheseSites => format!("At {}", words.sites(&across.sites)),
        Space::SitesLikeThese => format!("At sites like {}", words.sites(&across.sites)),
    }
}

/// The limits that the sentence shows: the adjusted ones where the family has several differences.
pub fn limits(d: &Difference, family: usize) -> (f64, f64) {
    match (d.low_adjusted, d.high_adjusted) {
        (Some(low), Some(high)) if family > 1 => (low, high),
        _ => (d.low, d.high),
    }
}

fn within(levels: &Levels, words: &Words<'_>) -> String {
    if levels.is_empty() { String::new() } else { format!("in {}, ", words.levels(levels)) }
}

fn few(across: &Across, words: &Words<'_>) -> String {
    let clauses: Vec<String> = across.differences.iter().map(|d| clause(d, across, words)).collect();
    format!("{}: {}.", scope(across, words), clauses.join("; "))
}

fn clause(d: &Difference, across: &Across, words: &Words<'_>) -> String {
    let family = across.differences.iter().filter(|o| o.within == d.within).count();
    let (low, high) = limits(d, family);
    let of = format!("{}{}", within(&d.within, words), words.levels(&d.of));
    let than = if d.minus.is_empty() { "the average".to_owned() } else { words.levels(&d.minus) };
    let shown = d.published();
    format!("{of} {} {than} ({})", words.compared(&shown), interval(shown.limits(family), &shown, words)) + &verdict(d, low, high, words)
}

fn interval((low, high): (f64, f64), shown: &Shown, words: &Words<'_>) -> String {
    format!("95 % interval of the {} {} to {}", shown.quantity.words(), words.published(low, shown), words.published(high, shown))
}

fn verdict(d: &Difference, low: f64, high: f64, words: &Words<'_>) -> String {
    let shown = low > 0.0 || high < 0.0;
    let Some((p, margin)) = d.p_equivalent.zip(d.margin) else {
        return if shown { String::new() } else { ", not shown to differ".into() };
    };
    let margin = words.margin(margin);
    if p <= 0.05 {
        format!(", equivalent within the stated margin of {margin}")
    } else if shown {
        format!(", not shown to be equivalent within the margin of {margin}")
    } else {
        format!(", neither shown to differ nor shown to be equivalent within the margin of {margin}")
    }
}

/// Many levels: the best against the next and the last.
fn many(across: &Across, words: &Words<'_>) -> String {
    let mut means: Vec<&Mean> = across.means.iter().collect();
    means.sort_by(|a, b| b.estimate.total_cmp(&a.estimate));
    let (Some(best), Some(next), Some(last)) = (means.first(), means.get(1), means.last()) else { return String::new() };
    let shown = best.published();
    let mut text = format!(
        "{}: of {} means, {} was highest, {} {} (95 % interval {} to {})",
        scope(across, words),
        means.len(),
        words.levels(&both(best)),
        words.value(shown.estimate, shown.se),
        words.value_unit(),
        words.value(shown.low, shown.se),
        words.value(shown.high, shown.se)
    );
    for (other, said) in [(next, "next"), (last, "lowest")] {
        if let Some(sentence) = gap(best, other, said, across, words) {
            text.push_str(&sentence);
        }
    }
    text + "."
}

fn both(m: &Mean) -> Levels {
    m.of.iter().chain(&m.within).map(|(f, l)| (f.clone(), l.clone())).collect()
}

/// The difference of two means, turned so that the better one comes first.
fn gap(best: &Mean, other: &Mean, said: &str, across: &Across, words: &Words<'_>) -> Option<String> {
    let pair = |d: &&Difference| {
        d.within == best.within
            && other.within == best.within
            && ((d.of == best.of && d.minus == other.of) || (d.minus == best.of && d.of == other.of))
    };
    let d = across.differences.iter().find(pair)?;
    let family = across.differences.iter().filter(|o| o.within == d.within).count();
    let (low, high) = limits(d, family);
    let shown = if d.of == best.of { d.published() } else { turned(d.published()) };
    let name = words.levels(&both(other));
    let doubt = if low > 0.0 || high < 0.0 { "" } else { ", not shown to differ" };
    let estimate = words.published(shown.estimate, &shown);
    let by = if shown.quantity.is_ratio() {
        format!("{estimate} times that of {name} ({said})")
    } else {
        format!("above {name} ({said}) by {estimate} {}", words.difference_unit())
    };
    Some(format!("; {by} ({}){doubt}", interval(shown.limits(family), &shown, words)))
}

/// The same comparison from the other side.
fn turned(shown: Shown) -> Shown {
    let other = |x: f64| if shown.quantity.is_ratio() { 1.0 / x } else { -x };
    Shown {
        estimate: other(shown.estimate),
        low: other(shown.high),
        high: other(shown.low),
        low_adjusted: shown.high_adjusted.map(other),
        high_adjusted: shown.low_adjusted.map(other),
        ..shown
    }
}

fn none(answer: &Answer, words: &Words<'_>) -> String {
    let what = words.factors(&answer.compare);
    let reason = answer.across.iter().find_map(|a| a.no_fit.clone()).or_else(|| answer.cannot_tell.last().map(|c| c.why.clone()));
    let sites: Vec<String> = answer.by_site.iter().filter(|s| !s.differences.is_empty()).map(|s| s.name.clone()).collect();
    let alone =
        if sites.is_empty() { String::new() } else { format!(" Each site's own answer stands for {}.", crate::words::listed(&sites)) };
    format!(
        "No answer about {what} across sites can be given: {}.{alone}{}",
        reason.unwrap_or_else(|| "nothing was grown side by side".into()),
        as_counted(answer, words)
    )
}

/// The compared treatments as counted, each with its exact interval.
fn as_counted(answer: &Answer, words: &Words<'_>) -> String {
    let totals = answer.likelihood.iter().flat_map(|l| &l.as_counted).filter(|c| c.site.is_none());
    let said: Vec<String> = totals.map(|c| format!("{}, {}", words.levels(&c.of), counted_words(c, &answer.response))).collect();
    if said.is_empty() { String::new() } else { format!(" As counted, every one taken as independent: {}.", said.join("; ")) }
}
