//! The true effects that a season is drawn from, and what follows from them.
use super::chance::Chance;
use super::station::Station;
use super::units::{Container, Medium, treatments};
use serde::Serialize;

/// Fixed truths on the scale of the analysed response: marketable kg per plant set over the season.
///
/// mean of a cell = grand mean + site + medium + container + medium × container + site × medium;
/// the treatment terms are ± these halves: plus for blend, for bucket, and for blend in bucket and perlite in pot.
#[derive(Debug, Clone, PartialEq)]
pub struct Effects {
    pub grand_mean: f64,
    /// One a station, in the order of [`Station::ALL`].
    pub site: [f64; 4],
    pub medium: f64,
    pub container: f64,
    pub medium_container: f64,
    /// Deviation of the medium half-effect at each station; sums to zero over the comparable ones.
    pub site_medium: [f64; 4],
    pub block_sd: f64,
    pub unit_sd: f64,
}

/// The demo's truths.
pub const EFFECTS: Effects = Effects {
    grand_mean: 3.00,
    site: [0.35, -0.45, 0.10, -0.50],
    medium: 0.10,
    container: 0.16,
    medium_container: 0.03,
    site_medium: [0.05, -0.07, 0.02, 0.0],
    block_sd: 0.15,
    unit_sd: 0.28,
};

/// Standard deviations of sites and of the medium half-effect between sites, for [`Effects::at_new_sites`].
pub const SITE_SD: f64 = 0.40;
pub const SITE_MEDIUM_SD: f64 = 0.06;

impl Effects {
    /// The same treatments at four other sites drawn from a population of sites: for intervals that speak of
    /// sites like these. Over such seasons the medium's true difference is twice [`Effects::medium`].
    pub fn at_new_sites(seed: u64) -> Effects {
        let mut chance = Chance::of(seed, "new sites");
        Effects {
            site: std::array::from_fn(|_| chance.normal(SITE_SD)),
            site_medium: std::array::from_fn(|_| chance.normal(SITE_MEDIUM_SD)),
            ..EFFECTS
        }
    }

    /// True mean of a cell at a station, marketable kg per plant set.
    pub fn cell(&self, station: Station, medium: Medium, container: Container) -> f64 {
        let s = station as usize;
        let (m, c) = (sign(medium == Medium::Blend), sign(container == Container::Bucket));
        self.grand_mean
            + self.site.get(s).copied().unwrap_or_default()
            + m * (self.medium + self.site_medium.get(s).copied().unwrap_or_default())
            + c * self.container
            + m * c * self.medium_container
    }

    /// Blend minus perlite, averaged over these stations with equal weight; both containers when `within` is absent.
    pub fn blend_minus_perlite(&self, stations: &[Station], within: Option<Container>) -> f64 {
        let containers = within.map_or(vec![Container::Bucket, Container::Pot], |c| vec![c]);
        mean(stations.iter().flat_map(|&s| {
            let cells = containers.clone();
            cells.into_iter().map(move |c| self.cell(s, Medium::Blend, c) - self.cell(s, Medium::Perlite, c))
        }))
    }

    /// Bucket minus pot, averaged over these stations and over the media grown there (or the one named).
    pub fn bucket_minus_pot(&self, stations: &[Station], within: Option<Medium>) -> f64 {
        let media = within.map_or(vec![Medium::Blend, Medium::Perlite], |m| vec![m]);
        mean(stations.iter().flat_map(|&s| {
            let grown = media.clone().into_iter().filter(move |&m| treatments(s).contains(&(m, Container::Bucket)));
            grown.map(move |m| self.cell(s, m, Container::Bucket) - self.cell(s, m, Container::Pot))
        }))
    }
}

fn sign(plus: bool) -> f64 {
    if plus { 1.0 } else { -1.0 }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0u32), |(sum, n), v| (sum + v, n + 1));
    sum / f64::from(n.max(1))
}

