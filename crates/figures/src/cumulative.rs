//! Cumulative yield over days after transplanting, one panel a site, each line named at its end.
use crate::axes::{self, Area, TICK_ROOM};
use crate::canvas::{Anchor, Canvas, text_width};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::{shortened, spread, wrapped, wrapped_at_commas};
use crate::look::{CAPS, GRID, HAIRLINE, Hand, LEADING, PAGE_HEIGHT, STROKE, Width};
use crate::markers::marker;
use crate::scales::{Scale, Ticks, extent, ticks, ticks_across};
use serde::{Deserialize, Serialize};

/// Mean cumulative yield of treatments.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CumulativeFigure {
    pub caption: Caption,
    /// Such as "cumulative marketable yield" and "kg per plant set".
    pub response: String,
    pub unit: String,
    /// What the days count from, such as "days after transplanting".
    pub days: String,
    pub panels: Vec<CumulativePanel>,
    #[serde(skip)]
    pub width: Width,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CumulativePanel {
    pub title: String,
    pub series: Vec<CumulativeSeries>,
}

/// One treatment: `first` and `second` choose colour with marker, and dash.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CumulativeSeries {
    pub label: String,
    pub first: usize,
    pub second: usize,
    /// Day and value, in order of days.
    pub points: Vec<(f64, f64)>,
}

impl CumulativeFigure {
    /// The pages, none without a point.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        match Layout::of(self) {
            Some(layout) => written(layout.pages()),
            None => Ok(Vec::new()),
        }
    }
}

const MARGIN: f64 = 2.0;
const GAP: f64 = 5.0;
const LABEL_PITCH: f64 = 3.2;
const NAME_INDENT: f64 = 5.5;
const NAME_LEADING: f64 = LEADING - 0.3;

