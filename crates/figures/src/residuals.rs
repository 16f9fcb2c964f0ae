//! Checks of the residuals of one fit: against fitted values, against normal quantiles, by site.
use crate::axes::{self, Area, TICK_ROOM};
use crate::canvas::{Anchor, Canvas};
use crate::drawing::{Caption, Drawing, Page, written};
use crate::faults::FigureFault;
use crate::fitting::{shortened, wrapped};
use crate::legend::marker_key;
use crate::look::{CAPS, HAIRLINE, Hand, LEADING, MUTED, RULE_INK, STROKE, Width};
use crate::markers::{dot, marker};
use crate::numbers::normal_quantile;
use crate::scales::{Scale, Ticks, extent, padded, ticks, ticks_across};
use serde::{Deserialize, Serialize};

/// Residuals of one fit.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ResidualsFigure {
    pub caption: Caption,
    /// Such as "marketable yield" and "kg per plant".
    pub response: String,
    pub unit: String,
    /// Of the residuals: percentage points where `unit` is %.
    pub residual_unit: String,
    /// Sites in order of display.
    pub sites: Vec<String>,
    pub points: Vec<ResidualPoint>,
    /// Residuals are standard normal where the model holds: the line of the quantiles is the diagonal.
    pub standard: bool,
    #[serde(skip)]
    pub width: Width,
}

/// One unit; `site` is its place in the figure's sites.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct ResidualPoint {
    pub site: usize,
    pub fitted: f64,
    pub residual: f64,
}

impl ResidualsFigure {
    /// One page, none with fewer than three finite residuals.
    pub fn draw(&self) -> Result<Vec<Drawing>, FigureFault> {
        match Layout::of(self) {
            Some(layout) => written(vec![layout.page()]),
            None => Ok(Vec::new()),
        }
    }
}

const MARGIN: f64 = 2.0;
const GAP: f64 = 5.0;
const HEIGHT: f64 = 46.0;
const DOT: f64 = 0.7;

struct Layout<'a> {
    figure: &'a ResidualsFigure,
    points: Vec<ResidualPoint>,
    y: Scale,
    y_ticks: Ticks,
    left: f64,
    panel: f64,
    /// Panels side by side, or one below the other in a single column.
    columns: usize,
}

impl<'a> Layout<'a> {
    fn of(figure: &'a ResidualsFigure) -> Option<Self> {
        let points: Vec<ResidualPoint> = figure.points.iter().filter(|p| p.fitted.is_finite() && p.residual.is_finite()).copied().collect();
        if points.len() < 3 {
            return None;
        }
        let reach = extent(points.iter().flat_map(|p| [p.residual, -p.residual]))?;
        let (low, high) = padded(reach, 0.06);
        let y_ticks = ticks(low, high, 7);
        let y = Scale { low, high, from: HEIGHT, to: 0.0 };
        let left = LEADING + 1.0 + y_ticks.widest() + 1.2;
        let columns = if figure.width == Width::Single { 1 } else { 3 };
        let panel = (figure.width.mm() - 2.0 * MARGIN - left - GAP * (columns as f64 - 1.0)) / columns as f64;
        Some(Layout { figure, points, y, y_ticks, left, panel, columns })
    }