/// Traits of a treatment beside its yield.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Traits {
    /// Culls as a share of the total mass, 0–1 (mean over units).
    pub cull_share: f64,
    /// Culls as a share of the number of fruit, 0–1 (mean over units): a culled fruit is the lighter one.
    pub culls_of_fruit: f64,
    /// Mass of a marketable fruit, g, season mean before the weather's part.
    pub fruit_g: f64,
    /// Days by which the treatment ripens later than the earliest one.
    pub days_later: f64,
}

/// Standard deviations of the logarithm of a unit's expected number of fruit: of blocks and of units. They follow the
/// deviations of its mass, so that heavier units bear more fruit.
pub const FRUIT_BLOCK_SD: f64 = 0.05;
pub const FRUIT_UNIT_SD: f64 = 0.085;

impl Effects {
    /// Fruit per plant set, culls included, in a block and unit of the middle: exp of its logarithm's mean.
    pub fn fruit(&self, station: Station, medium: Medium, container: Container) -> f64 {
        let traits = traits(medium, container);
        self.cell(station, medium, container) * 1000.0 / traits.fruit_g / (1.0 - traits.culls_of_fruit)
    }

    /// Blend over perlite: the geometric mean of the ratios of expected fruit numbers over these stations and both
    /// containers (or the one named). Block and unit deviations are alike for all treatments and cancel.
    pub fn fruit_ratio(&self, stations: &[Station], within: Option<Container>) -> f64 {
        let containers = within.map_or(vec![Container::Bucket, Container::Pot], |c| vec![c]);
        let logs = stations.iter().flat_map(|&s| {
            let cells = containers.clone();
            cells.into_iter().map(move |c| (self.fruit(s, Medium::Blend, c) / self.fruit(s, Medium::Perlite, c)).ln())
        });
        mean(logs).exp()
    }

    /// Blend minus perlite of the share of culls among the fruit, each turned back from the mean logit over the containers:
    /// the estimand of the report. The shares do not depend on the station.
    pub fn cull_share_difference(&self, within: Option<Container>) -> f64 {
        let containers = within.map_or(vec![Container::Bucket, Container::Pot], |c| vec![c]);
        let share = |medium| {
            let logits = containers.iter().map(|&c| traits(medium, c).culls_of_fruit).map(|p| (p / (1.0 - p)).ln());
            1.0 / (1.0 + (-mean(logits)).exp())
        };
        share(Medium::Blend) - share(Medium::Perlite)
    }
}

/// Perlite and pots ripen earlier; pots and perlite have more blossom-end rot; buckets bear larger fruit.
pub fn traits(medium: Medium, container: Container) -> Traits {
    let (blend, bucket) = (f64::from(medium == Medium::Blend), f64::from(container == Container::Bucket));
    Traits {
        cull_share: tidy(0.13 - 0.025 * blend - 0.02 * bucket),
        culls_of_fruit: tidy(0.165 - 0.030 * blend - 0.025 * bucket),
        fruit_g: 39.0 + 2.0 * blend + 2.5 * bucket,
        days_later: 3.0 * blend + 1.0 * bucket,
    }
}

/// What `truth.toml` records.
#[derive(Debug, Clone, Serialize)]
pub struct Truth {
    pub about: &'static str,
    pub seed: u64,
    pub response: &'static str,
    pub unit: &'static str,
    pub block_sd: f64,
    pub unit_sd: f64,
    pub cell: Vec<Cell>,
    pub difference: Vec<Difference>,
    pub fruit_ratio: Vec<Counts>,
    pub cull_share_difference: Vec<Counts>,
    pub unit_season: Vec<UnitTruth>,
}

/// A true comparison of blend with perlite in what is counted. `sites` as in [`Difference`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Counts {
    pub within: &'static str,
    pub sites: String,
    pub value: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cell {
    pub site: Station,
    pub medium: Medium,
    pub container: Container,
    pub kg_per_plant: f64,
    /// Fruit a plant in a block and unit of the middle.
    pub fruit_per_plant: f64,
    #[serde(flatten)]
    pub traits: Traits,
}

