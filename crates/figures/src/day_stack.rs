//! Panels of days stacked over one time axis: what the climate and the root-zone figures share.
use crate::axes::{self, Area, TICK_ROOM};
use crate::canvas::Canvas;
use crate::drawing::{Caption, Page};
use crate::fitting::{shortened, wrapped};
use crate::legend::{key, line_icon};
use crate::look::{BLUE, CAPS, HAIRLINE, Hand, Ink, LEADING, PAGE_HEIGHT, STROKE, Width, ZONE};
use crate::markers::marker;
use crate::scales::{Scale, Ticks, extent, padded, ticks};
use crate::time_axis::{DayAxis, days_between, days_in_a_row, gaps, runs};
use jiff::civil::Date;

/// Columns of stacks (a house, a zone), all with the same tracks.
#[derive(Debug, Clone)]
pub struct DayStacks {
    pub tracks: Vec<Track>,
    pub stacks: Vec<Stack>,
    pub notes: Vec<String>,
    pub width: Width,
    /// Name of the hatched ground of days without any record; empty: no such ground.
    pub gap_words: String,
    /// Lines run on over steps of up to so many days.
    pub bridged: i32,
}

/// One panel of every stack.
#[derive(Debug, Clone)]
pub struct Track {
    pub label: String,
    pub height: f64,
    /// The axis starts at zero.
    pub from_zero: bool,
    pub zone: Option<(f64, f64)>,
    /// Words of the layers, for the key; one a layer of the stack's `layers`, in order.
    pub words: Vec<String>,
}

#[derive(Debug, Clone)]
pub struct Stack {
    pub title: String,
    /// One list of layers a track.
    pub layers: Vec<Vec<Layer>>,
}

#[derive(Debug, Clone)]
pub enum Layer {
    Band {
        values: Vec<(Date, (f64, f64))>,
        ink: Ink,
    },
    /// Markers only where a panel has several lines.
    Line {
        values: Vec<(Date, f64)>,
        hand: Hand,
        marked: bool,
    },
    /// A step a day down to zero.
    Bars {
        values: Vec<(Date, f64)>,
        ink: Ink,
    },
}

impl Layer {
    fn extent(&self) -> Option<(f64, f64)> {
        match self {
            Layer::Band { values, .. } => extent(values.iter().flat_map(|(_, (a, b))| [*a, *b])),
            Layer::Line { values, .. } | Layer::Bars { values, .. } => extent(values.iter().map(|(_, v)| *v)),
        }
    }

    fn days(&self) -> Vec<Date> {
        match self {
            Layer::Band { values, .. } => values.iter().map(|(d, _)| *d).collect(),
            Layer::Line { values, .. } | Layer::Bars { values, .. } => values.iter().map(|(d, _)| *d).collect(),
        }
    }
}

const MARGIN: f64 = 2.0;
const COLUMN_GAP: f64 = 6.0;
const TRACK_GAP: f64 = 3.2;
const ROW_GAP: f64 = 3.0;
/// Daily lines turn often: a thin stroke keeps the turns apart.
const THIN: f64 = 0.75;

struct Layout<'a> {
    of: &'a DayStacks,
    axis: DayAxis,
    scales: Vec<(Scale, Ticks)>,
    left: f64,
    columns: usize,
    panel: f64,
}

impl DayStacks {
    /// Without the tracks of which no stack has a value: a house without a light sensor gets no empty panel.
    pub fn without_empty_tracks(mut self) -> Self {
        let told = |i: usize| self.stacks.iter().any(|s| s.layers.get(i).is_some_and(|l| l.iter().any(|l| l.extent().is_some())));
        let keep: Vec<bool> = (0..self.tracks.len()).map(told).collect();
        let kept = |i: &usize| keep.get(*i).copied().unwrap_or(false);
        self.tracks = self.tracks.into_iter().enumerate().filter(|(i, _)| kept(i)).map(|(_, t)| t).collect();
        for stack in &mut self.stacks {
            let layers = std::mem::take(&mut stack.layers);
            stack.layers = layers.into_iter().enumerate().filter(|(i, _)| kept(i)).map(|(_, l)| l).collect();
        }
        self
    }
}

/// The pages; `about` gives caption and text alternative for the stacks of a page.
pub fn pages(of: &DayStacks, about: impl Fn(&[Stack]) -> (Caption, String)) -> Vec<Page> {
    let Some(layout) = Layout::of(of) else { return Vec::new() };
    let row = axes::head_height(1) + layout.stack_height() + TICK_ROOM + ROW_GAP;
    let rows = ((PAGE_HEIGHT - 24.0) / row).floor().max(1.0) as usize;
    of.stacks.chunks(rows * layout.columns).map(|stacks| layout.page(stacks, about(stacks))).collect()
}

