//! Means, differences and variance components of each question.
use super::sheet::{Cell, Sheet};
use crate::cells;
use crate::context::Context;
use crate::reader::{Reader, Scale, column_suffix};
use crate::sections::method::effect_shown;
use crosshouse_questions::answers::{Answer, Difference, Levels, Mean, Quantity, Shown, Space};

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
    let counted = context.answers().filter_map(|(answer, stem)| counted(context, answer, stem));
    context.answers().flat_map(each).chain(counted).collect()
}

/// "log", "logit", "sqrt": the scale of the fit, where it is not the response's own.
fn link(answer: &Answer) -> Option<&str> {
    answer.likelihood.as_ref().map(|l| l.scale.as_str()).filter(|s| *s != "identity")
}

fn on_link(names: &[&str], link: &str) -> Vec<String> {
    names.iter().map(|n| format!("{n}_{link}")).collect()
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
    family: &'a str,
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
    let published = match link(answer) {
        Some(link) => {
            head.extend(on_link(&["mean", "se", "low", "high"], link));
            let key = all_means(answer).next().map_or(Quantity::Mean, |m| m.published().quantity).key();
            units.heads(&[key, &format!("{key}_se_delta"), &format!("{key}_low"), &format!("{key}_high"), "plain_mean"])
        }
        None => units.heads(&["mean", "se", "low", "high", "plain_mean"]),
    };
    head.extend(published);
    head.extend(["df", "letters", "units"].map(str::to_owned));
    let title = format!("Adjusted means: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-means"), &title, head);
    let mut add = |holds: Holds, mean: &Mean| {
        let mut row = cells![holds.space, holds.site];
        row.extend(names.iter().map(|f| level(&mean.of, &mean.within, f)));
        if link(answer).is_some() {
            row.extend(cells![mean.estimate, mean.se, mean.low, mean.high]);
        }
        let shown = mean.published();
        let own = [Some(shown.estimate), Some(shown.se), Some(shown.low), Some(shown.high), mean.raw_mean];
        row.extend(units.cells(&own));
        row.extend(cells![mean.df, mean.letters, mean.units]);
        sheet.row(row);
    };
    for across in &answer.across {
        let holds = Holds { space: space(across.space), site: None, rows: "all", family: "" };
        across.means.iter().for_each(|m| add(holds, m));
    }
    for site in &answer.by_site {
        let holds = Holds { space: "one-site", site: Some(&site.site), rows: "all", family: "" };
        site.means.iter().for_each(|m| add(holds, m));
        site.cells.iter().for_each(|m| add(Holds { space: "one-site-cell", ..holds }, m));
    }
    sheet
}

fn all_means(answer: &Answer) -> impl Iterator<Item = &Mean> {
    answer.across.iter().flat_map(|a| &a.means).chain(answer.by_site.iter().flat_map(|s| &s.means))
}

fn all_differences(answer: &Answer) -> impl Iterator<Item = &Difference> {
    answer.across.iter().flat_map(|a| &a.differences).chain(answer.by_site.iter().flat_map(|s| &s.differences))
}

/// The quantities that the differences of an answer are published as.
fn quantities(answer: &Answer) -> Vec<Quantity> {
    let longest = all_differences(answer).max_by_key(|d| d.shown.len());
    longest.map_or_else(Vec::new, |d| d.shown.iter().map(|s| s.quantity).collect())
}

/// Columns of one published quantity; a share's end says so.
fn quantity_heads(quantity: Quantity, units: &Units) -> Vec<String> {
    let key = quantity.key();
    let names = [key.to_owned()].into_iter().chain(["low", "high", "low_adjusted", "high_adjusted"].map(|n| format!("{key}_{n}")));
    let names: Vec<String> = names.collect();
    if quantity.is_ratio() { names } else { units.heads(&names.iter().map(String::as_str).collect::<Vec<_>>()) }
}