struct Layout<'a> {
    figure: &'a CumulativeFigure,
    columns: usize,
    /// Width of a panel's data, and of the names beside them.
    plot: f64,
    names: f64,
    /// Lines of a name, and height it is given.
    lines: usize,
    pitch: f64,
    left: f64,
    height: f64,
    x: Scale,
    y: Scale,
    x_ticks: Ticks,
    y_ticks: Ticks,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a CumulativeFigure) -> Option<Self> {
        let points = || figure.panels.iter().flat_map(|p| &p.series).flat_map(|s| &s.points);
        let days = extent(points().map(|p| p.0))?;
        let top = extent(points().map(|p| p.1).chain([0.0]))?.1.max(1e-9) * 1.04;
        let most = figure.panels.iter().map(|p| p.series.len()).max().unwrap_or(0);
        let columns = if figure.panels.len() > 1 && most <= 24 && figure.width != Width::Single { 2 } else { 1 };
        let y_ticks = ticks(0.0, top, 6);
        let left = LEADING + 1.0 + y_ticks.widest() + 1.2;
        let gaps = (columns as f64 - 1.0) * (GAP + y_ticks.widest() + 1.2);
        let room = (figure.width.mm() - 2.0 * MARGIN - left - gaps) / columns as f64;
        let (names, lines) = names_room(figure, room * 0.42);
        let pitch = if lines > 1 { lines as f64 * NAME_LEADING + 0.5 } else { LABEL_PITCH };
        let height = (most as f64 * pitch).clamp(42.0, 190.0);
        let plot = room - names;
        let x_ticks = ticks_across(days.0, days.1, plot);
        let x = Scale { low: days.0, high: days.1.max(days.0 + 1.0), from: 0.0, to: plot };
        let y = Scale { low: 0.0, high: top, from: height, to: 0.0 };
        Some(Layout { figure, columns, plot, names, lines, pitch, left, height, x, y, x_ticks, y_ticks })
    }

    fn row_height(&self) -> f64 {
        axes::head_height(1) + 1.5 + self.height + TICK_ROOM + 3.0
    }

    fn pages(&self) -> Vec<Page> {
        let rows = ((PAGE_HEIGHT - 2.0 * MARGIN - LEADING) / self.row_height()).floor().max(1.0) as usize;
        self.figure.panels.chunks(rows * self.columns).map(|panels| self.page(panels)).collect()
    }

    fn page(&self, panels: &[CumulativePanel]) -> Page {
        let mut canvas = Canvas::default();
        let (width, step) = (self.figure.width.mm(), self.plot + self.names + GAP + self.y_ticks.widest() + 1.2);
        let mut y = MARGIN;
        for row in panels.chunks(self.columns) {
            for (i, panel) in row.iter().enumerate() {
                let left = MARGIN + self.left + i as f64 * step;
                let top = y + axes::head_height(1) + 1.5;
                self.panel(&mut canvas, panel, Area { left, top, right: left + self.plot, bottom: top + self.height });
            }
            y += self.row_height();
        }
        let words = format!("{}, {}", self.figure.response, self.figure.unit);
        canvas.text_upward((MARGIN + CAPS, (MARGIN + y - TICK_ROOM) / 2.0), &shortened(&words, y - 2.0 * MARGIN, false));
        canvas.text(((MARGIN + self.left + width) / 2.0, y + 0.6), &self.figure.days, Anchor::Middle);
        let height = y + 0.6 + 1.0 + MARGIN;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    fn panel(&self, canvas: &mut Canvas, panel: &CumulativePanel, area: Area) {
        let title: Vec<String> = vec![shortened(&panel.title, self.plot + self.names, true)];
        axes::head(canvas, area.left, area.right + self.names, area.top - 1.5, &title);
        let (x, y) = (self.x.over(area.left, area.right), self.y.over(area.bottom, area.top));
        axes::grid_level(canvas, area, &y, &self.y_ticks);
        axes::labels_left(canvas, area, &y, &self.y_ticks);
        axes::labels_below(canvas, area, &x, &self.x_ticks);
        let of = panel.series.len().max(1);
        for (i, series) in panel.series.iter().enumerate() {
            self.series(canvas, series, &x, &y, i as f64 / of as f64);
        }
        self.names(canvas, panel, &x, &y, area);
    }

    /// Line with markers about every seventh of the panel, staggered so that series do not hide each other's.
    fn series(&self, canvas: &mut Canvas, series: &CumulativeSeries, x: &Scale, y: &Scale, stagger: f64) {
        let hand = Hand::of(series.first, series.second);
        let spots: Vec<(f64, f64)> = series.points.iter().map(|(d, v)| (x.at(*d), y.at(*v))).collect();
        canvas.dashed(&spots, hand.dash, hand.ink, STROKE);
        let every = self.plot / 7.0;
        let mut next = x.from + every * (0.3 + stagger);
        for spot in &spots {
            if spot.0 >= next {
                marker(canvas, &hand, *spot, 0.9);
                next += every;
            }
        }
    }

    /// Names beside the ends of the lines, moved apart where they would meet, each with a thread to its line.
    fn names(&self, canvas: &mut Canvas, panel: &CumulativePanel, x: &Scale, y: &Scale, area: Area) {
        let ends = panel.series.iter().filter_map(|s| s.points.last().map(|(d, v)| (s, x.at(*d), y.at(*v))));
        let mut ends: Vec<(&CumulativeSeries, f64, f64)> = ends.collect();
        ends.sort_by(|a, b| a.2.total_cmp(&b.2));
        let wanted: Vec<f64> = ends.iter().map(|e| e.2).collect();
        let slack = ((ends.len() as f64 * self.pitch - self.height) / 2.0).max(0.0) + 1.0;
        let placed = spread(&wanted, self.pitch, area.top - slack, area.bottom + slack);
        for ((series, end, value), place) in ends.into_iter().zip(placed) {
            let hand = Hand::of(series.first, series.second);
            canvas.path(
                vec![(end + 0.4, value), (area.right + 2.4, place), (area.right + 3.0, place)],
                GRID.towards(hand.ink, 0.4),
                HAIRLINE,
            );
            marker(canvas, &hand, (area.right + 4.0, place), 0.9);
            let name = wrapped_at_commas(&series.label, self.names - NAME_INDENT, self.lines);
            let first = place + CAPS / 2.0 - (name.len() as f64 - 1.0) * NAME_LEADING / 2.0;
            for (i, line) in name.iter().enumerate() {
                canvas.text((area.right + NAME_INDENT, first + i as f64 * NAME_LEADING), line, Anchor::Start);
            }
        }
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    /// The greatest end of each site.
    fn finding(&self) -> String {
        let best = |p: &CumulativePanel| {
            let last = |s: &CumulativeSeries| s.points.last().map(|(_, v)| *v);
            let best = p.series.iter().filter_map(|s| last(s).map(|v| (s, v))).max_by(|a, b| a.1.total_cmp(&b.1))?;
            Some(format!("{} {} with {}", p.title, crate::numbers::fixed(best.1, 1), best.0.label))
        };
        let parts: Vec<String> = self.figure.panels.iter().filter_map(best).collect();
        format!("Greatest {} by the last pick, {}: {}.", self.figure.response, self.figure.unit, parts.join("; "))
    }

    fn alt(&self) -> String {
        let panels: Vec<&str> = self.figure.panels.iter().map(|p| p.title.as_str()).collect();
        let text = format!("{} in {} over {}, one line a treatment", self.figure.response, self.figure.unit, self.figure.days);
        let text = wrapped(&text, f64::INFINITY, 1, false).join(" ");
        format!("{}; panels: {}.", capitalised(&text), panels.join(", "))
    }
}

/// Width for the names beside the lines, and their lines: one if short, two or three if that spares their tails.
fn names_room(figure: &CumulativeFigure, most: f64) -> (f64, usize) {
    let labels: Vec<&str> = figure.panels.iter().flat_map(|p| &p.series).map(|s| s.label.as_str()).collect();
    let widest = |room: f64, lines: usize| {
        let all = labels.iter().flat_map(|l| wrapped_at_commas(l, room, lines));
        all.map(|line| text_width(&line, false)).fold(0.0, f64::max)
    };
    let whole = widest(f64::INFINITY, 1);
    if whole + NAME_INDENT <= most.min(26.0) {
        return (whole + NAME_INDENT, 1);
    }
    let room = (most - NAME_INDENT).max(8.0);
    let whole = |lines: &usize| labels.iter().all(|l| wrapped_at_commas(l, room, *lines).iter().all(|line| !line.ends_with('…')));
    let lines = [2, 3].into_iter().find(whole).unwrap_or(3);
    (widest(room, lines) + NAME_INDENT + 0.1, lines)
}

/// With a capital at its start.
fn capitalised(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map(|c| c.to_uppercase().chain(signs).collect()).unwrap_or_default()
}