    fn page(&self) -> Page {
        let mut canvas = Canvas::default();
        let width = self.figure.width.mm();
        let entries: Vec<(String, Hand)> = self.figure.sites.iter().enumerate().map(|(i, s)| (s.clone(), Hand::nth(i))).collect();
        let top = MARGIN + marker_key(&mut canvas, (MARGIN, MARGIN), width - 2.0 * MARGIN, "site", &entries) + 1.0;
        let step = axes::head_height(1) + 1.5 + HEIGHT + TICK_ROOM + LEADING + 2.0;
        let names = ["against fitted", "normal quantiles", "by site"];
        for (i, name) in names.iter().enumerate() {
            let (column, row) = (i % self.columns, i / self.columns);
            let left = MARGIN + self.left + column as f64 * (self.panel + GAP);
            let from = top + row as f64 * step + axes::head_height(1) + 1.5;
            let area = Area { left, top: from, right: left + self.panel, bottom: from + HEIGHT };
            axes::head(&mut canvas, area.left, area.right, area.top - 1.5, &[shortened(name, self.panel, true)]);
            self.ground(&mut canvas, area, column == 0);
            match i {
                0 => self.against_fitted(&mut canvas, area),
                1 => self.against_quantiles(&mut canvas, area),
                _ => self.by_site(&mut canvas, area),
            }
        }
        let height = top + step * 3f64.div_euclid(self.columns as f64) + MARGIN - 1.0;
        Page { caption: self.caption(), alt: self.alt(), canvas, width, height }
    }

    fn ground(&self, canvas: &mut Canvas, area: Area, named: bool) {
        let y = self.y.over(area.bottom, area.top);
        axes::grid_level(canvas, area, &y, &self.y_ticks);
        canvas.line((area.left, y.at(0.0)), (area.right, y.at(0.0)), RULE_INK, HAIRLINE * 2.0);
        if named {
            axes::labels_left(canvas, area, &y, &self.y_ticks);
            let words = shortened(&format!("residual, {}", self.figure.residual_unit), area.bottom - area.top + 6.0, false);
            canvas.text_upward((MARGIN + CAPS, (area.top + area.bottom) / 2.0), &words);
        }
    }

    fn across(&self, canvas: &mut Canvas, area: Area, range: (f64, f64), words: &str) -> Scale {
        let (low, high) = padded(range, 0.06);
        let x = Scale { low, high, from: area.left, to: area.right };
        axes::labels_below(canvas, area, &x, &ticks_across(low, high, self.panel));
        let words = shortened(words, self.panel, false);
        canvas.text((area.middle(), area.bottom + TICK_ROOM + LEADING - 0.4), &words, Anchor::Middle);
        x
    }

    fn against_fitted(&self, canvas: &mut Canvas, area: Area) {
        let range = extent(self.points.iter().map(|p| p.fitted)).unwrap_or((0.0, 1.0));
        let x = self.across(canvas, area, range, &format!("fitted, {}", self.figure.unit));
        let y = self.y.over(area.bottom, area.top);
        for p in &self.points {
            dot(canvas, &Hand::nth(p.site), (x.at(p.fitted), y.at(p.residual)), DOT);
        }
    }

    /// Plotting places (i − 3/8) / (n + 1/4) (Blom 1958); the line goes through the quarters.
    fn against_quantiles(&self, canvas: &mut Canvas, area: Area) {
        let mut sorted = self.points.clone();
        sorted.sort_by(|a, b| a.residual.total_cmp(&b.residual).then(a.site.cmp(&b.site)));
        let n = sorted.len() as f64;
        let place = |i: usize| normal_quantile((i as f64 + 1.0 - 0.375) / (n + 0.25));
        let x = self.across(canvas, area, (place(0), place(sorted.len() - 1)), "standard normal quantile");
        let y = self.y.over(area.bottom, area.top);
        if self.figure.standard {
            self.line(canvas, (0.0, 1.0), &x, &y)
        } else {
            self.quarter_line(canvas, &sorted, &x, &y)
        }
        for (i, p) in sorted.iter().enumerate() {
            dot(canvas, &Hand::nth(p.site), (x.at(place(i)), y.at(p.residual)), DOT);
        }
    }

    fn quarter_line(&self, canvas: &mut Canvas, sorted: &[ResidualPoint], x: &Scale, y: &Scale) {
        let value = |share: f64| sorted.get((share * (sorted.len() - 1) as f64).round() as usize).map_or(0.0, |p| p.residual);
        let slope = (value(0.75) - value(0.25)) / (2.0 * 0.674_49);
        let middle = (value(0.75) + value(0.25)) / 2.0;
        if slope > 0.0 {
            self.line(canvas, (middle, slope), x, y);
        }
    }

