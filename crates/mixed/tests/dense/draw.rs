//! Random small designs: a table and a model, from a seed.

use std::collections::BTreeMap;

use crosshouse_mixed::{Adjust, Columns, Compare, Criterion, Estimation, Freedom, Model, Pairs, Residual, Serial, Varying, Weights};

/// A seeded stream of numbers (a linear congruence; constants from Knuth, MMIX).
pub struct Stream(u64);

impl Stream {
    pub fn new(seed: u64) -> Self {
        let mut stream = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        (0..20).for_each(|_| {
            stream.uniform();
        });
        stream
    }

    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.uniform() * n as f64) as usize
    }

    pub fn chance(&mut self, p: f64) -> bool {
        self.uniform() < p
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }
}

pub struct Drawn {
    pub table: Columns,
    pub model: Model,
    /// What kinds of structure it has.
    pub kinds: Vec<&'static str>,
}

fn names(list: &[&str]) -> Vec<String> {
    list.iter().map(|name| (*name).to_owned()).collect()
}

pub fn draw(seed: u64) -> Drawn {
    let mut stream = Stream::new(seed);
    let mut kinds = Vec::new();
    let model = model(&mut stream, &mut kinds);
    let table = table(&mut stream, &model, &mut kinds);
    Drawn { table, model, kinds }
}

fn model(stream: &mut Stream, kinds: &mut Vec<&'static str>) -> Model {
    let mut model = Model { response: "y".to_owned(), categories: names(&["a", "b", "site", "block", "plot", "bed"]), ..Model::default() };
    effects(stream, &mut model, kinds);
    let serial = stream.chance(0.3);
    groups(stream, &mut model, kinds, serial);
    varying(stream, &mut model, kinds);
    if stream.chance(0.3) {
        kinds.push("residual variance by strata");
        model.residual.variance_by = stream.pick(&[names(&["site"]), names(&["a"])]);
    }
    if serial {
        kinds.push("autocorrelation with gaps");
        let within = names(&["site", "plot"]);
        model.residual = Residual { serial: Some(Serial { order: "week".to_owned(), within }), ..model.residual };
    }
    let residual = &model.residual;
    let random = !(model.groups.is_empty() && model.varying.is_empty());
    kinds.extend(
        (random && residual.serial.is_some() && !residual.variance_by.is_empty()).then_some("random terms, strata and autocorrelation"),
    );
    let criterion = if stream.chance(0.65) { Criterion::Reml } else { Criterion::Ml };
    let freedom =
        stream.pick(&[Freedom::KenwardRoger, Freedom::KenwardRoger, Freedom::Satterthwaite, Freedom::Satterthwaite, Freedom::LargeSample]);
    kinds.push(if criterion == Criterion::Reml { "restricted likelihood" } else { "maximum likelihood" });
    kinds.push(match freedom {
        Freedom::KenwardRoger => "Kenward–Roger",
        Freedom::Satterthwaite => "Satterthwaite",
        Freedom::LargeSample => "large samples",
    });
    model.estimation = Estimation { criterion: Some(criterion), freedom: Some(freedom), ..Estimation::default() };
    compare(stream, &mut model, kinds);
    model
}

fn effects(stream: &mut Stream, model: &mut Model, kinds: &mut Vec<&'static str>) {
    let mut lists: Vec<&[&str]> = vec![&["a"]];
    let crossed = stream.chance(0.6);
    if crossed {
        lists.extend([&["b"][..], &["b", "a"][..]]);
        kinds.push("interaction");
    }
    if stream.chance(0.5) {
        lists.push(&["x"]);
        kinds.push("covariate");
        if stream.chance(0.4) {
            lists.push(&["a", "x"]);
            kinds.push("interaction with a covariate");
        }
        if stream.chance(0.3) {
            lists.extend([&["z"][..], &["x", "z"][..]]);
        }
    }
    if stream.chance(0.3) {
        lists.push(&["site"]);
    }
    model.effects = lists.into_iter().map(names).collect();
}

fn groups(stream: &mut Stream, model: &mut Model, kinds: &mut Vec<&'static str>, serial: bool) {
    let (kind, mut lists): (&str, Vec<&[&str]>) = match stream.below(8) {
        0 | 1 => ("nested groups", vec![&["site", "block"], &["site", "plot"]]),
        2 => ("nested groups", vec![&["site"], &["site", "block"], &["site", "plot"]]),
        3 => ("crossed groups", vec![&["block"], &["bed"]]),
        4 => ("partly crossed groups", vec![&["site", "block"], &["bed"]]),
        5 => ("partly crossed groups", vec![&["site", "a"], &["site", "block"]]),
        6 => ("one grouping", vec![&["site", "plot"]]),
        _ => ("no grouping", vec![]),
    };
    lists.retain(|list| !(list == &["site"] && model.effects.contains(&names(&["site"]))));
    lists.retain(|list| !(serial && list.contains(&"plot")));
    kinds.push(kind);
    model.groups = lists.into_iter().map(names).collect();
}

