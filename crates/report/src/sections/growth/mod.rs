//! How the crops grew: the season by treatment, climate, root zone, water, and what is known of every pick day.
mod completeness;
mod environment;
mod season_table;

use crate::context::Context;
use crate::page::{DrawingView, PageTable};
use crate::words;

pub struct Growth {
    pub season: Option<PageTable>,
    pub completeness: Option<PageTable>,
    /// Spells without picking, as the sites told them.
    pub missed: Vec<String>,
    pub climate: Option<PageTable>,
    pub root_zone: Option<PageTable>,
    pub water: Option<PageTable>,
    pub yield_figures: Vec<DrawingView>,
    pub climate_figures: Vec<DrawingView>,
    pub root_figures: Vec<DrawingView>,
    pub calendar_figures: Vec<DrawingView>,
    pub plan_figures: Vec<DrawingView>,
    pub other_figures: Vec<DrawingView>,
}

/// Figures of this section, sorted by what they show.
#[derive(Default)]
pub struct GrowthFigures {
    pub yields: Vec<DrawingView>,
    pub climate: Vec<DrawingView>,
    pub root_zone: Vec<DrawingView>,
    pub calendar: Vec<DrawingView>,
    pub plans: Vec<DrawingView>,
    pub other: Vec<DrawingView>,
}

pub fn view(context: &Context, figures: GrowthFigures) -> Growth {
    Growth {
        season: season_table::table(context),
        completeness: completeness::table(context),
        missed: missed(context),
        climate: environment::climate(context),
        root_zone: environment::root_zone(context),
        water: environment::water(context),
        yield_figures: figures.yields,
        climate_figures: figures.climate,
        root_figures: figures.root_zone,
        calendar_figures: figures.calendar,
        plan_figures: figures.plans,
        other_figures: figures.other,
    }
}

fn missed(context: &Context) -> Vec<String> {
    let mut lines = Vec::new();
    for site in context.declared() {
        for spell in &site.missed_days {
            let place = spell.house.as_ref().map_or_else(|| site.name.clone(), |h| format!("{}, house {h}", site.name));
            let when = if spell.from == spell.to {
                format!("on {}", words::date(spell.from))
            } else {
                format!("from {} to {}", words::date(spell.from), words::date(spell.to))
            };
            let reason = if spell.reason.is_empty() { String::new() } else { format!(": {}", spell.reason) };
            lines.push(format!("{place}: not picked {when}{reason}."));
        }
    }
    lines
}

/// Mean of the values there are; none where there is none.
fn mean(values: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0u32);
    for value in values.flatten().filter(|v| v.is_finite()) {
        sum += value;
        n += 1;
    }
    (n > 0).then(|| sum / f64::from(n))
}

/// Sum of the values there are; none where there is none.
fn sum(values: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    values.flatten().filter(|v| v.is_finite()).fold(None, |sum, v| Some(sum.unwrap_or(0.0) + v))
}
