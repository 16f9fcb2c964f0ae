//! Per cent that look like fractions: every value between 0 and 1 in a column declared in per
//! cent. Proposed as a doubt, never converted (common practice).
use super::Doubt;
use crate::tables::{Climate, RootZone};

const ENOUGH: usize = 10;

fn looks_like_fraction(values: &[(usize, f64)]) -> bool {
    values.len() >= ENOUGH && values.iter().all(|(_, x)| (0.0..=1.0).contains(x)) && values.iter().any(|(_, x)| *x > 0.0)
}

fn doubt(code: &'static str, what: &str, values: Vec<(usize, f64)>) -> Vec<Doubt> {
    if !looks_like_fraction(&values) {
        return Vec::new();
    }
    let text = format!("every {what} lies between 0 and 1 %: the log may write fractions; declare the unit of the column accordingly");
    vec![Doubt::marking(code, text, values.into_iter().map(|(i, _)| i).collect())]
}

pub(super) fn of_climate(climate: &Climate) -> Vec<Doubt> {
    let values = climate.humidity.iter().copied().enumerate().filter(|(_, x)| !x.is_nan()).collect();
    doubt("humidity-fraction", "humidity", values)
}

pub(super) fn of_root_zone(rows: &[RootZone]) -> Vec<Doubt> {
    let values = rows.iter().enumerate().filter_map(|(i, r)| Some((i, r.moisture?))).collect();
    doubt("moisture-fraction", "moisture", values)
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;

    #[test]
    fn humidity_between_0_and_1_is_doubted_and_left_as_it_is() {
        let mut c = climate(300, vec![20.0; 12]);
        c.humidity = vec![0.72; 12];
        assert_eq!(of_climate(&c)[0].rows.len(), 12);
        c.humidity[3] = 72.0;
        assert!(of_climate(&c).is_empty());
    }
}
