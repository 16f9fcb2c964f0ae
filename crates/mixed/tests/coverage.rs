//! How often the intervals hold the truth, over simulated seasons of six designs and three ways to degrees of freedom.
//!
//! A minute or two of work, so ignored by default; the figures stand in DEVELOPERS.md:
//! `cargo test -p crosshouse-mixed --test coverage -- --ignored --nocapture`
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::collections::BTreeMap;

use crosshouse_mixed::{Columns, Difference, Fit, Levels, Model, Prepared, Truth, VarianceComponent, refit, simulate};

const SEASONS: usize = 2000;
const MEDIA: [&str; 3] = ["bark", "blend", "perlite"];
const CONTAINERS: [&str; 2] = ["bucket", "pot"];

/// One design: which units there are, what varies, and the true variances.
struct Design {
    name: &'static str,
    blocks: &'static [usize],
    weeks: usize,
    /// Every unit whose number times 7, modulo 10, falls below this is lost.
    lost: usize,
    effects: &'static str,
    groups: &'static str,
    residual: &'static str,
    variances: fn(&VarianceComponent) -> f64,
    serial: f64,
}

const FACTORIAL: &str = r#"[["site"], ["medium"], ["container"], ["medium", "container"]]"#;

/// Blocks 0.3, cells of a site 0.15, residual 0.5.
fn plain(component: &VarianceComponent) -> f64 {
    match component.group.len() {
        1 => 0.5,
        2 => 0.3,
        _ => 0.15,
    }
}

fn by_site(component: &VarianceComponent) -> f64 {
    let site = component.level.as_ref().and_then(|levels| levels.get("site").map(str::to_owned));
    match site.as_deref() {
        Some("s0") => 0.1,
        Some("s1") => 0.4,
        Some(_) => 1.6,
        None => 0.2,
    }
}

/// Sites 0.5, blocks and what a site does to a medium or a container 0.1, residual 0.3.
fn random_sites(component: &VarianceComponent) -> f64 {
    match (component.group.len(), component.group[0].as_str()) {
        (1, "site") => 0.5,
        (1, _) => 0.3,
        _ => 0.1,
    }
}

const DESIGNS: [Design; 6] = [
    Design {
        name: "balanced: 4 sites of 3 blocks",
        blocks: &[3, 3, 3, 3],
        weeks: 1,
        lost: 0,
        effects: FACTORIAL,
        groups: r#"[["site", "block"], ["site", "medium", "container"]]"#,
        residual: "",
        variances: plain,
        serial: 0.0,
    },
    Design {
        name: "unbalanced: 2 to 5 blocks a site, a fifth of the units lost",
        blocks: &[2, 3, 5, 2],
        weeks: 1,
        lost: 2,
        effects: FACTORIAL,
        groups: r#"[["site", "block"], ["site", "medium", "container"]]"#,
        residual: "",
        variances: plain,
        serial: 0.0,
    },
    Design {
        name: "split plot: containers by line, media within; 3 sites of 3 blocks",
        blocks: &[3, 3, 3],
        weeks: 1,
        lost: 0,
        effects: FACTORIAL,
        groups: r#"[["site", "block"], ["site", "block", "container"]]"#,
        residual: "",
        variances: plain,
        serial: 0.0,
    },
    Design {
        name: "a residual variance a site, 1 : 4 : 16; 3 sites of 4 blocks",
        blocks: &[4, 4, 4],
        weeks: 1,
        lost: 0,
        effects: FACTORIAL,
        groups: r#"[["site", "block"]]"#,
        residual: "[residual]\nvariance_by = [\"site\"]\n",
        variances: by_site,
        serial: 0.0,
    },
    Design {
        name: "8 weeks on each unit, autocorrelation 0.5; 3 sites of 2 blocks",
        blocks: &[2, 2, 2],
        weeks: 8,
        lost: 0,
        effects: r#"[["site"], ["medium"], ["container"], ["medium", "container"], ["week_name"]]"#,
        groups: r#"[["site", "block"], ["site", "block", "unit"]]"#,
        residual: "[residual.serial]\norder = \"week\"\nwithin = [\"site\", \"block\", \"unit\"]\n",
        variances: plain,
        serial: 0.5,
    },
    Design {
        name: "sites random, four of them, 3 blocks each",
        blocks: &[3, 3, 3, 3],
        weeks: 1,
        lost: 0,
        effects: r#"[["medium"], ["container"], ["medium", "container"]]"#,
        groups: r#"[["site"], ["site", "block"], ["site", "medium"], ["site", "container"]]"#,
        residual: "",
        variances: random_sites,
        serial: 0.0,
    },
];

