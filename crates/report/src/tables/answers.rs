//! Means, differences and variance components of each question.
use super::sheet::{Cell, Sheet};
use crate::cells;
use crate::context::Context;
use crate::reader::{Reader, Scale, column_suffix};
use crate::sections::method::effect_shown;
use crosshouse_questions::answers::{Answer, Difference, Levels, Mean, Space};

pub fn sheets(context: &Context) -> Vec<Sheet> {
    let each = |(answer, stem): (&Answer, &str)| {
        [
            means(context, answer, stem),
            differences(context, answer, stem),
            variances(answer, stem),
            tests(context, answer, stem),
            residuals(answer, stem),
        ]
    };
    context.answers().flat_map(each).collect()
}

/// The trial's own unit, and pounds beside it for masses.
struct Units {
    scales: Vec<Scale>,
}

impl Units {
    fn of(unit: &str) -> Self {
        let own = Scale { factor: 1.0, unit: worded(unit), difference_unit: worded(unit) };
        let mut scales = vec![own];
        if Scale::is_mass(unit) {
            scales.push(Scale::of(unit, Reader::Pounds));
        }
        Units { scales }
    }

    fn heads(&self, names: &[&str]) -> Vec<String> {
        let with = |s: &Scale| {
            let suffix = column_suffix(&s.unit);
            names.iter().map(|n| format!("{n}_{suffix}")).collect::<Vec<_>>()
        };
        self.scales.iter().flat_map(with).collect()
    }

    fn cells(&self, values: &[Option<f64>]) -> Vec<String> {
        let with = |s: &Scale| values.iter().map(|v| v.map(|v| s.show(v)).cell()).collect::<Vec<_>>();
        self.scales.iter().flat_map(with).collect()
    }
}

fn worded(unit: &str) -> String {
    if unit == "1" || unit.is_empty() { "share".to_owned() } else { unit.to_owned() }
}

/// Where an estimate holds: the inference space, and the site where it is of one site.
#[derive(Clone, Copy)]
struct Holds<'a> {
    space: &'static str,
    site: Option<&'a str>,
    rows: &'static str,
}

fn space(space: Space) -> &'static str {
    match space {
        Space::TheseSites => "these-sites",
        Space::SitesLikeThese => "sites-like-these",
    }
}

/// Factors that the answer names, in the season file's order.
fn factors<'a>(context: &Context<'a>, answer: &'a Answer) -> Vec<&'a str> {
    in_order(context, answer.compare.iter().chain(&answer.within).map(String::as_str).collect())
}

/// The same with every factor that a cell of a site names.
fn factors_of_means<'a>(context: &Context<'a>, answer: &'a Answer) -> Vec<&'a str> {
    let cells = answer.by_site.iter().flat_map(|s| &s.cells).flat_map(|m| m.of.keys());
    in_order(context, answer.compare.iter().chain(&answer.within).chain(cells).map(String::as_str).collect())
}

fn in_order<'a>(context: &Context<'a>, mut names: Vec<&'a str>) -> Vec<&'a str> {
    let order = context.factors();
    names.sort_by_key(|n| (order.iter().position(|f| f == n).unwrap_or(usize::MAX), *n));
    names.dedup();
    names
}

fn level(of: &Levels, within: &Levels, factor: &str) -> String {
    of.get(factor).or_else(|| within.get(factor)).map(String::as_str).unwrap_or_default().cell()
}

fn means(context: &Context, answer: &Answer, stem: &str) -> Sheet {
    let units = Units::of(&answer.unit);
    let names = factors_of_means(context, answer);
    let mut head = vec!["holds".to_owned(), "site".to_owned()];
    head.extend(names.iter().map(|f| (*f).to_owned()));
    head.extend(units.heads(&["mean", "se", "low", "high", "plain_mean"]));
    head.extend(["df", "letters", "units"].map(str::to_owned));
    let title = format!("Adjusted means: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-means"), &title, head);
    let mut add = |holds: Holds, mean: &Mean| {
        let mut row = cells![holds.space, holds.site];
        row.extend(names.iter().map(|f| level(&mean.of, &mean.within, f)));
        let own = [Some(mean.estimate), Some(mean.se), Some(mean.low), Some(mean.high), mean.raw_mean];
        row.extend(units.cells(&own));
        row.extend(cells![mean.df, mean.letters, mean.units]);
        sheet.row(row);
    };
    for across in &answer.across {
        let holds = Holds { space: space(across.space), site: None, rows: "all" };
        across.means.iter().for_each(|m| add(holds, m));
    }
    for site in &answer.by_site {
        let holds = Holds { space: "one-site", site: Some(&site.site), rows: "all" };
        site.means.iter().for_each(|m| add(holds, m));
        site.cells.iter().for_each(|m| add(Holds { space: "one-site-cell", ..holds }, m));
    }
    sheet
}

