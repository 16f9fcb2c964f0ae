//! Gaps: a step of more than 1.5 times the logger's interval (common practice); and an interval
//! that is not the declared one.
use super::{Doubt, many, spell, standard_stamp};
use crate::tables::Climate;

pub(super) fn of(climate: &Climate, median_step: i64) -> Vec<Doubt> {
    let interval = i64::from(climate.interval_s);
    let mut doubts = Vec::new();
    if median_step > 0 && interval > 0 && (median_step * 2 > interval * 3 || interval * 2 > median_step * 3) {
        let all = (0..climate.instant.len()).collect();
        doubts.push(Doubt::beside(
            "interval-differs",
            format!("the site file declares an interval of {}, the median step between records is {}", spell(interval), spell(median_step)),
            all,
        ));
    }
    let step = interval.max(median_step);
    let gaps: Vec<(usize, i64)> = climate
        .instant
        .windows(2)
        .enumerate()
        .filter_map(|(i, w)| Some((i + 1, w.last()? - w.first()?)))
        .filter(|(_, s)| step > 0 && s * 2 > step * 3)
        .collect();
    if let Some((at, longest)) = gaps.iter().max_by_key(|(i, s)| (*s, std::cmp::Reverse(*i))) {
        let text = format!(
            "{} of more than 1.5 intervals, the longest of {} before {} standard time",
            many(gaps.len(), "gap"),
            spell(*longest),
            standard_stamp(climate, *at)
        );
        doubts.push(Doubt::beside("gap", text, gaps.iter().map(|(i, _)| *i).collect()));
    }
    doubts
}

#[cfg(test)]
mod tests {
    use super::super::sample::climate;
    use super::*;

    #[test]
    fn a_gap_is_told_with_its_length_and_doubts_no_record() {
        let mut c = climate(300, vec![20.0; 10]);
        c.instant.iter_mut().skip(5).for_each(|t| *t += 19_200);
        let doubts = of(&c, 300);
        assert_eq!(doubts[0].text, "1 gap of more than 1.5 intervals, the longest of 5 h 25 min before 1970-01-01 05:45 standard time");
        assert!(!doubts[0].marks);
    }

    #[test]
    fn a_logger_at_another_interval_than_declared_is_told() {
        assert_eq!(of(&climate(300, vec![20.0; 10]), 600)[0].code, "interval-differs");
    }
}