/// The true mean of a cell, sites apart.
fn cell(medium: &str, container: &str) -> f64 {
    let of_medium = [0.0, 0.6, 0.2][MEDIA.iter().position(|m| *m == medium).unwrap()];
    let of_container = if container == "pot" { -0.3 } else { 0.0 };
    of_medium + of_container + if (medium, container) == ("blend", "pot") { 0.25 } else { 0.0 }
}

/// The true mean of these levels: an equal-weight average over those that are not named.
fn true_mean(of: &Levels, within: &Levels) -> f64 {
    let named = |factor: &str| of.get(factor).or_else(|| within.get(factor)).map(str::to_owned);
    let fits = |name: &Option<String>, level: &str| name.as_deref().is_none_or(|name| name == level);
    let (medium, container) = (named("medium"), named("container"));
    let cells: Vec<f64> = MEDIA
        .iter()
        .flat_map(|m| CONTAINERS.iter().map(move |c| (*m, *c)))
        .filter(|(m, c)| fits(&medium, m) && fits(&container, c))
        .map(|(m, c)| cell(m, c))
        .collect();
    cells.iter().sum::<f64>() / cells.len() as f64
}

fn true_difference(d: &Difference) -> f64 {
    true_mean(&d.of, &d.within) - true_mean(&d.minus, &d.within)
}

impl Design {
    fn table(&self) -> (Columns, Vec<f64>) {
        let mut texts: Vec<(&str, Vec<String>)> =
            ["site", "block", "medium", "container", "unit", "week_name"].map(|name| (name, Vec::new())).into();
        let (mut weeks, mut fixed, mut number) = (Vec::new(), Vec::new(), 0);
        for (s, blocks) in self.blocks.iter().enumerate() {
            for (b, m, c) in (0..*blocks).flat_map(|b| (0..6).map(move |k| (b, MEDIA[k % 3], CONTAINERS[k / 3]))) {
                number += 1;
                if number * 7 % 10 < self.lost {
                    continue;
                }
                for week in 0..self.weeks {
                    let names = [format!("s{s}"), format!("b{b}"), m.to_owned(), c.to_owned(), format!("u{number}"), format!("w{week}")];
                    texts.iter_mut().zip(names).for_each(|((_, all), name)| all.push(name));
                    weeks.push(week as f64);
                    fixed.push(4.0 + cell(m, c));
                }
            }
        }
        let mut columns = Columns::new(fixed.len());
        texts.iter().for_each(|(name, texts)| columns.category(name, texts).unwrap());
        columns.number("week", weeks).unwrap();
        // Only the order of the components is read off a fit of these numbers.
        columns.number("y", (0..fixed.len()).map(|i| ((i * i * 31 + 17 * i) % 97) as f64).collect()).unwrap();
        (columns, fixed)
    }

    fn model(&self, freedom: &str) -> Model {
        Model::from_toml(&format!(
            "response = \"y\"\ncategories = [\"site\", \"block\", \"medium\", \"container\", \"unit\", \"week_name\"]\n\
             effects = {}\ngroups = {}\n{}[estimation]\nfreedom = \"{freedom}\"\n\
             [[compare]]\nmeans_of = [\"medium\"]\nadjust = \"tukey\"\n\
             [[compare]]\nmeans_of = [\"container\"]\n\
             [[compare]]\nmeans_of = [\"medium\"]\nwithin = [\"container\"]\nadjust = \"joint\"\n",
            self.effects, self.groups, self.residual
        ))
        .unwrap()
    }

