//! What the season file and the site files declare, checked, with every fault of every file
//! told at once.
mod column;
mod doubts;
mod kinds;
mod layout;
mod log;
mod season;
mod site;
mod wide;

pub use column::{BelowDetection, Column, Meaning, Supply};
pub use doubts::{LeaveOut, LimitChange};
pub(crate) use kinds::event;
pub use kinds::{ClimateLog, Clock, ClockCheck, DiaryLog, HarvestLog, LightIs, RootZoneLog, SameDay};
pub use layout::Layout;
pub use log::{Log, LogKind};
pub use season::{Assignment, Factor, ReaderUnits, Season, read_declarations};
pub use site::{Case, IdRules, Keep, Plan, SiteDeclaration};

/// The names that may stand somewhere, or where to declare the first.
fn listed<T: AsRef<str>>(names: &[T], none: &str) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).filter(|n| !n.trim().is_empty()).collect();
    if names.is_empty() { none.to_owned() } else { names.join(", ") }
}

/// Where a season declares its factors, where it has none.
const NO_FACTOR: &str = "a factor of the season file, which declares none";