fn varying(stream: &mut Stream, model: &mut Model, kinds: &mut Vec<&'static str>) {
    if !stream.chance(0.4) {
        return;
    }
    let over = stream.pick(&[names(&["site", "plot"]), names(&["site", "block"]), names(&["bed"])]);
    let correlated = stream.chance(0.6);
    let three = stream.chance(0.4);
    kinds.push(match (correlated, three) {
        (true, true) => "three correlated coefficients",
        (true, false) => "two correlated coefficients",
        (false, _) => "uncorrelated coefficients",
    });
    // A grouping by the same categories would be the coefficients' own overall deviation.
    model.groups.retain(|group| *group != over);
    let effects = if three { vec![names(&["x"]), names(&["z"])] } else { vec![names(&["x"])] };
    let base = correlated && !three || stream.chance(0.7);
    model.varying = vec![Varying { over, effects, correlated, base }];
}

fn compare(stream: &mut Stream, model: &mut Model, kinds: &mut Vec<&'static str>) {
    let weights = if stream.chance(0.5) { Weights::Equal } else { Weights::Observed };
    kinds.push(if weights == Weights::Equal { "equal weights" } else { "weights observed" });
    let mut a = Compare::means_of(["a"]);
    a.weights = weights;
    a.adjust = Adjust::None;
    model.compare.push(a.clone());
    if model.effects.contains(&names(&["b"])) {
        let pairs = stream.pick(&[Pairs::All, Pairs::AgainstAverage]);
        model.compare.push(Compare { means_of: names(&["b"]), within: names(&["a"]), pairs, ..a });
    }
}

/// The design of the records and their response.
fn table(stream: &mut Stream, model: &Model, kinds: &mut Vec<&'static str>) -> Columns {
    let (sites, blocks, beds) = (2 + stream.below(2), 2 + stream.below(2), 3 + stream.below(3));
    let (plots, records) = (8 + stream.below(6), 3 + stream.below(2));
    let levels_a = 2 + stream.below(2);
    let by_plot = stream.chance(0.5);
    let empty_cell = model.effects.contains(&names(&["b"])) && stream.chance(0.3);
    kinds.extend(empty_cell.then_some("an empty cell"));
    let mut effects = Effects::new(stream);
    let rho = stream.pick(&[0.0, 0.4, 0.7]);
    let mut rows: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    let mut numbers: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let mut missing = 0;
    for plot in 0..plots {
        let (mut week, mut before) = (0, stream.normal());
        for record in 0..records {
            let gap = 1 + stream.below(3);
            week += gap;
            let kept = rho_power(rho, gap);
            before = kept * before + (1.0 - kept * kept).sqrt() * stream.normal();
            let (site, block, bed) = (plot % sites, plot / sites % blocks, stream.below(beds));
            let a = if by_plot { (plot / 2 + plot) % levels_a } else { stream.below(levels_a) };
            let b = if empty_cell && a == levels_a - 1 { 0 } else { (record + stream.below(2)) % 2 };
            let (x, z) = (1.0 + stream.normal(), stream.uniform());
            let spread = if model.residual.variance_by.is_empty() { 1.0 } else { [0.7, 1.2, 1.8][site] };
            let y = 40.0 + a as f64 - 0.5 * b as f64 + 0.3 * x + spread * before;
            let y = y + effects.of("site", site, x, z) + effects.of("block", site * 9 + block, x, z);
            let y = y + effects.of("plot", plot, x, z) + effects.of("bed", bed, x, z);
            let lost = stream.chance(0.08);
            missing += usize::from(lost);
            for (name, code) in [("a", a), ("b", b), ("site", site), ("block", block), ("plot", plot), ("bed", bed)] {
                rows.entry(name).or_default().push(format!("{name}{code:02}"));
            }
            for (name, value) in [("x", x), ("z", z), ("week", week as f64), ("y", if lost { f64::NAN } else { y })] {
                numbers.entry(name).or_default().push(value);
            }
        }
    }
    kinds.extend((missing > 0).then_some("missing responses"));
    let mut table = Columns::new(plots * records);
    rows.iter().for_each(|(name, texts)| table.category(name, texts).unwrap());
    numbers.into_iter().for_each(|(name, values)| table.number(name, values).unwrap());
    table
}

fn rho_power(rho: f64, gap: usize) -> f64 {
    rho.powi(gap as i32)
}

/// Random deviations and slopes of every level, some of spread nil.
struct Effects {
    spread: BTreeMap<&'static str, [f64; 3]>,
    drawn: BTreeMap<(&'static str, usize), [f64; 3]>,
    stream: Stream,
}

impl Effects {
    fn new(stream: &mut Stream) -> Self {
        let mut spread = BTreeMap::new();
        for name in ["site", "block", "plot", "bed"] {
            let one = |stream: &mut Stream, size: f64| if stream.chance(0.2) { 0.0 } else { size * (0.4 + stream.uniform()) };
            spread.insert(name, [one(stream, 1.2), one(stream, 0.8), one(stream, 1.5)]);
        }
        Self { spread, drawn: BTreeMap::new(), stream: Stream::new(stream.below(1 << 30) as u64) }
    }

    fn of(&mut self, name: &'static str, level: usize, x: f64, z: f64) -> f64 {
        let spread = self.spread[name];
        let stream = &mut self.stream;
        let drawn = self.drawn.entry((name, level)).or_insert_with(|| spread.map(|s| s * stream.normal()));
        drawn[0] + drawn[1] * x + drawn[2] * z
    }
}
