//! Climate by day: range and mean of temperature, vapour pressure deficit, daily light; one column a house.
use crate::day_stack::{DayStacks, Layer, Stack, Track, pages};
use crate::drawing::{Caption, Drawing, written};
use crate::faults::FigureFault;
use crate::look::{BLACK, BLUE, Hand, Ink, Width};
use crate::numbers::fixed;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Days of the houses of a site.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ClimateFigure {
    pub caption: Caption,
    pub houses: Vec<ClimateHouse>,
    /// Band the crop is kept in, °C.
    pub band: Option<(f64, f64)>,
    #[serde(skip)]
    pub width: Width,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ClimateHouse {
    pub title: String,
    /// In order of days; a day without a record is left out.
    pub days: Vec<ClimateDay>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClimateDay {
    pub day: Date,
    /// °C
    pub minimum: Option<f64>,
    pub mean: Option<f64>,
    pub maximum: Option<f64>,
    /// kPa
    pub vpd: Option<f64>,
    /// mol m⁻² d⁻¹
    pub dli: Option<f64>,
    /// The light record covers only part of the day.
    pub dli_is_estimate: bool,
}

const RANGE: Ink = Ink::new(186, 218, 240);
const LIGHT: Ink = Ink::new(150, 110, 20);
const LIGHT_ESTIMATE: Ink = Ink::new(238, 205, 128);

impl ClimateFigure {
    /// The pages, none without a value.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        let of = DayStacks {
            tracks: tracks(self),
            stacks: self.houses.iter().map(stack).collect(),
            notes: Vec::new(),
            width: self.width,
            gap_words: "no record".into(),
            bridged: 1,
        }
        .without_empty_tracks();
        written(pages(&of, |stacks| (self.caption(), self.alt(stacks))))
    }

    fn caption(&self) -> Caption {
        let finding = if self.caption.finding.is_empty() { self.finding() } else { self.caption.finding.clone() };
        Caption { finding, ..self.caption.clone() }
    }

    /// Season means by house, as far as they can be told.
    fn finding(&self) -> String {
        let of = |house: &ClimateHouse| {
            let mean = mean(house.days.iter().filter_map(|d| d.mean))?;
            let light = mean_light(house).map_or(String::new(), |l| format!(", {} mol m⁻² d⁻¹ of light", fixed(l, 1)));
            Some(format!("{}: {} °C{light}", house.title, fixed(mean, 1)))
        };
        let parts: Vec<String> = self.houses.iter().filter_map(of).collect();
        format!("Means of the recorded days: {}.", parts.join("; "))
    }

    fn alt(&self, stacks: &[Stack]) -> String {
        let houses: Vec<&str> = stacks.iter().map(|s| s.title.as_str()).collect();
        format!("Temperature range and mean, vapour pressure deficit and daily light by day; houses: {}.", houses.join(", "))
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0u32), |(s, n), v| (s + v, n + 1));
    (n > 0).then(|| sum / f64::from(n))
}

fn mean_light(house: &ClimateHouse) -> Option<f64> {
    mean(house.days.iter().filter_map(|d| d.dli))
}

fn tracks(figure: &ClimateFigure) -> Vec<Track> {
    let track = |label: &str, height, from_zero, words: &[&str]| Track {
        label: label.into(),
        height,
        from_zero,
        zone: None,
        words: words.iter().map(|w| (*w).to_string()).collect(),
    };
    vec![
        Track { zone: figure.band, ..track("air, °C", 34.0, false, &["least to greatest of the day", "mean of the day"]) },
        track("VPD, kPa", 20.0, true, &["", "mean of the day"]),
        track("DLI, mol m⁻² d⁻¹", 24.0, true, &["daily light integral (DLI)", "DLI from part of the day's record"]),
    ]
}

fn stack(house: &ClimateHouse) -> Stack {
    let values = |of: fn(&ClimateDay) -> Option<f64>| -> Vec<(Date, f64)> {
        house.days.iter().filter_map(|d| of(d).filter(|v| v.is_finite()).map(|v| (d.day, v))).collect()
    };
    let range = house.days.iter().filter_map(|d| Some((d.day, (d.minimum?, d.maximum?)))).collect();
    let line = Hand { dash: &[], ..Hand::of(0, 0) };
    let plain = |values| Layer::Line { values, hand: Hand { ink: BLACK, ..line }, marked: false };
    let vpd = Layer::Line { values: values(|d| d.vpd), hand: Hand { ink: BLUE, ..line }, marked: false };
    let whole = values(|d| d.dli.filter(|_| !d.dli_is_estimate));
    let part = values(|d| d.dli.filter(|_| d.dli_is_estimate));
    Stack {
        title: house.title.clone(),
        layers: vec![
            vec![Layer::Band { values: range, ink: RANGE }, plain(values(|d| d.mean))],
            vec![vpd],
            vec![Layer::Bars { values: whole, ink: LIGHT }, Layer::Bars { values: part, ink: LIGHT_ESTIMATE }],
        ],
    }
}
