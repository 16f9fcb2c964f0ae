//! The feed and drain log.
use crate::draft::{Chapter, Line, Question, Section};
use crate::kinds::{columns, house};
use crate::known::Known;
use crate::layout;
use crate::log::Log;

pub(crate) fn chapter(log: &Log, sheet: Option<&str>, known: &Known) -> Chapter {
    let mut head = Section::new("[[root_zone]]");
    head.lines = layout::lines(log, sheet);
    head.lines.extend(house(log, known));
    let volumes = log.column("feed-volume").is_some() || log.column("drain-volume").is_some();
    if volumes && log.column("plants").is_none() {
        head.push(plants(log));
    }
    Chapter { title: String::new(), sections: vec![head, columns(log, "root_zone", known)] }
}

fn plants(log: &Log) -> Line {
    let zone = log.column("zone").map_or_else(|| "each row".to_owned(), |c| format!("each \"{}\"", c.header));
    let ask = format!("of how many plants are the volumes of {zone} the water?");
    Line::asked(
        Question::new("plants", ask, "")
            .or_plain("a number such as 8", "the plants over the tray or on the metered line")
            .or_plain("or take the line out", "then no water per plant is told"),
    )
}