    fn fits(&self, freedom: &str) -> (usize, Vec<Fit>) {
        let (table, fixed) = self.table();
        let mut prepared = Prepared::new(&table, &self.model(freedom)).unwrap();
        let (shape, _) = prepared.fit().unwrap();
        let with = |component: &VarianceComponent| VarianceComponent { variance: (self.variances)(component), ..component.clone() };
        let truth = Truth {
            fixed,
            variances: shape.variance_components.iter().map(with).collect(),
            correlations: Vec::new(),
            serial: self.serial,
            dispersion: None,
        };
        let responses = simulate(&prepared, &truth, 20_310_324, SEASONS);
        (table.rows(), refit(&prepared, &responses).into_iter().map(Result::unwrap).collect())
    }
}

/// How often each kind of interval held the truth.
#[derive(Default)]
struct Tally(BTreeMap<&'static str, (usize, usize)>);

impl Tally {
    fn add(&mut self, kind: &'static str, inside: bool) {
        let entry = self.0.entry(kind).or_default();
        *entry = (entry.0 + usize::from(inside), entry.1 + 1);
    }

    fn share(&self, kind: &str) -> f64 {
        self.0.get(kind).map_or(f64::NAN, |(inside, all)| *inside as f64 / *all as f64)
    }

    fn judge(&mut self, fit: &Fit) {
        let (mut medium_family, mut within_family) = (true, BTreeMap::new());
        for d in &fit.differences {
            let truth = true_difference(d);
            let holds = |low: f64, high: f64| low <= truth && truth <= high;
            let all = holds(d.low_adjusted.unwrap_or(d.low), d.high_adjusted.unwrap_or(d.high));
            let kind = match (d.of.get("medium").is_some(), d.within.get("container").map(str::to_owned)) {
                (false, _) => "container",
                (true, None) => {
                    medium_family &= all;
                    "medium"
                }
                (true, Some(container)) => {
                    let family: &mut bool = within_family.entry(container).or_insert(true);
                    *family &= all;
                    "medium within container"
                }
            };
            self.add(kind, holds(d.low, d.high));
        }
        self.add("all media together", medium_family);
        within_family.into_values().for_each(|family| self.add("all media together within container", family));
    }
}

const KINDS: [&str; 5] = ["medium", "container", "medium within container", "all media together", "all media together within container"];

/// 2,000 seasons tell 95 % to half a percentage point (one standard error). Kenward–Roger is held to 93.5 % and over;
/// Satterthwaite, which leaves the covariance of the estimates as it is, to 92.5 %: with a residual variance for each
/// site it falls short of 95 %. Large-sample intervals are shown and held to nothing.
#[test]
#[ignore = "a minute or two; the figures stand in DEVELOPERS.md"]
fn small_sample_intervals_hold_the_truth_about_as_often_as_they_say() {
    let mut misses = Vec::new();
    for design in &DESIGNS {
        for freedom in ["kenward-roger", "satterthwaite", "large-sample"] {
            let (rows, fits) = design.fits(freedom);
            let mut tally = Tally::default();
            fits.iter().for_each(|fit| tally.judge(fit));
            let shares = KINDS.map(|kind| 100.0 * tally.share(kind));
            let cells: Vec<String> = shares.iter().map(|share| format!("{share:.1}")).collect();
            println!("| {} ({rows} rows) | {freedom} | {} |", design.name, cells.join(" | "));
            let least = match freedom {
                "kenward-roger" => 93.5,
                "satterthwaite" => 92.5,
                _ => 0.0,
            };
            if !shares.iter().all(|share| (least..98.5).contains(share)) {
                misses.push(format!("{} {freedom} {cells:?}", design.name));
            }
        }
    }
    assert!(misses.is_empty(), "{misses:#?}");
}
