//! Differences site by site with the one across sites below: point, interval, and the numbers beside them.
use crate::axes::{self, Area, TICK_ROOM};
use crate::canvas::{Anchor, Canvas, text_width};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::wrapped;
use crate::look::{BLACK, BLUE, CAPS, GRID, Hand, LEADING, MUTED, PAGE_HEIGHT, RULE, RULE_INK, STROKE, WHITE, Width, ZONE};
use crate::markers::{Shape, marker};
use crate::numbers::{decimals_for, fixed};
use crate::scales::{Scale, Ticks, extent, padded, ratio_ticks_across, ticks_across};
use serde::{Deserialize, Serialize};

/// Differences of one response.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct DifferencesFigure {
    pub caption: Caption,
    /// Such as "marketable yield" and "kg per plant".
    pub response: String,
    pub unit: String,
    /// Confidence level of the intervals, %.
    pub level: f64,
    /// How the intervals are adjusted for the number of comparisons, in words; empty: they are not.
    pub adjusted: String,
    /// Stated margin of equivalence, in `unit`, positive.
    pub margin: Option<f64>,
    /// Decimals of the printed numbers; absent: two figures of a typical half-width.
    pub decimals: Option<usize>,
    /// What the numbers are ("ratio", "difference"); empty: differences.
    pub quantity: String,
    /// The numbers are ratios: their axis is logarithmic, and 1 stands for no difference.
    pub ratios: bool,
    /// What lies left and right of zero ("perlite more", "blend more"); empty where the groups differ.
    pub below: String,
    pub above: String,
    pub groups: Vec<DifferenceGroup>,
    /// Printed at the foot.
    pub notes: Vec<String>,
    #[serde(skip)]
    pub width: Width,
}

/// One comparison, such as "blend − perlite, in buckets", or one heading with many.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct DifferenceGroup {
    pub title: String,
    pub rows: Vec<DifferenceRow>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DifferenceRow {
    pub label: String,
    pub of: RowKind,
    pub value: DifferenceValue,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum RowKind {
    Site,
    /// Across the sites of the trial.
    TheseSites,
    /// Across sites like those of the trial.
    SitesLikeThese,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum DifferenceValue {
    Told {
        estimate: f64,
        low: f64,
        high: f64,
    },
    /// The reason in short.
    CannotBeTold {
        why: String,
    },
}

impl DifferencesFigure {
    fn quantity(&self) -> &str {
        if self.quantity.is_empty() { "difference" } else { &self.quantity }
    }

    /// Where a number stands on the axis, on which no difference is 0.
    fn axis(&self, value: f64) -> f64 {
        if self.ratios { value.ln() } else { value }
    }

    /// The pages, none if no row tells a number: reasons alone stand in the report's text.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        if told(self).next().is_none() {
            return Ok(Vec::new());
        }
        written(Layout::of(self).pages())
    }
}

const MARGIN: f64 = 2.0;
const ROW: f64 = 4.6;
const GROUP: f64 = 6.4;
const LABEL_MOST: f64 = 54.0;

/// A row or a heading, measured.
enum Item<'a> {
    Title(Vec<String>),
    Row { row: &'a DifferenceRow, lines: Vec<String>, reason: Vec<String>, ruled: bool },
}

impl Item<'_> {
    fn height(&self) -> f64 {
        match self {
            Item::Title(lines) => GROUP + (lines.len() as f64 - 1.0) * LEADING,
            Item::Row { lines, reason, .. } => ROW + (lines.len().max(reason.len()).max(1) as f64 - 1.0) * LEADING,
        }
    }
}