impl<'a> Layout<'a> {
    fn of(of: &'a DayStacks) -> Option<Self> {
        let days: Vec<Date> = all_layers(of).flat_map(Layer::days).collect();
        let (first, last) = (days.iter().min().copied()?, days.iter().max().copied()?);
        let scales: Vec<(Scale, Ticks)> = (0..of.tracks.len()).filter_map(|i| track_scale(of, i)).collect();
        let widest = scales.iter().map(|(_, t)| t.widest()).fold(0.0, f64::max);
        let left = LEADING + 1.2 + widest + 1.2;
        let columns = columns(of.width, of.stacks.len());
        let room = of.width.mm() - 2.0 * MARGIN - left - COLUMN_GAP * (columns as f64 - 1.0);
        let panel = room / columns as f64;
        Some(Layout { of, axis: DayAxis { first, last, from: 0.0, to: panel }, scales, left, columns, panel })
    }

    fn stack_height(&self) -> f64 {
        self.of.tracks.iter().map(|t| t.height).sum::<f64>() + TRACK_GAP * (self.of.tracks.len() as f64 - 1.0) + 1.2
    }

    fn page(&self, stacks: &[Stack], (caption, alt): (Caption, String)) -> Page {
        let mut canvas = Canvas::default();
        let width = self.of.width.mm();
        let mut y = MARGIN + self.key(&mut canvas, stacks, width);
        for row in stacks.chunks(self.columns) {
            let rule = y + axes::head_height(1);
            for (i, stack) in row.iter().enumerate() {
                let left = MARGIN + self.left + i as f64 * (self.panel + COLUMN_GAP);
                axes::head(&mut canvas, left, left + self.panel, rule, &[shortened(&stack.title, self.panel, true)]);
                self.stack(&mut canvas, stack, left, rule + 1.2, i == 0);
            }
            y = rule + self.stack_height() + TICK_ROOM + ROW_GAP;
        }
        let height = axes::notes(&mut canvas, MARGIN, y - ROW_GAP + 0.5, width - 2.0 * MARGIN, &self.of.notes) + MARGIN;
        Page { caption, alt, canvas, width, height }
    }

    fn stack(&self, canvas: &mut Canvas, stack: &Stack, left: f64, top: f64, named: bool) {
        let mut y = top;
        let axis = self.axis.over(left, left + self.panel);
        let missing = self.missing(stack);
        let last = self.of.tracks.len().saturating_sub(1);
        for (i, track) in self.of.tracks.iter().enumerate() {
            let area = Area { left, top: y, right: left + self.panel, bottom: y + track.height };
            self.ground(canvas, area, &axis, &missing);
            if let (Some((scale, ticks)), Some(layers)) = (self.scales.get(i), stack.layers.get(i)) {
                let scale = scale.over(area.bottom, area.top);
                zone(canvas, area, &scale, track.zone);
                axes::grid_level(canvas, area, &scale, ticks);
                axis.draw(canvas, area, i == last);
                layers.iter().for_each(|layer| draw_layer(canvas, layer, &axis, &scale, self.of.bridged));
                zone_edges(canvas, area, &scale, track.zone);
                if named {
                    axes::labels_left(canvas, area, &scale, ticks);
                    self.track_name(canvas, track, area);
                }
            }
            y += track.height + TRACK_GAP;
        }
    }

    fn track_name(&self, canvas: &mut Canvas, track: &Track, area: Area) {
        let lines = wrapped(&track.label, track.height + TRACK_GAP, 1, false);
        let middle = (area.top + area.bottom) / 2.0;
        lines.iter().for_each(|line| canvas.text_upward((MARGIN + CAPS, middle), line));
    }

    /// Days between the stack's own first and last record, and those of the figure, on which it has none.
    fn missing(&self, stack: &Stack) -> Vec<(Date, Date)> {
        if self.of.gap_words.is_empty() {
            return Vec::new();
        }
        let mut days: Vec<Date> = stack.layers.iter().flatten().flat_map(Layer::days).collect();
        days.sort_unstable();
        days.dedup();
        gaps(self.axis.first, self.axis.last, &days)
    }

    fn ground(&self, canvas: &mut Canvas, area: Area, axis: &DayAxis, missing: &[(Date, Date)]) {
        for (from, to) in missing {
            let right = axis.start(*to) + axis.day_width();
            hatched(canvas, (axis.start(*from), area.top), (right, area.bottom));
        }
    }