    fn line(&self, canvas: &mut Canvas, (middle, slope): (f64, f64), x: &Scale, y: &Scale) {
        // Cut where the line would leave the panel.
        let ends = [x.low.max((y.low - middle) / slope), x.high.min((y.high - middle) / slope)];
        let spots: Vec<(f64, f64)> = ends.iter().map(|q| (x.at(*q), y.at(middle + slope * q))).collect();
        canvas.dashed(&spots, &[1.6, 1.0], MUTED, STROKE * 0.8);
    }

    /// Strips, the dots of a strip set apart by their running number; a bar at the site's mean.
    fn by_site(&self, canvas: &mut Canvas, area: Area) {
        let y = self.y.over(area.bottom, area.top);
        let slot = self.panel / self.figure.sites.len().max(1) as f64;
        canvas.line((area.left, area.bottom), (area.right, area.bottom), RULE_INK, HAIRLINE);
        for (i, name) in self.figure.sites.iter().enumerate() {
            let middle = area.left + (i as f64 + 0.5) * slot;
            let own: Vec<f64> = self.points.iter().filter(|p| p.site == i).map(|p| p.residual).collect();
            for (k, residual) in own.iter().enumerate() {
                let shift = ((k * 5) % 8) as f64 / 7.0 - 0.5;
                dot(canvas, &Hand::nth(i), (middle + shift * (slot * 0.55).min(7.0), y.at(*residual)), DOT);
            }
            self.site_name(canvas, name, i, middle, slot, area.bottom);
        }
    }

    /// Names below their strips, as far as they have room; the markers tell the rest.
    fn site_name(&self, canvas: &mut Canvas, name: &str, index: usize, middle: f64, slot: f64, bottom: f64) {
        let lines = wrapped(name, slot - 1.0, 2, false);
        if slot >= 9.0 && lines.iter().all(|l| !l.contains('…')) {
            for (i, line) in lines.iter().enumerate() {
                canvas.text((middle, bottom + TICK_ROOM - 0.7 + i as f64 * LEADING), line, Anchor::Middle);
            }
        } else {
            marker(canvas, &Hand::nth(index), (middle, bottom + 2.6), 0.9);
        }
    }

    fn caption(&self) -> Caption {
        let finding = if self.figure.caption.finding.is_empty() { self.finding() } else { self.figure.caption.finding.clone() };
        Caption { finding, ..self.figure.caption.clone() }
    }

    fn finding(&self) -> String {
        let spread: Vec<f64> = (0..self.figure.sites.len()).filter_map(|i| self.site_spread(i)).collect();
        let n = self.points.len();
        if self.figure.standard {
            let far = self.points.iter().filter(|p| p.residual.abs() > 1.96).count();
            return format!(
                "{n} randomised quantile residuals (Dunn & Smyth 1996), standard normal where the model holds; {far} lie beyond ±1.96, where {} would by chance.",
                crate::numbers::fixed(0.05 * n as f64, 1)
            );
        }
        match extent(spread) {
            Some((low, high)) if low > 0.0 && self.figure.sites.len() > 1 => {
                format!("{n} residuals; their standard deviation differs {}-fold between sites.", crate::numbers::fixed(high / low, 1))
            }
            _ => format!("{n} residuals."),
        }
    }

    /// Standard deviation of a site's residuals about their mean.
    fn site_spread(&self, site: usize) -> Option<f64> {
        let own: Vec<f64> = self.points.iter().filter(|p| p.site == site).map(|p| p.residual).collect();
        let n = own.len() as f64;
        let mean = own.iter().sum::<f64>() / n;
        (own.len() > 2).then(|| (own.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
    }

    fn alt(&self) -> String {
        format!(
            "Residuals of {} in {}: against fitted values, against normal quantiles, and by site; one marker shape a site ({}).",
            self.figure.response,
            self.figure.unit,
            self.figure.sites.join(", ")
        )
    }
}