struct Layout<'a> {
    figure: &'a DifferencesFigure,
    items: Vec<Item<'a>>,
    area: Area,
    scale: Scale,
    ticks: Ticks,
    decimals: usize,
    header: String,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a DifferencesFigure) -> Self {
        let width = figure.width.mm();
        let decimals = figure.decimals.unwrap_or_else(|| decimals_for(&mut half_widths(figure)));
        let header = format!("{} ({} % interval)", if figure.ratios { figure.quantity() } else { &figure.unit }, figure.level);
        let numbers = told(figure).map(|v| text_width(&numbers(v, decimals), false)).fold(0.0, f64::max);
        let numbers = numbers.max(text_width(&header, false).min(width * 0.3));
        let label = labels_width(figure, (width * 0.31).min(LABEL_MOST));
        let area = Area { left: MARGIN + label + 3.0, right: width - MARGIN - numbers - 4.0, top: 0.0, bottom: 0.0 };
        let (low, high) = shown_range(figure);
        let room = area.right - area.left;
        let ticks = if figure.ratios { ratio_ticks_across(low, high, room) } else { ticks_across(low, high, room) };
        let scale = Scale { low, high, from: area.left, to: area.right };
        let items = items(figure, label, width - MARGIN - area.left - 1.0);
        Layout { figure, items, area, scale, ticks, decimals, header }
    }

    fn pages(&self) -> Vec<Page> {
        let foot = TICK_ROOM + 4.0 * LEADING + axes::notes_height(self.figure.width.mm() - 2.0 * MARGIN, &self.notes());
        let room = PAGE_HEIGHT - 2.0 * MARGIN - LEADING - foot;
        page_runs(&self.items, room).into_iter().map(|run| self.page(run)).collect()
    }

    fn page(&self, items: &[Item]) -> Page {
        let mut canvas = Canvas::default();
        let width = self.figure.width.mm();
        let header = wrapped(&self.header, width - MARGIN - self.area.right - 1.0, 2, false);
        for (i, line) in header.iter().enumerate() {
            canvas.text_in((width - MARGIN, MARGIN + CAPS + 0.4 + i as f64 * LEADING), line, Anchor::End, MUTED, false);
        }
        let top = MARGIN + header.len().max(1) as f64 * LEADING + 0.6;
        let area = Area { top, bottom: top + 0.8 + items.iter().map(Item::height).sum::<f64>(), ..self.area };
        self.ground(&mut canvas, area, width);
        let mut y = top + 0.8;
        for item in items {
            self.item(&mut canvas, item, y, width);
            y += item.height();
        }
        let height = self.foot(&mut canvas, area, width) + MARGIN;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    /// Margin zone, grid and zero line, behind the rows.
    fn ground(&self, canvas: &mut Canvas, area: Area, width: f64) {
        if let Some(margin) = self.margin() {
            let (left, right) = (self.scale.at(-margin).max(area.left), self.scale.at(margin).min(area.right));
            canvas.rect((left, area.top), (right, area.bottom), ZONE);
            for x in [left, right] {
                canvas.dashed(&[(x, area.top), (x, area.bottom)], &[1.2, 0.9], BLUE, 0.5);
            }
        }
        axes::grid_upright(canvas, area, &self.scale, &self.ticks);
        canvas.line((MARGIN, area.top), (width - MARGIN, area.top), RULE_INK, RULE);
        canvas.line((self.scale.at(0.0), area.top), (self.scale.at(0.0), area.bottom), RULE_INK, RULE);
    }

    fn margin(&self) -> Option<f64> {
        self.figure.margin.map(f64::abs).filter(|m| m.is_finite() && *m > 0.0)
    }

    fn item(&self, canvas: &mut Canvas, item: &Item, y: f64, width: f64) {
        match item {
            Item::Title(lines) => self.title(canvas, lines, y, width),
            Item::Row { row, lines, reason, ruled } => {
                if *ruled {
                    canvas.line((MARGIN, y), (width - MARGIN, y), GRID, RULE);
                }
                let middle = y + ROW / 2.0;
                for (i, line) in lines.iter().enumerate() {
                    let at = (MARGIN, middle + CAPS / 2.0 + i as f64 * LEADING);
                    if row.of == RowKind::Site { canvas.text(at, line, Anchor::Start) } else { canvas.bold(at, line, Anchor::Start) }
                }
                match &row.value {
                    DifferenceValue::Told { .. } => self.told(canvas, row, middle, width),
                    DifferenceValue::CannotBeTold { .. } => self.reason(canvas, reason, middle, width),
                }
            }
        }
    }

    /// A heading over the whole width: the grid does not run through its words.
    fn title(&self, canvas: &mut Canvas, lines: &[String], y: f64, width: f64) {
        canvas.rect((MARGIN, y - 0.65), (width - MARGIN, y + GROUP - 0.5 + (lines.len() as f64 - 1.0) * LEADING), WHITE);
        for (i, line) in lines.iter().enumerate() {
            canvas.bold((MARGIN, y + 4.4 + i as f64 * LEADING), line, Anchor::Start);
        }
    }

    fn told(&self, canvas: &mut Canvas, row: &DifferenceRow, y: f64, width: f64) {
        let DifferenceValue::Told { estimate, low, high } = row.value else { return };
        let (hand, size) = hand(row.of);
        self.interval(
            canvas,
            (self.figure.axis(low), self.figure.axis(high)),
            y,
            if row.of == RowKind::Site { STROKE } else { 1.6 },
            &hand,
        );
        let on_axis = self.figure.axis(estimate);
        if (self.scale.low..=self.scale.high).contains(&on_axis) {
            marker(canvas, &hand, (self.scale.at(on_axis), y), size);
        }
        let text = numbers((estimate, low, high), self.decimals);
        canvas.text((width - MARGIN, y + CAPS / 2.0), &text, Anchor::End);
    }

    /// The bar; an end beyond the axis gets an arrow.
    fn interval(&self, canvas: &mut Canvas, (low, high): (f64, f64), y: f64, points: f64, hand: &Hand) {
        let (left, right) = (self.scale.at(low.max(self.scale.low)), self.scale.at(high.min(self.scale.high)));
        if left < right {
            canvas.line((left, y), (right, y), hand.ink, points);
        }
        if low < self.scale.low {
            canvas.polygon(vec![(left - 0.6, y), (left + 1.2, y - 1.0), (left + 1.2, y + 1.0)], hand.ink);
        }
        if high > self.scale.high {
            canvas.polygon(vec![(right + 0.6, y), (right - 1.2, y - 1.0), (right - 1.2, y + 1.0)], hand.ink);
        }
    }

    fn reason(&self, canvas: &mut Canvas, lines: &[String], y: f64, width: f64) {
        let bottom = y + ROW / 2.0 + (lines.len() as f64 - 1.0) * LEADING;
        canvas.rect((self.area.left, y - ROW / 2.0 + 0.3), (width - MARGIN, bottom - 0.3), WHITE);
        for (i, line) in lines.iter().enumerate() {
            canvas.text_in((self.area.left + 1.0, y + CAPS / 2.0 + i as f64 * LEADING), line, Anchor::Start, MUTED, false);
        }
    }

    /// Ticks, directions, axis words, notes; gives the place below them.
    fn foot(&self, canvas: &mut Canvas, area: Area, width: f64) -> f64 {
        axes::labels_below(canvas, area, &self.scale, &self.ticks);
        let mut y = area.bottom + TICK_ROOM;
        if !self.figure.below.is_empty() || !self.figure.above.is_empty() {
            y += LEADING;
            self.directions(canvas, y);
        }
        y += LEADING + 0.6;
        let words = if self.figure.ratios {
            format!("{} of {} (logarithmic axis; 1: no difference)", self.figure.quantity(), self.figure.response)
        } else {
            format!("{} in {}, {}", self.figure.quantity(), self.figure.response, self.figure.unit)
        };
        for line in wrapped(&words, 2.0 * (area.middle() - MARGIN).min(width - MARGIN - area.middle()), 3, false) {
            canvas.text((area.middle(), y), &line, Anchor::Middle);
            y += LEADING;
        }
        axes::notes(canvas, MARGIN, y - LEADING + 1.5, width - 2.0 * MARGIN, &self.notes())
    }

    /// What each side of zero means, as far as it fits on its side.
    fn directions(&self, canvas: &mut Canvas, y: f64) {
        let (zero, area) = (self.scale.at(0.0).clamp(self.area.left, self.area.right), self.area);
        let below = crate::fitting::shortened(&format!("← {}", self.figure.below), zero - MARGIN - 2.0, false);
        let above = crate::fitting::shortened(&format!("{} →", self.figure.above), self.figure.width.mm() - MARGIN - zero - 2.0, false);
        if zero - area.left > 6.0 {
            canvas.text((zero - 1.5, y), &below, Anchor::End);
        }
        if area.right - zero > 6.0 {
            canvas.text((zero + 1.5, y), &above, Anchor::Start);
        }
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if let Some(margin) = self.margin() {
            notes.push(format!(
                "Shaded: differences smaller than the stated margin of {} {}.",
                fixed(margin, self.decimals),
                self.figure.unit
            ));
        }
        if !self.figure.adjusted.is_empty() {
            notes.push(format!("Intervals: {}.", self.figure.adjusted.trim_end_matches('.')));
        }
        if on_axis(self.figure).any(|(_, low, high)| low < self.scale.low || high > self.scale.high) {
            notes.push("An arrow marks an interval that goes on beyond the axis; its numbers are whole.".into());
        }
        notes.extend(self.figure.notes.iter().cloned());
        notes
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    fn finding(&self) -> String {
        let all = told(self.figure).count();
        let clear = on_axis(self.figure).filter(|(_, low, high)| *low > 0.0 || *high < 0.0).count();
        let untold = self.figure.groups.iter().map(|g| g.rows.len()).sum::<usize>() - all;
        let (what, null) = if self.figure.ratios { ("ratios", "one") } else { ("differences", "zero") };
        let mut text = format!("Of {all} {what} shown, {clear} have an interval that leaves out {null}");
        if untold > 0 {
            text.push_str(&format!("; {untold} cannot be told"));
        }
        text + "."
    }

    fn alt(&self) -> String {
        let titles: Vec<&str> = self.figure.groups.iter().map(|g| g.title.as_str()).filter(|t| !t.is_empty()).take(6).collect();
        let of = if titles.is_empty() { String::new() } else { format!(": {}", titles.join("; ")) };
        let (figure, beside) = (self.figure, "by site and across sites");
        let what = if figure.ratios {
            format!("Ratios of {}", figure.response)
        } else {
            format!("Differences in {} in {}", figure.response, figure.unit)
        };
        format!("{what} with {} % intervals, {beside}{of}. The numbers stand beside the bars.", figure.level)
    }
}

fn hand(of: RowKind) -> (Hand, f64) {
    let hand = Hand { ink: BLACK, shape: Shape::Disc, hollow: false, dash: &[] };
    match of {
        RowKind::Site => (hand, 1.0),
        RowKind::TheseSites => (Hand { shape: Shape::Diamond, ink: BLUE, ..hand }, 1.4),
        RowKind::SitesLikeThese => (Hand { shape: Shape::Diamond, ink: BLUE, hollow: true, ..hand }, 1.4),
    }
}

fn told(figure: &DifferencesFigure) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
    figure.groups.iter().flat_map(|g| &g.rows).filter_map(|row| match row.value {
        DifferenceValue::Told { estimate, low, high } => Some((estimate, low, high)),
        DifferenceValue::CannotBeTold { .. } => None,
    })
}

