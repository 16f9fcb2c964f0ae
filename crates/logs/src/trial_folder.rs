//! A small season in a temporary folder, for tests.
use crate::clean::{Silent, read_season};
use crate::declare::{Season, read_declarations};
use crate::tables::CleanTables;
use crosshouse_readings::{Fault, Flag, SetAside};
use std::path::Path;

pub(crate) struct TrialFolder {
    folder: tempfile::TempDir,
    site: String,
}

const SEASON: &str = r#"
[season]
title = "Two media in buckets"
crop = "snack pepper"
year = "2031"
seed = 7
logs = "logs"
sites = ["tarn-hollow.toml"]
[factors.medium]
levels = ["blend", "perlite"]
unit_of_assignment = "unit"
"#;

/// Site and plan; logs are added by each test.
const SITE: &str = r#"
[site]
name = "Tarn Hollow"
time_zone = "CST6CDT"
transplanted = 2031-03-24
ended = 2031-12-03
[[house]]
id = "glass-1"
kind = "glasshouse"
[plan]
file = "plan.csv"
delimiter = ","
decimal = "."
[plan.columns]
"Bucket" = { is = "unit" }
"Line" = { is = "line" }
"Medium" = { is = "factor", factor = "medium" }
"Plants" = { is = "plants" }
[plan.levels.medium]
"Per" = "perlite"
"#;

const PLAN: &str = "Bucket,Line,Medium,Plants\nB1-01,1,blend,2\nB1-02,1,Per,2\nB1-03,2,blend,2\n";

pub(crate) const HARVEST: &str = r#"
[[harvest]]
files = ["picks*.csv"]
delimiter = ","
decimal = "."
date_style = "year-month-day"
unlisted = "zero"
same_day = "add"
[harvest.columns]
"Date" = { is = "date" }
"Bucket" = { is = "unit" }
"kg" = { is = "mass", unit = "kg" }
"Fruit" = { is = "count" }
"Grade" = { is = "grade" }
[harvest.grades]
"1" = "marketable"
"C" = "cull"
"#;

pub(crate) const CLIMATE: &str = r#"
[[climate]]
files = ["climate*.csv"]
house = "glass-1"
clock = "site"
interval_minutes = 30
light_is = "instant"
delimiter = ","
decimal = "."
date_style = "year-month-day"
[climate.columns]
"Time" = { is = "date-time" }
"T" = { is = "temperature", unit = "°C" }
"RH" = { is = "humidity", unit = "%" }
"#;

impl TrialFolder {
    pub fn new(site: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let trial = TrialFolder { folder, site: format!("{SITE}{site}") };
        std::fs::create_dir(trial.folder.path().join("logs")).unwrap();
        trial.write("season.toml", SEASON).log("plan.csv", PLAN)
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn write(self, name: &str, text: &str) -> Self {
        std::fs::write(self.folder.path().join(name), text).unwrap();
        self
    }

    pub fn log(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        std::fs::write(self.folder.path().join("logs").join(name), bytes).unwrap();
        self
    }

    pub fn edit(mut self, from: &str, to: &str) -> Self {
        assert!(self.site.contains(from), "{from}");
        self.site = self.site.replace(from, to);
        self
    }

    pub fn declarations(&self) -> Result<Season, Vec<Fault>> {
        std::fs::write(self.folder.path().join("tarn-hollow.toml"), &self.site).unwrap();
        read_declarations(&self.folder.path().join("season.toml"))
    }

    pub fn read(&self) -> CleanTables {
        let tables = read_season(&self.declarations().unwrap(), &Silent);
        for file in &tables.files {
            assert!(file.balances(), "{file:?}");
        }
        tables
    }
}

/// The fault with a code.
pub(crate) fn fault<'t>(tables: &'t CleanTables, code: &str) -> &'t Fault {
    tables.faults.iter().find(|f| f.code == code).unwrap_or_else(|| panic!("no {code} in {:#?}", tables.faults))
}

pub(crate) fn flag<'t>(tables: &'t CleanTables, code: &str) -> &'t Flag {
    tables.flags.iter().find(|f| f.code == code).unwrap_or_else(|| panic!("no {code} in {:#?}", tables.flags))
}

pub(crate) fn aside<'t>(tables: &'t CleanTables, code: &str) -> Vec<&'t SetAside> {
    tables.set_aside.iter().filter(|s| s.code == code).collect()
}

/// A fault as a person reads it.
pub(crate) fn told(fault: &Fault) -> String {
    format!("{}: {}\nfound {}\nexpected {}\nmend {}", fault.place, fault.title, fault.found, fault.expected, fault.mend)
}

impl TrialFolder {
    /// Adds to the end of the season file.
    pub fn season_also(self, text: &str) -> Self {
        self.write("season.toml", &format!("{SEASON}{text}"))
    }
}