const LIMITS: [&str; 6] = ["difference", "se", "low", "high", "low_adjusted", "high_adjusted"];

fn difference_head(answer: &Answer, names: &[&str], units: &Units) -> Vec<String> {
    let mut head = ["holds", "site", "rows"].map(str::to_owned).to_vec();
    for name in names {
        head.push((*name).to_owned());
        if answer.compare.iter().any(|c| c == name) {
            head.push(format!("minus_{name}"));
        }
    }
    head.extend(units.heads(&LIMITS));
    head.extend(["df", "p", "p_adjusted", "adjustment"].map(str::to_owned));
    head.extend(units.heads(&["margin"]));
    head.push("p_equivalent".to_owned());
    head
}

fn difference_row(answer: &Answer, names: &[&str], units: &Units, holds: Holds, d: &Difference, testable: bool) -> Vec<String> {
    let allowed = |p: Option<f64>| p.filter(|_| testable);
    let mut row = cells![holds.space, holds.site, holds.rows];
    for name in names {
        row.push(level(&d.of, &d.within, name));
        if answer.compare.iter().any(|c| c == name) {
            row.push(d.minus.get(*name).cell());
        }
    }
    let own = [Some(d.estimate), Some(d.se), Some(d.low), Some(d.high), d.low_adjusted, d.high_adjusted];
    row.extend(units.cells(&own));
    row.extend(cells![d.df, allowed(d.p), allowed(d.p_adjusted), d.adjust]);
    row.extend(units.cells(&[d.margin]));
    row.push(allowed(d.p_equivalent).cell());
    row
}

fn differences(context: &Context, answer: &Answer, stem: &str) -> Sheet {
    let units = Units::of(&answer.unit);
    let names = factors(context, answer);
    let head = difference_head(answer, &names, &units);
    let title = format!("Differences: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-differences"), &title, head);
    let mut add = |holds: Holds, sites: &[String], all: &[Difference]| {
        let testable = context.testable(answer, sites);
        for d in all {
            sheet.row(difference_row(answer, &names, &units, holds, d, testable));
        }
    };
    for across in &answer.across {
        add(Holds { space: space(across.space), site: None, rows: "all" }, &across.sites, &across.differences);
    }
    for site in &answer.by_site {
        let alone = std::slice::from_ref(&site.site);
        add(Holds { space: "one-site", site: Some(&site.site), rows: "all" }, alone, &site.differences);
    }
    if let (Some(without), Some(first)) = (&answer.without_flagged, answer.across.first()) {
        add(Holds { space: space(first.space), site: None, rows: "without-flagged" }, &first.sites, without);
    }
    sheet
}

fn variances(answer: &Answer, stem: &str) -> Sheet {
    let head = ["holds", "group", "effect", "level", "variance", "standard_deviation", "unit"];
    let title = format!("Variance components: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-variances"), &title, head);
    for across in &answer.across {
        for part in across.fit.iter().flat_map(|f| &f.variance_components) {
            let effect = part.effect.as_ref().map(|e| e.join(" × "));
            let level = part.level.as_ref().map(ToString::to_string);
            let group = part.group.join(" × ");
            let deviation = part.variance.max(0.0).sqrt();
            sheet.row(cells![space(across.space), group, effect, level, part.variance, deviation, worded(&answer.unit)]);
        }
    }
    sheet
}

fn tests(context: &Context, answer: &Answer, stem: &str) -> Sheet {
    let title = format!("Tests of the effects: {}", answer.ask);
    let head = ["holds", "effect", "f", "df_above", "df_below", "p"];
    let mut sheet = Sheet::new(&format!("answers-{stem}-tests"), &title, head);
    for across in &answer.across {
        let all = across.fit.iter().flat_map(|f| &f.effect_tests);
        for t in all.filter(|t| effect_shown(context, answer, across, &t.effect)) {
            sheet.row(cells![space(across.space), t.effect.join(" × "), t.f, t.df_num, t.df_den, t.p]);
        }
    }
    sheet
}

fn residuals(answer: &Answer, stem: &str) -> Sheet {
    let suffix = column_suffix(&worded(&answer.unit));
    let head = ["holds".to_owned(), "site".to_owned(), "unit".to_owned(), format!("fitted_{suffix}"), format!("residual_{suffix}")];
    let title = format!("Fitted values and residuals: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-residuals"), &title, head);
    for across in &answer.across {
        for r in &across.residuals {
            sheet.row(cells![space(across.space), r.site, r.unit, r.fitted, r.residual]);
        }
    }
    sheet
}
