//! How each station writes its logs: one file a station, its habits and its slips.
mod clock;
mod lines;
mod marl_ridge;
mod sedge_book;
mod sedge_flats;
mod tarn_hollow;
pub mod water;
mod withy_end;

use super::season::StationSeason;
use super::station::Station;
use std::collections::BTreeMap;

/// Raw logs by path inside the folder of logs.
pub type Files = BTreeMap<String, Vec<u8>>;

pub type WriteResult = Result<Files, Box<dyn std::error::Error>>;

/// All logs of one station.
///
/// # Errors
/// A workbook or a time zone that the libraries refuse.
pub fn of_station(season: &StationSeason, seed: u64) -> WriteResult {
    match season.station {
        Station::TarnHollow => tarn_hollow::logs(season, seed),
        Station::SedgeFlats => sedge_flats::logs(season, seed),
        Station::MarlRidge => marl_ridge::logs(season, seed),
        Station::WithyEnd => withy_end::logs(season, seed),
    }
}

/// Puts `bytes` under the station's folder.
fn put(files: &mut Files, station: Station, name: &str, bytes: Vec<u8>) {
    files.insert(format!("{}/{name}", station.id()), bytes);
}
