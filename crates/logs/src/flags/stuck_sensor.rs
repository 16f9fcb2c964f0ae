//! A sensor that stands still. Limits (common practice, after the persistence test of guidance for
//! automatic weather stations): the same value for 6 h in 12 records or more, or for 2 h while the light
//! moves by 200 µmol m⁻² s⁻¹; humidity at or above
//! 98 % and CO₂ for 24 h, since air stays saturated and carbon dioxide even; light above 5 for 2 h.
use super::climate_spells::{length, runs};
use super::{Doubt, spell, standard_stamp};
use crate::tables::Climate;

const HOUR: i64 = 3600;
const RECORDS: usize = 12;

struct Rule {
    code: &'static str,
    words: &'static str,
    unit: &'static str,
    /// How long a value must stand to be doubted, s; `None`: it may stand for ever.
    least: fn(f64) -> Option<i64>,
    /// Air that warms and dries in the light cannot stand still while it changes.
    moves_with_light: bool,
}

const RULES: [Rule; 4] = [
    Rule { code: "temperature-stuck", words: "temperature", unit: "°C", least: |_| Some(6 * HOUR), moves_with_light: true },
    Rule {
        code: "humidity-stuck",
        words: "humidity",
        unit: "%",
        least: |x| Some(if x >= 98.0 { 24 * HOUR } else { 6 * HOUR }),
        moves_with_light: true,
    },
    Rule {
        code: "light-stuck", words: "light", unit: "µmol m⁻² s⁻¹", least: |x| (x > 5.0).then_some(2 * HOUR), moves_with_light: false
    },
    Rule { code: "co2-stuck", words: "carbon dioxide", unit: "ppm", least: |_| Some(24 * HOUR), moves_with_light: false },
];

fn light_moves(climate: &Climate, run: &std::ops::Range<usize>) -> bool {
    let light = climate.light.get(run.clone()).unwrap_or_default();
    let fold = |start: f64, pick: fn(f64, f64) -> f64| light.iter().copied().filter(|x| !x.is_nan()).fold(start, pick);
    fold(f64::NEG_INFINITY, f64::max) - fold(f64::INFINITY, f64::min) >= 200.0
}

fn stuck(climate: &Climate, values: &[f64], rule: &Rule) -> Option<Doubt> {
    let value = |i: usize| values.get(i).copied().unwrap_or(f64::NAN);
    let mut found = Vec::new();
    let mut at = 0;
    for run in runs(climate, |i| !value(i).is_nan()) {
        at = at.max(run.start);
        while at < run.end {
            let end = (at..run.end).find(|j| value(*j) != value(at)).unwrap_or(run.end);
            let same = at..end;
            let lasted = length(climate, &same);
            let long = (rule.least)(value(at)).is_some_and(|l| {
                lasted >= l || (rule.moves_with_light && l == 6 * HOUR && lasted >= 2 * HOUR && light_moves(climate, &same))
            });
            if same.len() >= RECORDS && long {
                found.push(same);
            }
            at = end;
        }
    }
    let longest = found.iter().max_by_key(|r| length(climate, r))?.clone();
    let text = format!(
        "{} of {} unchanged, the longest of {} at {:.1} {} from {} standard time (limit: common practice)",
        super::many(found.len(), "spell"),
        rule.words,
        spell(length(climate, &longest)),
        value(longest.start),
        rule.unit,
        standard_stamp(climate, longest.start),
    );
    Some(Doubt::marking(rule.code, text, found.into_iter().flatten().collect()))
}

pub(super) fn of(climate: &Climate) -> Vec<Doubt> {
    let columns = [&climate.temperature, &climate.humidity, &climate.light, &climate.co2];
    columns.into_iter().zip(&RULES).filter_map(|(values, rule)| stuck(climate, values, rule)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;

    #[test]
    fn a_temperature_that_stands_for_two_days_is_doubted() {
        let mut values: Vec<f64> = (0..1000).map(|i| 20.0 + f64::from(i % 7)).collect();
        values[100..676].fill(24.3);
        let doubts = of(&climate(300, values));
        let stuck = doubts.iter().find(|d| d.code == "temperature-stuck").unwrap();
        assert_eq!(stuck.rows.len(), 576);
        assert!(
            stuck.text.starts_with("1 spell of temperature unchanged, the longest of 47 h 55 min at 24.3 °C from 1970-01-01 08:20"),
            "{}",
            stuck.text
        );
    }

    #[test]
    fn three_hours_of_one_temperature_under_changing_light_are_doubted() {
        let mut c = climate(300, (0..200).map(|i| 20.0 + f64::from(i % 7)).collect());
        c.temperature[100..136].fill(24.3);
        assert!(of(&c).is_empty());
        c.light = (0..200).map(|i| f64::from(i % 36) * 20.0).collect();
        assert_eq!(of(&c)[0].rows, (100..136).collect::<Vec<_>>());
    }

    #[test]
    fn dark_nights_and_changing_air_are_not_stuck() {
        let mut c = climate(300, (0..1000).map(|i| 20.0 + f64::from(i % 7)).collect());
        c.light = vec![0.0; 1000];
        assert!(of(&c).is_empty());
    }
}
