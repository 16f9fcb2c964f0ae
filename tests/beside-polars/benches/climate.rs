//! Climate logs to daily tables: crosshouse, which reads, converts, flags, accounts for every row and writes its
//! store, beside the lazy CSV scan of polars, which only summarises.
//!
//! `cargo bench` in this folder; `SITES=100 cargo bench` for seventeen million rows.
use crosshouse_beside_polars::{HABITS, Habit, log_name, write_season};
use crosshouse_logs::Silent;
use polars::prelude::*;
use std::path::Path;
use std::sync::LazyLock;

// As the program itself has it.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

struct Season {
    folder: std::path::PathBuf,
    sites: usize,
}

static SEASON: LazyLock<Season> = LazyLock::new(|| {
    let sites = std::env::var("SITES").ok().and_then(|n| n.parse().ok()).unwrap_or(8);
    let folder = tempfile::tempdir().expect("a folder for the logs");
    write_season(folder.path(), sites).expect("the logs");
    // A static is never dropped: `main` removes the folder.
    Season { folder: folder.keep(), sites }
});

fn main() {
    let season = &*SEASON;
    let (ours, theirs) = (crosshouse_sums(season), polars_sums(season));
    println!("house-days, sum of their highest temperatures: crosshouse {ours:?}, polars {theirs:?}");
    assert!(ours.0 == theirs.0 && (ours.1 - theirs.1).abs() < 1e-6, "the two read different things");
    divan::main();
    std::fs::remove_dir_all(&season.folder).expect("the logs to be removed");
}

/// Reads, converts, flags, accounts for every row and writes the daily tables.
fn crosshouse_into(season: &Season, store: &Path) -> String {
    let outcome = crosshouse::check::check_with(&season.folder.join("season.toml"), Some(store), &Silent);
    assert_eq!(outcome.status, 0, "{}", outcome.err);
    outcome.out
}

fn crosshouse_sums(season: &Season) -> (usize, f64) {
    let store = tempfile::tempdir().expect("a store");
    crosshouse_into(season, store.path());
    let (mut days, mut highest) = (0, 0.0);
    for site in 0..season.sites {
        let path = store.path().join(format!("house-days/season=2031/site=site-{site:03}/days.parquet"));
        let file = std::fs::File::open(path).expect("the daily table");
        for batch in crosshouse_logs::store::read(file).expect("a readable table") {
            days += batch.num_rows();
            let column = batch.column_by_name("temperature_maximum").expect("the column").to_data();
            highest += column.buffers()[0].typed_data::<f64>().iter().sum::<f64>();
        }
    }
    (days, highest)
}

fn scan(season: &Season, site: usize) -> PolarsResult<LazyFrame> {
    let habit: &Habit = &HABITS[site % HABITS.len()];
    let path = season.folder.join(log_name(site));
    let texts = Schema::from_iter([
        Field::new("stamp".into(), DataType::String),
        Field::new("air".into(), DataType::Float64),
        Field::new("moist".into(), DataType::Float64),
        Field::new("bright".into(), DataType::Float64),
    ]);
    let rows = LazyCsvReader::new(PlRefPath::new(path.to_string_lossy().as_ref()))
        .with_separator(habit.delimiter as u8)
        .with_decimal_comma(habit.decimal == ',')
        .with_skip_lines(habit.preamble.len())
        .with_null_values(Some(NullValues::AllColumnsSingle(habit.missing.into())))
        .with_dtype_overwrite(Some(texts.into()))
        .finish()?;
    let air = if habit.fahrenheit { (col("air") - lit(32.0)) / lit(1.8) } else { col("air") };
    // The day is cut out as text: the fastest route there is.
    let day = col("stamp").str().slice(lit(0), lit(10));
    // The engine's own exponential wants a further feature; it too takes value after value.
    let exp = |x: Expr| x.map(|c| Ok(c.f64()?.apply_values(f64::exp).into_column()), |_, field| Ok(field.clone()));
    let saturated = lit(0.6108) * exp(lit(17.27) * col("t") / (col("t") + lit(237.3)));
    let deficit = saturated * (lit(1.0) - col("moist") / lit(100.0));
    Ok(rows
        .select([col("house"), day.alias("day"), air.alias("t"), col("moist"), col("bright")])
        .with_column(deficit.alias("deficit"))
        .group_by([col("house"), col("day")])
        .agg([
            col("t").count().alias("n"),
            col("t").mean().alias("mean"),
            col("t").min().alias("lowest"),
            col("t").max().alias("highest"),
            col("deficit").mean().alias("vpd"),
            (col("bright").mean() * lit(0.0864)).alias("dli"),
        ])
        .with_column(lit(site as u32).alias("site")))
}

fn polars_by(season: &Season, engine: Engine) -> PolarsResult<DataFrame> {
    let frames: PolarsResult<Vec<LazyFrame>> = (0..season.sites).map(|site| scan(season, site)).collect();
    let all = concat(frames?, UnionArgs::default())?;
    all.collect_with_engine(engine).map(|result| result.unwrap_single())
}

fn polars_sums(season: &Season) -> (usize, f64) {
    let days = polars_by(season, Engine::Streaming).expect("the scan");
    let highest = days.column("highest").and_then(|c| c.f64()).expect("the column").iter().flatten().sum();
    (days.height(), highest)
}

#[divan::bench(sample_count = 7, sample_size = 1)]
fn crosshouse_reads_flags_accounts_and_writes(bencher: divan::Bencher) {
    bencher.with_inputs(|| tempfile::tempdir().expect("a store")).bench_local_refs(|store| crosshouse_into(&SEASON, store.path()));
}

#[divan::bench(sample_count = 7, sample_size = 1)]
fn polars_summarises_streaming() -> DataFrame {
    polars_by(&SEASON, Engine::Streaming).expect("the scan")
}

#[divan::bench(sample_count = 7, sample_size = 1)]
fn polars_summarises_in_memory() -> DataFrame {
    polars_by(&SEASON, Engine::InMemory).expect("the scan")
}