    /// One entry for each kind of mark in use.
    fn key(&self, canvas: &mut Canvas, stacks: &[Stack], width: f64) -> f64 {
        let mut entries: Vec<(String, Icon)> = Vec::new();
        for (i, track) in self.of.tracks.iter().enumerate() {
            for (j, words) in track.words.iter().enumerate() {
                let layer = stacks.iter().filter_map(|s| s.layers.get(i)?.get(j)).find(|l| !l.days().is_empty());
                if let Some(layer) = layer
                    && !words.is_empty()
                    && entries.iter().all(|(w, _)| w != words)
                {
                    entries.push((words.clone(), Icon::of(layer)));
                }
            }
        }
        if self.of.tracks.iter().any(|t| t.zone.is_some()) {
            entries.push(("target".into(), Icon::Zone));
        }
        if stacks.iter().any(|s| !self.missing(s).is_empty()) {
            entries.push((self.of.gap_words.clone(), Icon::Gap));
        }
        let words: Vec<String> = entries.iter().map(|(w, _)| w.clone()).collect();
        let height = key(canvas, (MARGIN, MARGIN), width - 2.0 * MARGIN, 7.0, &words, |canvas, i, at| {
            if let Some((_, icon)) = entries.get(i) {
                icon.draw(canvas, at);
            }
        });
        if height > 0.0 { height + 1.5 } else { 0.0 }
    }
}

enum Icon {
    Band(Ink),
    Line(Hand, bool),
    Bars(Ink),
    Zone,
    Gap,
}

impl Icon {
    fn of(layer: &Layer) -> Icon {
        match layer {
            Layer::Band { ink, .. } => Icon::Band(*ink),
            Layer::Line { hand, marked, .. } => Icon::Line(*hand, *marked),
            Layer::Bars { ink, .. } => Icon::Bars(*ink),
        }
    }

    fn draw(&self, canvas: &mut Canvas, (x, y): (f64, f64)) {
        match self {
            Icon::Band(ink) => canvas.rect((x, y - 1.2), (x + 7.0, y + 1.2), *ink),
            Icon::Line(hand, true) => line_icon(canvas, hand, (x, y)),
            Icon::Line(hand, false) => canvas.dashed(&[(x, y), (x + 7.0, y)], hand.dash, hand.ink, STROKE),
            Icon::Bars(ink) => {
                let heights = [0.7, 1.9, 1.2, 2.4, 1.6];
                for (i, height) in heights.iter().enumerate() {
                    let left = x + 1.4 * i as f64;
                    canvas.rect((left, y + 1.2 - height), (left + 1.4, y + 1.2), *ink);
                }
            }
            Icon::Zone => zone_box(canvas, (x, y - 1.2), (x + 7.0, y + 1.2)),
            Icon::Gap => hatched(canvas, (x, y - 1.2), (x + 7.0, y + 1.2)),
        }
    }
}

/// Days without a record: a pale ground with slanting hairlines, told from white paper in any print.
fn hatched(canvas: &mut Canvas, (left, top): (f64, f64), (right, bottom): (f64, f64)) {
    canvas.rect((left, top), (right, bottom), Ink::new(246, 246, 246));
    let (wide, high) = (right - left, bottom - top);
    let mut shift = 1.6;
    while shift < wide + high {
        let from = (left + (shift - high).max(0.0), if shift > high { bottom } else { top + shift });
        let to = (left + shift.min(wide), if shift > wide { top + shift - wide } else { top });
        canvas.line(from, to, Ink::new(200, 200, 200), HAIRLINE);
        shift += 1.6;
    }
}

/// Side by side as far as months stay readable, without an empty corner where three divide better.
fn columns(width: Width, stacks: usize) -> usize {
    match (width, stacks) {
        (Width::Single, _) => 1,
        (Width::Middle, n) => n.clamp(1, 2),
        (Width::Double, 3 | 5 | 6) => 3,
        (Width::Double, n) if n > 8 => 3,
        (Width::Double, n) => n.clamp(1, 2),
    }
}

fn zone(canvas: &mut Canvas, area: Area, scale: &Scale, zone: Option<(f64, f64)>) {
    let Some((low, high)) = zone else { return };
    let (top, bottom) = (scale.at(high).max(area.top), scale.at(low).min(area.bottom));
    if top < bottom {
        canvas.rect((area.left, top), (area.right, bottom), ZONE);
    }
}

