//! What the season file and the site files declare, checked, with every fault of every file
//! told at once.
mod column;
mod kinds;
mod layout;
mod log;
mod season;
mod site;
mod wide;

pub use column::{BelowDetection, Column, Meaning, Supply};
pub(crate) use kinds::event;
pub use kinds::{ClimateLog, Clock, ClockCheck, DiaryLog, HarvestLog, LightIs, RootZoneLog, SameDay};
pub use layout::Layout;
pub use log::{Log, LogKind};
pub use season::{Assignment, Factor, ReaderUnits, Season, read_declarations};
pub use site::{Case, IdRules, Keep, Plan, SiteDeclaration};
