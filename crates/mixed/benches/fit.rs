//! Fits of the shapes that a season has: complete and gappy blocks at several sites, one factor that
//! crosses the sites, weekly records with autocorrelation.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{Columns, Model, Prepared, Truth, fit, refit, simulate};

fn main() {
    divan::main();
}

/// A seeded stream (linear congruence; constants from Knuth, MMIX).
struct Stream(u64);

impl Stream {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}

struct Shape {
    sites: usize,
    blocks: usize,
    media: usize,
    containers: usize,
    /// Share of records lost.
    lost: f64,
    /// Whether one set of lines crosses all sites.
    crossing: bool,
    weeks: usize,
}

fn shape(rows: usize) -> Shape {
    let (sites, blocks, media, containers) = match rows {
        72 => (4, 3, 3, 2),
        504 => (7, 6, 4, 3),
        5040 => (35, 12, 4, 3),
        _ => (100, 42, 4, 3),
    };
    Shape { sites, blocks, media, containers, lost: 0.0, crossing: false, weeks: 1 }
}

impl Shape {
    fn table(&self) -> Columns {
        let mut stream = Stream(2031);
        let mut texts: Vec<Vec<String>> = vec![Vec::new(); 7];
        let (mut y, mut counts, mut weeks) = (Vec::new(), Vec::new(), Vec::new());
        let lines: Vec<f64> = (0..40).map(|_| stream.normal()).collect();
        for s in 0..self.sites {
            let cells: Vec<f64> = (0..self.media * self.containers).map(|_| 0.4 * stream.normal()).collect();
            for b in 0..self.blocks {
                let block = 0.5 * stream.normal();
                for (m, c) in (0..self.media).flat_map(|m| (0..self.containers).map(move |c| (m, c))) {
                    if self.weeks == 1 && stream.uniform() < self.lost {
                        continue;
                    }
                    let cell = m * self.containers + c;
                    let line = (s * 7 + b * 5 + cell * 3) % 40;
                    let unit = 0.3 * stream.normal();
                    let mut noise = stream.normal();
                    for week in 0..self.weeks {
                        noise = 0.5 * noise + 0.9 * stream.normal();
                        if self.weeks > 1 && stream.uniform() < self.lost {
                            continue;
                        }
                        let names = [
                            format!("s{s:03}"),
                            format!("s{s:03}b{b:03}"),
                            format!("m{m}"),
                            format!("c{c}"),
                            format!("s{s:03}m{m}c{c}"),
                            format!("line{line:02}"),
                            format!("s{s:03}b{b:03}u{cell:02}"),
                        ];
                        texts.iter_mut().zip(names).for_each(|(all, name)| all.push(name));
                        weeks.push(week as f64);
                        counts.push((4.0 * (0.2 * m as f64 + 0.5 * block + cells[cell] + 0.6 * noise).exp()).round());
                        y.push(5.0 + 0.3 * m as f64 + block + cells[cell] + lines[line] + unit + noise);
                    }
                }
            }
        }
        let mut columns = Columns::new(y.len());
        for (name, texts) in ["site", "block", "medium", "cont", "cell", "line", "unit"].iter().zip(&texts) {
            columns.category(name, texts).unwrap();
        }
        columns.number("week", weeks).unwrap();
        columns.number("y", y).unwrap();
        columns.number("count", counts).unwrap();
        columns
    }

    fn model(&self, freedom: &str, means: bool) -> Model {
        let groups = match (self.crossing, self.weeks) {
            (_, weeks) if weeks > 1 => r#"[["block"], ["block", "unit"]]"#,
            (true, _) => r#"[["block"], ["cell"], ["line"]]"#,
            _ => r#"[["block"], ["cell"]]"#,
        };
        let (week, residual) = if self.weeks > 1 {
            let serial = "[residual]\nvariance_by = [\"site\"]\n[residual.serial]\norder = \"week\"\nwithin = [\"block\", \"unit\"]\n";
            (", [\"week\"]", serial)
        } else {
            ("", "")
        };
        let compare = if means { "[[compare]]\nmeans_of = [\"medium\", \"cont\"]\nadjust = \"tukey\"\n" } else { "" };
        Model::from_toml(&format!(
            "response = \"y\"\ncategories = [\"site\", \"block\", \"medium\", \"cont\", \"cell\", \"line\", \"unit\"]\n\
             effects = [[\"site\"], [\"medium\"], [\"cont\"], [\"medium\", \"cont\"]{week}]\ngroups = {groups}\n\
             {residual}[estimation]\nfreedom = \"{freedom}\"\n{compare}"
        ))
        .unwrap()
    }
}

#[divan::bench(args = [72, 504, 5040, 50_400], sample_count = 20)]
fn fit_alone(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = shape(rows);
    let (table, model) = (shape.table(), shape.model("large-sample", false));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 504, 5040])]
fn kenward_roger_means_and_pairs(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = shape(rows);
    let (table, model) = (shape.table(), shape.model("kenward-roger", true));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 504, 5040])]
fn gappy_kenward_roger_means_and_pairs(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = Shape { lost: 0.1, ..shape(rows) };
    let (table, model) = (shape.table(), shape.model("kenward-roger", true));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [5040, 50_400], sample_count = 5)]
