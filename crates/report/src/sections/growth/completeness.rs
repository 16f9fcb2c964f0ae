//! Unit × pick day: picked, nothing ready, missed, lost, dead, unknown. A missing pick is not a zero pick.
use crate::context::Context;
use crate::number;
use crate::page::PageTable;
use crate::words;
use crosshouse_trial::tables::{PickState, SiteTrial};

const COLUMNS: [(PickState, &str); 7] = [
    (PickState::Picked, "Picked"),
    (PickState::Zero, "Nothing ready"),
    (PickState::Missed, "Not visited"),
    (PickState::Lost, "Record lost"),
    (PickState::Dead, "Plants dead"),
    (PickState::NotDue, "Not due"),
    (PickState::Unknown, "Not known"),
];

pub fn table(context: &Context) -> Option<PageTable> {
    let caption = "Units on pick days: what is known of each";
    let mut table = PageTable::new("completeness-table", caption)
        .csv("completeness.csv")
        .words("Site")
        .number("Pick days")
        .words("First pick")
        .words("Last pick");
    for (_, name) in COLUMNS {
        table = table.number(name);
    }
    for site in context.sites() {
        table.row(row(site));
    }
    table.note("Each unit counts once for every pick day of its site. A unit not visited is not a unit with nothing ready.");
    table.without_empty_columns().if_any()
}

fn row(site: &SiteTrial) -> Vec<String> {
    let mut cells = vec![
        site.name.clone(),
        number::count(site.pick_days.into()),
        words::short_date_or_not(site.first_pick),
        words::short_date_or_not(site.last_pick),
    ];
    cells.extend(COLUMNS.iter().map(|(state, _)| {
        let n = site.states.iter().filter(|s| s.state == *state).count();
        if n == 0 { number::NONE.to_owned() } else { number::count(n as u64) }
    }));
    cells
}
