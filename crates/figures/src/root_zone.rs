//! Root zone by day: drain fraction, EC and pH of feed and drain, with the bands aimed at; one column a zone.
use crate::day_stack::{DayStacks, Layer, Stack, Track, pages};
use crate::drawing::{Caption, Drawing, written};
use crate::faults::FigureFault;
use crate::look::{Hand, Width};
use crate::numbers::fixed;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Days of the zones (lines, benches, houses) of a site.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RootZoneFigure {
    pub caption: Caption,
    pub zones: Vec<RootZone>,
    pub targets: Targets,
    #[serde(skip)]
    pub width: Width,
}

/// Bands aimed at, low and high.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Targets {
    /// %
    pub drain: Option<(f64, f64)>,
    /// dS/m, of the feed
    pub ec: Option<(f64, f64)>,
    pub ph: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct RootZone {
    pub title: String,
    /// In order of days.
    pub days: Vec<RootZoneDay>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RootZoneDay {
    pub day: Date,
    /// 0 to 1
    pub drain_fraction: Option<f64>,
    /// dS/m
    pub feed_ec: Option<f64>,
    pub drain_ec: Option<f64>,
    pub feed_ph: Option<f64>,
    pub drain_ph: Option<f64>,
}

impl RootZoneFigure {
    /// The pages, none without a value.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        let of = DayStacks {
            tracks: tracks(&self.targets),
            stacks: self.zones.iter().map(stack).collect(),
            notes: self.targets.ec.map(|_| "The target of EC is that of the feed.".to_string()).into_iter().collect(),
            width: self.width,
            gap_words: String::new(),
            bridged: 3,
        }
        .without_empty_tracks();
        written(pages(&of, |stacks| (self.caption(), alt(stacks))))
    }

    fn caption(&self) -> Caption {
        let finding = if self.caption.finding.is_empty() { self.finding() } else { self.caption.finding.clone() };
        Caption { finding, ..self.caption.clone() }
    }

    /// Mean drain and mean rise of EC, zone by zone.
    fn finding(&self) -> String {
        let of = |zone: &RootZone| {
            let drain = mean(zone.days.iter().filter_map(|d| d.drain_fraction));
            let rise = mean(zone.days.iter().filter_map(|d| Some(d.drain_ec? - d.feed_ec?)));
            let parts: Vec<String> = [
                drain.map(|d| format!("{} % drained", fixed(d * 100.0, 0))),
                rise.map(|r| format!("drain EC {} dS/m above feed", fixed(r, 1))),
            ]
            .into_iter()
            .flatten()
            .collect();
            (!parts.is_empty()).then(|| format!("{}: {}", zone.title, parts.join(", ")))
        };
        let parts: Vec<String> = self.zones.iter().filter_map(of).collect();
        format!("Means of the recorded days: {}.", parts.join("; "))
    }
}

fn alt(stacks: &[Stack]) -> String {
    let zones: Vec<&str> = stacks.iter().map(|s| s.title.as_str()).collect();
    format!("Drain fraction, and electrical conductivity and pH of feed and drain, by day; zones: {}.", zones.join(", "))
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0u32), |(s, n), v| (s + v, n + 1));
    (n > 0).then(|| sum / f64::from(n))
}

fn tracks(targets: &Targets) -> Vec<Track> {
    let track = |label: &str, height, from_zero, zone, words: &[&str]| Track {
        label: label.into(),
        height,
        from_zero,
        zone,
        words: words.iter().map(|w| (*w).to_string()).collect(),
    };
    vec![
        track("drain, %", 22.0, true, targets.drain, &["drain"]),
        track("EC, dS/m", 26.0, false, targets.ec, &["feed", "drain"]),
        track("pH", 22.0, false, targets.ph, &["feed", "drain"]),
    ]
}

fn stack(zone: &RootZone) -> Stack {
    let values = |of: fn(&RootZoneDay) -> Option<f64>| -> Vec<(Date, f64)> {
        zone.days.iter().filter_map(|d| of(d).filter(|v| v.is_finite()).map(|v| (d.day, v))).collect()
    };
    let feed = |values| Layer::Line { values, hand: Hand::of(0, 1), marked: true };
    let drain = |values| Layer::Line { values, hand: Hand::of(1, 0), marked: true };
    Stack {
        title: zone.title.clone(),
        layers: vec![
            vec![drain(values(|d| d.drain_fraction.map(|f| f * 100.0)))],
            vec![feed(values(|d| d.feed_ec)), drain(values(|d| d.drain_ec))],
            vec![feed(values(|d| d.feed_ph)), drain(values(|d| d.drain_ph))],
        ],
    }
}