fn gappy_fit_alone(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = Shape { lost: 0.1, ..shape(rows) };
    let (table, model) = (shape.table(), shape.model("large-sample", false));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [5040], sample_count = 5)]
fn gappy_kenward_roger_with_lines_across_sites(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = Shape { crossing: true, lost: 0.1, ..shape(rows) };
    let (table, model) = (shape.table(), shape.model("kenward-roger", true));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [5040], sample_count = 3)]
fn kenward_roger_with_lines_across_sites(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = Shape { crossing: true, ..shape(rows) };
    let (table, model) = (shape.table(), shape.model("kenward-roger", true));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [0.0, 0.1], sample_count = 3)]
fn kenward_roger_means_and_pairs_of_50400_rows(bencher: divan::Bencher<'_, '_>, lost: f64) {
    let shape = Shape { lost, ..shape(50_400) };
    let (table, model) = (shape.table(), shape.model("kenward-roger", true));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 504, 5040], sample_count = 3)]
fn gappy_twelve_weeks_with_autocorrelation(bencher: divan::Bencher<'_, '_>, units: usize) {
    let shape = Shape { weeks: 12, lost: 0.1, ..shape(units) };
    let (table, model) = (shape.table(), shape.model("large-sample", false));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 504, 5040], sample_count = 3)]
fn twelve_weeks_with_autocorrelation(bencher: divan::Bencher<'_, '_>, units: usize) {
    let shape = Shape { weeks: 12, ..shape(units) };
    let (table, model) = (shape.table(), shape.model("large-sample", false));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 5040], sample_count = 10)]
fn a_refit_of_a_prepared_design(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = shape(rows);
    let (table, model) = (shape.table(), shape.model("large-sample", false));
    let mut prepared = Prepared::new(&table, &model).unwrap();
    let response = prepared.response().to_vec();
    bencher.bench_local(|| prepared.fit_response(&response).unwrap());
}

/// Responses drawn from a fit of 72 rows, complete and gappy, each fitted again.
#[divan::bench(args = [0.0, 0.1], sample_count = 5)]
fn a_thousand_refits_of_72_rows(bencher: divan::Bencher<'_, '_>, lost: f64) {
    let shape = Shape { lost, ..shape(72) };
    let mut prepared = Prepared::new(&shape.table(), &shape.model("large-sample", false)).unwrap();
    let (fit, details) = prepared.fit().unwrap();
    let truth = Truth::of(&fit, &details);
    bencher.bench_local(|| refit(&prepared, &simulate(&prepared, &truth, 2031, 1000)));
}

#[divan::bench(args = [72, 504, 5040])]
fn negative_binomial_counts(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = shape(rows);
    let mut model = shape.model("large-sample", false);
    (model.response, model.family) = ("count".to_owned(), crosshouse_mixed::Family::NegativeBinomial);
    let table = shape.table();
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [50_400], sample_count = 3)]
fn large_negative_binomial_counts(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let shape = shape(rows);
    let mut model = shape.model("large-sample", false);
    (model.response, model.family) = ("count".to_owned(), crosshouse_mixed::Family::NegativeBinomial);
    let table = shape.table();
    bencher.bench(|| fit(&table, &model).unwrap());
}

/// Ratings: many raters, each of a few of many rated, and departments by service; nothing nested.
fn ratings() -> (Columns, Model) {
    let mut stream = Stream(77);
    let (raters, rated, rows) = (2972, 1128, 73_421);
    let of_rater: Vec<f64> = (0..raters).map(|_| 0.3 * stream.normal()).collect();
    let of_rated: Vec<f64> = (0..rated).map(|_| 0.5 * stream.normal()).collect();
    let mut texts: Vec<Vec<String>> = vec![Vec::new(); 4];
    let mut y = Vec::new();
    for _ in 0..rows {
        let s = (stream.uniform() * f64::from(raters)) as usize;
        let d = (stream.uniform() * f64::from(rated)) as usize;
        let (service, dept) = ((stream.uniform() * 2.0) as usize, d % 14);
        let names = [format!("{service}"), format!("s{s}"), format!("d{d}"), format!("t{dept}")];
        texts.iter_mut().zip(names).for_each(|(all, name)| all.push(name));
        y.push((3.3 + of_rater[s] + of_rated[d] - 0.1 * service as f64 + 1.1 * stream.normal()).round());
    }
    let mut columns = Columns::new(rows);
    for (name, texts) in ["service", "s", "d", "dept"].iter().zip(&texts) {
        columns.category(name, texts).unwrap();
    }
    columns.number("y", y).unwrap();
    let model = Model::from_toml(
        "response = \"y\"\ncategories = [\"service\", \"s\", \"d\", \"dept\"]\neffects = [[\"service\"]]\n\
         groups = [[\"s\"], [\"d\"], [\"dept\", \"service\"]]\n[estimation]\nfreedom = \"large-sample\"\n",
    )
    .unwrap();
    (columns, model)
}

#[divan::bench(sample_count = 3)]
fn crossed_ratings_of_73421_rows(bencher: divan::Bencher<'_, '_>) {
    let (table, model) = ratings();
    bencher.bench(|| fit(&table, &model).unwrap());
}