fn quantity_cells(shown: Option<&Shown>, quantity: Quantity, units: &Units) -> Vec<String> {
    let of = |get: fn(&Shown) -> Option<f64>| shown.and_then(get);
    let values = [of(|s| Some(s.estimate)), of(|s| Some(s.low)), of(|s| Some(s.high)), of(|s| s.low_adjusted), of(|s| s.high_adjusted)];
    if quantity.is_ratio() { values.iter().map(Cell::cell).collect() } else { units.cells(&values) }
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
    if let Some(link) = link(answer) {
        head.push("family".to_owned());
        head.extend(on_link(&LIMITS, link));
        head.extend(quantities(answer).into_iter().flat_map(|q| quantity_heads(q, units)));
        head.extend(["df", "p", "p_adjusted", "adjustment"].map(str::to_owned));
        return head;
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
    if link(answer).is_some() {
        row.push(holds.family.cell());
        row.extend(own.iter().map(Cell::cell));
        let shown = |q: Quantity| d.shown.iter().find(|s| s.quantity == q);
        row.extend(quantities(answer).into_iter().flat_map(|q| quantity_cells(shown(q), q, units)));
        row.extend(cells![d.df, allowed(d.p), allowed(d.p_adjusted), d.adjust]);
        return row;
    }
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
    let family = answer.likelihood.as_ref().map_or("", |l| l.family.as_str());
    let mut sheet = Sheet::new(&format!("answers-{stem}-differences"), &title, head);
    let mut add = |holds: Holds, sites: &[String], all: &[Difference]| {
        let testable = context.testable(answer, sites);
        for d in all {
            sheet.row(difference_row(answer, &names, &units, holds, d, testable));
        }
    };
    for across in &answer.across {
        add(Holds { space: space(across.space), site: None, rows: "all", family }, &across.sites, &across.differences);
        for b in &across.beside {
            add(Holds { space: space(across.space), site: None, rows: "all", family: &b.family }, &across.sites, &b.differences);
        }
    }
    for site in &answer.by_site {
        let alone = std::slice::from_ref(&site.site);
        add(Holds { space: "one-site", site: Some(&site.site), rows: "all", family }, alone, &site.differences);
    }
    if let (Some(without), Some(first)) = (&answer.without_flagged, answer.across.first()) {
        add(Holds { space: space(first.space), site: None, rows: "without-flagged", family }, &first.sites, without);
    }
    sheet
}

fn variances(answer: &Answer, stem: &str) -> Sheet {
    let head = ["holds", "group", "effect", "level", "variance", "standard_deviation", "unit"];
    let unit = link(answer).map_or_else(|| worded(&answer.unit), |l| format!("{l} scale"));
    let title = format!("Variance components: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-variances"), &title, head);
    for across in &answer.across {
        for part in across.fit.iter().flat_map(|f| &f.variance_components) {
            let effect = part.effect.as_ref().map(|e| e.join(" × "));
            let level = part.level.as_ref().map(ToString::to_string);
            let group = part.group.join(" × ");
            let deviation = part.variance.max(0.0).sqrt();
            sheet.row(cells![space(across.space), group, effect, level, part.variance, deviation, unit]);
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
    let [fitted, residual] = match (answer.likelihood.as_ref().is_some_and(|l| l.family != "normal"), link(answer)) {
        (true, _) => [format!("fitted_{suffix}"), "randomised_quantile_residual".to_owned()],
        (false, Some(link)) => [format!("fitted_{link}"), format!("residual_{link}")],
        (false, None) => [format!("fitted_{suffix}"), format!("residual_{suffix}")],
    };
    let head = ["holds".to_owned(), "site".to_owned(), "unit".to_owned(), fitted, residual];
    let title = format!("Fitted values and residuals: {}", answer.ask);
    let mut sheet = Sheet::new(&format!("answers-{stem}-residuals"), &title, head);
    for across in &answer.across {
        for r in &across.residuals {
            sheet.row(cells![space(across.space), r.site, r.unit, r.fitted, r.residual]);
        }
    }
    sheet
}

/// Numbers as counted, with exact limits of number / out_of.
fn counted(context: &Context, answer: &Answer, stem: &str) -> Option<Sheet> {
    let list = answer.likelihood.as_ref().map(|l| &l.as_counted).filter(|l| !l.is_empty())?;
    let names = in_order(context, list.iter().flat_map(|c| c.of.keys()).map(String::as_str).collect());
    let mut head = vec!["site".to_owned()];
    head.extend(names.iter().map(|f| (*f).to_owned()));
    head.extend(["number", "out_of", "number_per_out_of", "low", "high", "method", "left_out_of_the_fit"].map(str::to_owned));
    let mut sheet = Sheet::new(&format!("answers-{stem}-counted"), &format!("As counted: {}", answer.ask), head);
    for c in list {
        let mut row = cells![c.site];
        row.extend(names.iter().map(|f| c.of.get(*f).cell()));
        row.extend(cells![c.number, c.out_of, c.number / c.out_of, c.low, c.high, c.method, c.left_out]);
        sheet.row(row);
    }
    Some(sheet)
}
