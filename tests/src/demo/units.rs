//! The plan: which unit stands where with which treatment, randomised within blocks.
use super::chance::Chance;
use super::station::Station;
use serde::Serialize;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Medium {
    Blend,
    Perlite,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Container {
    Bucket,
    Pot,
}

/// Plants set in every container, bucket or pot.
pub const PLANTS: u32 = 2;
const BLOCKS: usize = 6;

/// One container with its plants.
#[derive(Debug, Clone)]
pub struct Unit {
    /// As the plan writes it.
    pub id: String,
    pub block: usize,
    /// Row (also the irrigation line) and position along it, from 1.
    pub row: usize,
    pub position: usize,
    pub medium: Medium,
    pub container: Container,
    /// A guard: in the plan, never recorded.
    pub guard: bool,
}

/// The units of a station, block after block, guards last.
pub fn plan(station: Station, seed: u64) -> Vec<Unit> {
    let mut chance = Chance::of(seed, &format!("plan {}", station.id()));
    let cells = treatments(station);
    let mut units = Vec::new();
    for block in 0..BLOCKS {
        let mut order = cells.clone();
        chance.shuffle(&mut order);
        for (medium, container) in order {
            units.push(unit(station, units.len(), block + 1, medium, container));
        }
    }
    if station == Station::SedgeFlats {
        units.extend(guards());
    }
    units
}

/// Medium and container of every treatment grown at the station: perlite alone at Withy End.
pub fn treatments(station: Station) -> Vec<(Medium, Container)> {
    let media: &[Medium] = match station {
        Station::WithyEnd => &[Medium::Perlite],
        _ => &[Medium::Blend, Medium::Perlite],
    };
    media.iter().flat_map(|&m| [(m, Container::Bucket), (m, Container::Pot)]).collect()
}

/// Unit number `n` (from 0) in walking order, two rows.
fn unit(station: Station, n: usize, block: usize, medium: Medium, container: Container) -> Unit {
    let row_length = if station == Station::WithyEnd { 6 } else { 12 };
    let (row, position) = (n / row_length + 1, n % row_length + 1);
    let id = match station {
        Station::TarnHollow => format!("B{block}-{:02}", n + 1),
        Station::SedgeFlats => format!("L{row}-{position:02}"),
        Station::MarlRidge => format!("{}", row * 100 + position),
        Station::WithyEnd => format!("W{:02}", n + 1),
    };
    Unit { id, block, row, position, medium, container, guard: false }
}

/// One guard bucket at the door end of each line of the tunnel.
fn guards() -> Vec<Unit> {
    let guard = |row: usize, block: usize| Unit {
        id: format!("L{row}-G"),
        block,
        row,
        position: 13,
        medium: Medium::Perlite,
        container: Container::Bucket,
        guard: true,
    };
    vec![guard(1, 3), guard(2, 6)]
}
