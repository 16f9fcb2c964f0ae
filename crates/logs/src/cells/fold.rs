//! The hour that a clock shows twice, told apart by the order of the file where the order shows it.
use super::clock::Local;

/// A record's instant, and whether the order of the file left it open (the earlier one is then taken).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Settled {
    pub instant: i64,
    pub open: bool,
}

/// Settles the doubled hours among records in file order. `None` stays for the hour that never was.
///
/// * `interval`: nominal seconds between records
/// * `fold`: length of the doubled spell, s
pub(crate) fn resolve(records: &[Local], interval: i64, fold: i64) -> Vec<Option<Settled>> {
    let descending = is_descending(records);
    let order: Vec<usize> = if descending { (0..records.len()).rev().collect() } else { (0..records.len()).collect() };
    let mut settled: Vec<Option<Settled>> = vec![None; records.len()];
    let mut at = 0;
    while let Some(&i) = order.get(at) {
        match records.get(i) {
            Some(Local::Twice { .. }) => {
                let run: Vec<usize> =
                    order.iter().skip(at).copied().take_while(|j| matches!(records.get(*j), Some(Local::Twice { .. }))).collect();
                let before = order.iter().take(at).rev().find_map(|j| once(records.get(*j)));
                let after = order.iter().skip(at + run.len()).find_map(|j| once(records.get(*j)));
                for (j, s) in settle(records, &run, before, after, interval, fold) {
                    if let Some(slot) = settled.get_mut(j) {
                        *slot = Some(s);
                    }
                }
                at += run.len();
            }
            Some(Local::Once(instant)) => {
                if let Some(slot) = settled.get_mut(i) {
                    *slot = Some(Settled { instant: *instant, open: false });
                }
                at += 1;
            }
            _ => at += 1,
        }
    }
    settled
}

fn once(record: Option<&Local>) -> Option<i64> {
    match record {
        Some(Local::Once(instant)) => Some(*instant),
        _ => None,
    }
}

/// Newest first, as some loggers write.
fn is_descending(records: &[Local]) -> bool {
    let instants: Vec<i64> = records.iter().filter_map(|r| once(Some(r))).collect();
    let falls = instants.windows(2).filter(|w| w.first() > w.last()).count();
    falls * 2 > instants.len()
}

fn pair(records: &[Local], at: usize) -> (i64, i64) {
    match records.get(at) {
        Some(Local::Twice { earlier, later }) => (*earlier, *later),
        _ => (0, 0),
    }
}

fn settle(records: &[Local], run: &[usize], before: Option<i64>, after: Option<i64>, interval: i64, fold: i64) -> Vec<(usize, Settled)> {
    // One step back within the run parts the first showing from the second.
    let step = |w: &&[usize]| match w {
        [a, b] => {
            let moved = pair(records, *b).0 - pair(records, *a).0;
            moved < 0 || (moved == 0 && interval >= fold)
        }
        _ => false,
    };
    let steps: Vec<usize> = run.windows(2).enumerate().filter(|(_, w)| step(w)).map(|(i, _)| i + 1).collect();
    let late_from = match steps.as_slice() {
        [one] => Some(*one),
        [] => one_showing(records, run, before, after, interval),
        _ => None,
    };
    run.iter()
        .enumerate()
        .map(|(n, j)| {
            let (earlier, later) = pair(records, *j);
            let second = late_from.is_some_and(|from| n >= from);
            (*j, Settled { instant: if second { later } else { earlier }, open: late_from.is_none() })
        })
        .collect()
}

/// A run that shows the hour once: which of the two joins the records around it. The answer is the
/// place in the run from which records are of the second showing.
fn one_showing(records: &[Local], run: &[usize], before: Option<i64>, after: Option<i64>, interval: i64) -> Option<usize> {
    let near = |a: i64, b: i64| (b - a).abs() * 2 <= interval * 3;
    let first = pair(records, *run.first()?);
    let last = pair(records, *run.last()?);
    let joins_before = before.is_some_and(|b| near(b, first.0));
    let joins_after = after.is_some_and(|a| near(last.1, a));
    match (joins_before, joins_after) {
        (true, false) => Some(run.len()),
        (false, true) => Some(0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Minutes of a night on which the clock goes back from 2:00 to 1:00 (120 to 60) at instant 120.
    fn shown(minutes: &[i64]) -> Vec<Local> {
        minutes
            .iter()
            .map(|m| match m * 60 {
                l if l < 3600 => Local::Once(l),
                l if l < 7200 => Local::Twice { earlier: l, later: l + 3600 },
                l => Local::Once(l + 3600),
            })
            .collect()
    }

    fn settled(minutes: &[i64], interval: i64) -> Vec<(i64, bool)> {
        resolve(&shown(minutes), interval * 60, 3600).into_iter().flatten().map(|s| (s.instant / 60, s.open)).collect()
    }

    #[test]
    fn a_step_back_parts_the_two_showings() {
        let read = settled(&[30, 60, 90, 60, 90, 120], 30);
        assert_eq!(read, [(30, false), (60, false), (90, false), (120, false), (150, false), (180, false)]);
    }

    #[test]
    fn hourly_records_show_the_same_stamp_twice() {
        assert_eq!(settled(&[0, 60, 60, 120], 60), [(0, false), (60, false), (120, false), (180, false)]);
    }

    #[test]
    fn a_file_with_the_newest_first_is_read_from_its_end() {
        assert_eq!(
            settled(&[150, 120, 90, 60, 90, 60, 30, 0], 30).iter().map(|s| s.0).collect::<Vec<_>>(),
            [210, 180, 150, 120, 90, 60, 30, 0]
        );
    }

    #[test]
    fn one_showing_that_joins_both_sides_stays_open() {
        assert_eq!(settled(&[30, 60, 90, 120], 30), [(30, false), (60, true), (90, true), (180, false)]);
    }

    #[test]
    fn one_showing_that_joins_one_side_is_settled_by_it() {
        assert_eq!(settled(&[60, 90, 120], 30), [(120, false), (150, false), (180, false)]);
        assert_eq!(settled(&[0, 30, 60, 90], 30), [(0, false), (30, false), (60, false), (90, false)]);
    }

    #[test]
    fn mixed_order_inside_the_hour_stays_open() {
        assert!(settled(&[30, 90, 60, 90, 60, 120], 30).iter().filter(|s| s.1).count() == 4);
    }
}
