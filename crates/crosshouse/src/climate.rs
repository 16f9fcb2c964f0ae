//! What a season's climate records become as they pass: the days of each house, and the records
//! themselves where the season is small enough to keep them.
use crosshouse_logs::declare::SiteDeclaration;
use crosshouse_logs::loggers::{ClimateFiles, ClimateReading, Ending, LoggerFacts, LoggerReading, Loggers, Pass, Records, Whole};
use crosshouse_logs::tables::Climate;
use crosshouse_trial::tables::HouseDay;
use crosshouse_trial::{RunningDays, Settings, together};

/// Seasons whose climate logs have no more bytes than this keep what was read beside the daily tables.
const KEPT_BYTES: u64 = 64 << 20;

/// Whether a season is small enough to keep the rows of its climate files, and its clean climate records.
pub fn is_small(season: &crosshouse_logs::Season) -> bool {
    crosshouse_logs::climate_bytes(season) <= KEPT_BYTES
}

/// The days of each site's houses, its loggers joined.
pub fn houses(sites: Vec<Vec<LoggerReading<LoggerDays>>>) -> Vec<Vec<HouseDay>> {
    let joined = |mut loggers: Vec<LoggerReading<LoggerDays>>| {
        gather(&mut loggers);
        together(loggers.into_iter().next().map(|first| first.out.days).unwrap_or_default())
    };
    sites.into_iter().map(joined).collect()
}

/// Puts the days of all loggers of a site into the list of the first one. Done by whoever read them, the lists
/// of a large season are not copied once all are there.
pub fn gather(loggers: &mut [LoggerReading<LoggerDays>]) {
    let days: Vec<Vec<HouseDay>> = loggers.iter_mut().map(|l| std::mem::take(&mut l.out.days)).collect();
    let mut days: Vec<Vec<HouseDay>> = days.into_iter().filter(|list| !list.is_empty()).collect();
    let all = if days.len() == 1 { days.pop().unwrap_or_default() } else { days.concat() };
    if let Some(first) = loggers.first_mut() {
        first.out.days = all;
    }
}

/// The days of one logger, and its records where they are kept.
#[derive(Debug, Clone)]
pub struct LoggerDays {
    pub days: Vec<HouseDay>,
    pub records: Option<Climate>,
}

/// Takes every logger of a season.
pub struct Days<'s> {
    pub settings: &'s Settings,
    pub keep_records: bool,
}

pub struct DaysPass {
    days: RunningDays,
    records: Option<Climate>,
}

impl Loggers for Days<'_> {
    type Out = LoggerDays;
    type Pass = DaysPass;

    fn begin(&self, site: &SiteDeclaration, facts: &LoggerFacts) -> DaysPass {
        DaysPass {
            days: RunningDays::new(site.latitude.zip(site.longitude), facts, self.settings),
            records: self.keep_records.then(|| Whole.begin(site, facts)),
        }
    }

    fn keep(&self, _: &ClimateFiles<'_>, mut reading: ClimateReading<LoggerDays>) -> ClimateReading<LoggerDays> {
        gather(&mut reading.loggers);
        reading
    }
}

impl Pass for DaysPass {
    type Out = LoggerDays;

    fn see(&mut self, records: &Records<'_>) {
        self.days.see(records);
        if let Some(kept) = &mut self.records {
            kept.see(records);
        }
    }

    fn finish(self, ending: &Ending<'_>) -> LoggerDays {
        LoggerDays { days: self.days.finish(ending), records: self.records.map(|kept| kept.finish(ending)) }
    }
}