/// As they stand on the axis: ratios as logarithms.
fn on_axis(figure: &DifferencesFigure) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
    told(figure).map(|(e, low, high)| (figure.axis(e), figure.axis(low), figure.axis(high)))
}

fn half_widths(figure: &DifferencesFigure) -> Vec<f64> {
    told(figure).map(|(_, low, high)| (high - low) / 2.0).filter(|h| h.is_finite()).collect()
}

fn numbers((estimate, low, high): (f64, f64, f64), decimals: usize) -> String {
    format!("{} ({} to {})", fixed(estimate, decimals), fixed(low, decimals), fixed(high, decimals))
}

fn labels_width(figure: &DifferencesFigure, most: f64) -> f64 {
    let rows = figure.groups.iter().flat_map(|g| &g.rows);
    rows.flat_map(|r| wrapped(&r.label, most, 3, r.of != RowKind::Site).into_iter().map(|l| text_width(&l, r.of != RowKind::Site)))
        .fold(12.0, f64::max)
}

/// All estimates, zero and the margin; intervals as far as four typical half-widths beyond the estimates.
fn shown_range(figure: &DifferencesFigure) -> (f64, f64) {
    let mut halves: Vec<f64> = on_axis(figure).map(|(_, low, high)| (high - low) / 2.0).filter(|h| h.is_finite()).collect();
    halves.sort_by(f64::total_cmp);
    let reach = 4.0 * halves.get(halves.len() / 2).copied().unwrap_or(1.0);
    let (least, most) = extent(on_axis(figure).map(|(e, _, _)| e)).unwrap_or((0.0, 0.0));
    let ends = on_axis(figure).flat_map(|(e, low, high)| [e, low.max(least - reach), high.min(most + reach)]);
    let margin = figure.margin.map_or(0.0, f64::abs);
    let (low, high) = extent(ends.chain([0.0, margin * 1.1, -margin * 1.1])).unwrap_or((-1.0, 1.0));
    padded((low, high), 0.04)
}

