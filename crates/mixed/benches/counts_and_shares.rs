//! Fits of counts and shares in the shapes that a season has, complete and gappy; and their checks.
#![allow(clippy::unwrap_used)]

use crosshouse_mixed::{Columns, Model, Prepared, both_families, fit, fit_with_details, spread_check};

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

/// Counts near 140 and successes of 24 trials, in blocks and cells of several sites; `lost` is the share of units lost.
fn table(rows: usize, lost: f64) -> Columns {
    let (sites, blocks, media, containers) = match rows {
        72 => (4, 3, 3, 2),
        504 => (7, 6, 4, 3),
        5040 => (35, 12, 4, 3),
        _ => (100, 42, 4, 3),
    };
    let mut stream = Stream(2031);
    let mut texts: Vec<Vec<String>> = vec![Vec::new(); 5];
    let (mut counts, mut successes) = (Vec::new(), Vec::new());
    for s in 0..sites {
        let cells: Vec<f64> = (0..media * containers).map(|_| 0.15 * stream.normal()).collect();
        for b in 0..blocks {
            let block = 0.2 * stream.normal();
            for (m, c) in (0..media).flat_map(|m| (0..containers).map(move |c| (m, c))) {
                let eta = 0.1 * m as f64 + block + cells[m * containers + c] + 0.4 * stream.normal();
                if stream.uniform() < lost {
                    continue;
                }
                let names = [format!("s{s:03}"), format!("s{s:03}b{b:03}"), format!("m{m}"), format!("c{c}"), format!("s{s:03}m{m}c{c}")];
                texts.iter_mut().zip(names).for_each(|(all, name)| all.push(name));
                counts.push((140.0 * eta.exp()).round());
                successes.push((24.0 / (1.0 + (1.0 - eta).exp())).round());
            }
        }
    }
    let mut columns = Columns::new(counts.len());
    for (name, texts) in ["site", "block", "medium", "cont", "cell"].iter().zip(&texts) {
        columns.category(name, texts).unwrap();
    }
    columns.number("trials", vec![24.0; counts.len()]).unwrap();
    columns.number("count", counts).unwrap();
    columns.number("successes", successes).unwrap();
    columns
}

fn model(family: &str) -> Model {
    let response = if matches!(family, "binomial" | "beta-binomial") { "\"successes\"\ntrials = \"trials\"" } else { "\"count\"" };
    Model::from_toml(&format!(
        "response = {response}\nfamily = \"{family}\"\ncategories = [\"site\", \"block\", \"medium\", \"cont\", \"cell\"]\n\
         effects = [[\"site\"], [\"medium\"], [\"cont\"], [\"medium\", \"cont\"]]\ngroups = [[\"block\"], [\"cell\"]]\n"
    ))
    .unwrap()
}

fn run(bencher: divan::Bencher<'_, '_>, family: &str, rows: usize, lost: f64) {
    let (table, model) = (table(rows, lost), model(family));
    bencher.bench(|| fit(&table, &model).unwrap());
}

#[divan::bench(args = [72, 504, 5040])]
fn negative_binomial(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "negative-binomial", rows, 0.0);
}

#[divan::bench(args = [50_400], sample_count = 3)]
fn large_negative_binomial(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "negative-binomial", rows, 0.0);
}

#[divan::bench(args = [72, 504, 5040])]
fn gappy_negative_binomial(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "negative-binomial", rows, 0.07);
}

#[divan::bench(args = [72, 504, 5040])]
fn poisson(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "poisson", rows, 0.0);
}

#[divan::bench(args = [72, 504, 5040])]
fn binomial(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "binomial", rows, 0.0);
}

#[divan::bench(args = [72, 504, 5040])]
fn beta_binomial(bencher: divan::Bencher<'_, '_>, rows: usize) {
    run(bencher, "beta-binomial", rows, 0.0);
}

#[divan::bench(args = [72, 504])]
fn both_families_of_counts(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let (table, model) = (table(rows, 0.0), model("poisson"));
    bencher.bench(|| both_families(&table, &model));
}

#[divan::bench(args = [72], sample_count = 5)]
fn spread_check_of_two_hundred_draws(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let (table, model) = (table(rows, 0.0), model("poisson"));
    let (fit, details) = fit_with_details(&table, &model).unwrap();
    let prepared = Prepared::new(&table, &model).unwrap();
    bencher.bench(|| spread_check(&prepared, &fit, &details, 2031, 199));
}