/// Drawn last: the data would hide them.
fn zone_edges(canvas: &mut Canvas, area: Area, scale: &Scale, zone: Option<(f64, f64)>) {
    for y in zone.into_iter().flat_map(|(low, high)| [scale.at(low), scale.at(high)]) {
        if (area.top..=area.bottom).contains(&y) {
            canvas.dashed(&[(area.left, y), (area.right, y)], &[1.2, 0.9], BLUE, 0.5);
        }
    }
}

/// The zone as it stands in the key.
fn zone_box(canvas: &mut Canvas, (left, top): (f64, f64), (right, bottom): (f64, f64)) {
    canvas.rect((left, top), (right, bottom), ZONE);
    for y in [top, bottom] {
        canvas.dashed(&[(left, y), (right, y)], &[1.2, 0.9], BLUE, 0.5);
    }
}

fn draw_layer(canvas: &mut Canvas, layer: &Layer, axis: &DayAxis, scale: &Scale, bridged: i32) {
    match layer {
        Layer::Band { values, ink } => days_in_a_row(values).iter().for_each(|run| band(canvas, run, *ink, axis, scale)),
        Layer::Line { values, hand, marked } => {
            runs(values, bridged).iter().for_each(|run| line(canvas, run, hand, *marked, axis, scale));
        }
        Layer::Bars { values, ink } => days_in_a_row(values).iter().for_each(|run| steps(canvas, run, *ink, axis, scale)),
    }
}

/// One shape a run: bars drawn singly would leave pale seams.
fn steps(canvas: &mut Canvas, run: &[(Date, f64)], ink: Ink, axis: &DayAxis, scale: &Scale) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let mut spots = vec![(axis.start(first.0), scale.at(0.0))];
    for (day, value) in run {
        let left = axis.start(*day);
        spots.extend([(left, scale.at(*value)), (left + axis.day_width(), scale.at(*value))]);
    }
    spots.push((axis.start(last.0) + axis.day_width(), scale.at(0.0)));
    canvas.polygon(spots, ink);
}

/// Reaches over the whole width of its first and last day, so that a single day is still seen.
fn band(canvas: &mut Canvas, run: &[(Date, (f64, f64))], ink: Ink, axis: &DayAxis, scale: &Scale) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let mut spots = vec![(axis.start(first.0), scale.at(first.1.1))];
    spots.extend(run.iter().map(|(d, (_, high))| (axis.middle(*d), scale.at(*high))));
    let right = axis.start(last.0) + axis.day_width();
    spots.extend([(right, scale.at(last.1.1)), (right, scale.at(last.1.0))]);
    spots.extend(run.iter().rev().map(|(d, (low, _))| (axis.middle(*d), scale.at(*low))));
    spots.push((axis.start(first.0), scale.at(first.1.0)));
    canvas.polygon(spots, ink);
}

fn line(canvas: &mut Canvas, run: &[(Date, f64)], hand: &Hand, marked: bool, axis: &DayAxis, scale: &Scale) {
    let spots: Vec<(f64, f64)> = run.iter().map(|(d, v)| (axis.middle(*d), scale.at(*v))).collect();
    if let [only] = spots.as_slice() {
        canvas.disc(*only, 0.4, hand.ink);
        return;
    }
    canvas.dashed(&spots, hand.dash, hand.ink, THIN);
    if !marked {
        return;
    }
    let span = f64::from(days_between(axis.first, axis.last)).max(1.0);
    let every = ((span / 9.0).ceil() as i32).max(1);
    for ((day, _), spot) in run.iter().zip(&spots) {
        if days_between(axis.first, *day) % every == every / 2 {
            marker(canvas, hand, *spot, 0.75);
        }
    }
}

fn all_layers(of: &DayStacks) -> impl Iterator<Item = &Layer> {
    of.stacks.iter().flat_map(|s| s.layers.iter().flatten())
}

fn track_scale(of: &DayStacks, index: usize) -> Option<(Scale, Ticks)> {
    let track = of.tracks.get(index)?;
    let layers = of.stacks.iter().filter_map(|s| s.layers.get(index)).flatten();
    let seen = layers.filter_map(Layer::extent).flat_map(|(a, b)| [a, b]);
    let zone = track.zone.into_iter().flat_map(|(a, b)| [a, b]);
    let floor = track.from_zero.then_some(0.0);
    let (low, high) = extent(seen.chain(zone).chain(floor)).unwrap_or((0.0, 1.0));
    let (padded_low, high) = padded((low, high), 0.06);
    let low = if track.from_zero && low >= 0.0 { 0.0 } else { padded_low };
    let ticks = ticks(low, high, (track.height / 5.0).floor().clamp(2.0, 6.0) as usize);
    Some((Scale { low, high, from: track.height, to: 0.0 }, ticks))
}
