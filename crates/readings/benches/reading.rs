//! Cells as written, a season's worth.
use crosshouse_readings::quantity::{NumberStyle, number, pounds_ounces};

fn main() {
    divan::main();
}

#[divan::bench(args = [100_000])]
fn numbers(bencher: divan::Bencher<'_, '_>, cells: usize) {
    let texts: Vec<String> = (0..cells).map(|i| format!("{}.{}", i % 40, i % 10)).collect();
    bencher.bench(|| texts.iter().filter_map(|t| number(t, NumberStyle::default()).ok()).sum::<f64>());
}

#[divan::bench(args = [10_000])]
fn pounds_and_ounces(bencher: divan::Bencher<'_, '_>, cells: usize) {
    let texts: Vec<String> = (0..cells).map(|i| format!("{} lb {} oz", i % 5, i % 16)).collect();
    bencher.bench(|| texts.iter().filter_map(|t| pounds_ounces(t, NumberStyle::default()).ok()).sum::<f64>());
}
