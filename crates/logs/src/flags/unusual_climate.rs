//! Temperature, light and CO₂ outside their usual range: single records. Limits: [`limits`].
use super::Doubt;
use super::limits::{self, Limits};
use crate::tables::Climate;

fn doubt(code: &'static str, limits: &Limits, values: &[f64]) -> Doubt {
    let rows: Vec<usize> = values.iter().enumerate().filter(|(_, x)| !x.is_nan() && !limits.is_usual(**x)).map(|(i, _)| i).collect();
    Doubt::marking(
        code,
        format!("{{n}} of {} outside {} to {} {} ({})", limits.words, limits.usual.0, limits.usual.1, limits.unit, limits.source),
        rows,
    )
}

pub(super) fn of(climate: &Climate) -> Vec<Doubt> {
    vec![
        doubt("temperature-unusual", &limits::TEMPERATURE, &climate.temperature),
        doubt("light-unusual", &limits::LIGHT, &climate.light),
        doubt("co2-unusual", &limits::CO2, &climate.co2),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;

    #[test]
    fn fifty_degrees_are_kept_and_doubted() {
        let doubts = of(&climate(300, vec![20.0, 50.0, f64::NAN]));
        assert_eq!(doubts[0].rows, [1]);
        assert_eq!(doubts[0].told(1, "record"), "1 record of an air temperature outside 2 to 45 °C (common practice, no source)");
    }
}