fn items<'a>(figure: &'a DifferencesFigure, label: f64, reason: f64) -> Vec<Item<'a>> {
    let mut items = Vec::new();
    for group in &figure.groups {
        if !group.title.is_empty() {
            items.push(Item::Title(wrapped(&group.title, figure.width.mm() - 2.0 * MARGIN, 2, true)));
        }
        let mut site_before = false;
        for row in &group.rows {
            let bold = row.of != RowKind::Site;
            let reason = match &row.value {
                DifferenceValue::CannotBeTold { why } => wrapped(&format!("cannot be told: {why}"), reason, 3, false),
                DifferenceValue::Told { .. } => Vec::new(),
            };
            items.push(Item::Row { row, lines: wrapped(&row.label, label + 0.01, 3, bold), reason, ruled: bold && site_before });
            site_before = !bold;
        }
    }
    items
}

/// Runs of items that fit a page, about even and broken between comparisons where they can; a heading is never the last.
fn page_runs<'i, 'a>(items: &'i [Item<'a>], room: f64) -> Vec<&'i [Item<'a>]> {
    let all: f64 = items.iter().map(Item::height).sum();
    let even = all / (all / room).ceil().max(1.0);
    let (mut runs, mut start, mut height) = (Vec::new(), 0, 0.0);
    for (i, item) in items.iter().enumerate() {
        let titled = all > room && matches!(item, Item::Title(_)) && height + 4.0 * ROW > even;
        let next = items.get(i + 1).filter(|_| matches!(item, Item::Title(_))).map_or(0.0, Item::height);
        if i > start && (titled || height + item.height() + next > room) {
            runs.extend(items.get(start..i));
            (start, height) = (i, 0.0);
        }
        height += item.height();
    }
    runs.extend(items.get(start..));
    runs
}