/// A true difference of the response. `sites`: one station, or the three that grew both media, equal weights.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Difference {
    pub of: &'static str,
    pub minus: &'static str,
    /// The container or medium it is within; "averaged" over both otherwise.
    pub within: &'static str,
    pub sites: String,
    pub kg_per_plant: f64,
}

/// The season that one unit truly had: what its marketable picks add up to, but for the scale's rounding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UnitTruth {
    pub site: Station,
    pub unit: String,
    pub block: usize,
    pub medium: Medium,
    pub container: Container,
    pub kg_per_plant: f64,
    /// Fruit picked over the season, and culls among them: whole numbers of the unit.
    pub fruit: u32,
    pub culls: u32,
}

impl Truth {
    pub fn of(seed: u64, effects: &Effects, unit_season: Vec<UnitTruth>) -> Truth {
        Truth {
            about: "Generated. For the tests alone: the true effects behind the demo season.",
            seed,
            response: "marketable-yield-per-plant",
            unit: "kg",
            block_sd: effects.block_sd,
            unit_sd: effects.unit_sd,
            cell: cells(effects),
            difference: differences(effects),
            fruit_ratio: counts(|stations, within| effects.fruit_ratio(stations, within)),
            cull_share_difference: counts(|_, within| effects.cull_share_difference(within)),
            unit_season,
        }
    }
}

fn cells(effects: &Effects) -> Vec<Cell> {
    let of_station = |site| {
        treatments(site).into_iter().map(move |(medium, container)| Cell {
            site,
            medium,
            container,
            kg_per_plant: tidy(effects.cell(site, medium, container)),
            fruit_per_plant: tidy(effects.fruit(site, medium, container)),
            traits: traits(medium, container),
        })
    };
    Station::ALL.into_iter().flat_map(of_station).collect()
}

/// The three stations that grew both media, and each of them alone.
fn sets() -> Vec<(String, Vec<Station>)> {
    let alone = Station::COMPARABLE.map(|s| (s.id().to_owned(), vec![s]));
    std::iter::once(("comparable".into(), Station::COMPARABLE.to_vec())).chain(alone).collect()
}

fn counts(value: impl Fn(&[Station], Option<Container>) -> f64) -> Vec<Counts> {
    let mut all = Vec::new();
    for (sites, stations) in sets() {
        for (within, container) in [("averaged", None), ("bucket", Some(Container::Bucket)), ("pot", Some(Container::Pot))] {
            all.push(Counts { within, sites: sites.clone(), value: tidy(value(&stations, container)) });
        }
    }
    all
}

fn differences(effects: &Effects) -> Vec<Difference> {
    let mut all = Vec::new();
    for (sites, stations) in &sets() {
        for (within, container) in [("averaged", None), ("bucket", Some(Container::Bucket)), ("pot", Some(Container::Pot))] {
            let value = effects.blend_minus_perlite(stations, container);
            all.push(Difference { of: "blend", minus: "perlite", within, sites: sites.clone(), kg_per_plant: tidy(value) });
        }
        for (within, medium) in [("averaged", None), ("blend", Some(Medium::Blend)), ("perlite", Some(Medium::Perlite))] {
            let value = effects.bucket_minus_pot(stations, medium);
            all.push(Difference { of: "bucket", minus: "pot", within, sites: sites.clone(), kg_per_plant: tidy(value) });
        }
    }
    let withy_end = effects.bucket_minus_pot(&[Station::WithyEnd], Some(Medium::Perlite));
    let sites = Station::WithyEnd.id().to_owned();
    all.push(Difference { of: "bucket", minus: "pot", within: "perlite", sites, kg_per_plant: tidy(withy_end) });
    all
}

/// Twelve decimals: sums of decimal truths without their binary dust.
pub fn tidy(value: f64) -> f64 {
    (value * 1e12).round() / 1e12
}
