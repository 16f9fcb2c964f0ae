//! Sedge Flats' workbook of picks: a sheet a week, real dates, a title above and a total below.
use crate::demo::picking::{Pick, Weighed};
use crate::demo::season::StationSeason;
use crate::demo::station::{day_after, days_between};
use jiff::civil::Date;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};
use std::collections::BTreeMap;

const HEADER: [&str; 7] = ["Date", "Unit", "Grade", "lb", "oz", "Fruit", "Remarks"];
/// The week in which a unit was written that the plan does not know.
const WEEK_OF_THE_SLIP: i64 = 13;

/// The bytes are the same each time: the creation time is fixed.
pub fn workbook(season: &StationSeason) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let created = ExcelDateTime::from_ymd(2031, 9, 19)?.and_hms(8, 0, 0)?;
    book.set_properties(&DocProperties::new().set_title("Sedge Flats picks 2031").set_creation_datetime(&created));
    let transplanted = season.station.facts().transplanted;
    let mut weeks: BTreeMap<i64, Vec<&Pick>> = BTreeMap::new();
    for pick in &season.picks {
        weeks.entry(days_between(transplanted, pick.day) / 7 + 1).or_default().push(pick);
    }
    for (week, picks) in weeks {
        let first = day_after(transplanted, 7 * (week - 1));
        Week { sheet: book.add_worksheet(), row: 0, day_format: Format::new().set_num_format("yyyy-mm-dd") }
            .write(week, first, &picks, season)?;
    }
    book.save_to_buffer()
}

struct Week<'a> {
    sheet: &'a mut Worksheet,
    row: u32,
    day_format: Format,
}

impl Week<'_> {
    fn write(mut self, week: i64, first: Date, picks: &[&Pick], season: &StationSeason) -> Result<(), XlsxError> {
        self.sheet.set_name(format!("Week {week}"))?;
        self.sheet.set_column_width(0, 12)?;
        self.text(0, &format!("Sedge Flats, tunnel: picks of trial week {week} (from {first})"))?;
        self.next();
        self.text(0, "every unit walked; 0 = nothing ripe; not written = not reached")?;
        self.next();
        for (column, name) in HEADER.into_iter().enumerate() {
            self.text(column as u16, name)?;
        }
        self.next();
        for (n, pick) in picks.iter().enumerate() {
            let unit = season.units.get(pick.unit).map_or("", |u| &u.id);
            if week == WEEK_OF_THE_SLIP && n == 7 {
                self.pick(pick.day, "L3-07", "M", pick.marketable, "no such unit - see next row")?;
            }
            self.pick(pick.day, unit, "M", pick.marketable, "")?;
            if pick.cull.ticks > 0 {
                self.pick(pick.day, unit, "C", pick.cull, "")?;
            }
        }
        self.total(picks)
    }

    fn pick(&mut self, day: Date, unit: &str, grade: &str, weighed: Weighed, remark: &str) -> Result<(), XlsxError> {
        let serial = ExcelDateTime::from_ymd(day.year() as u16, day.month() as u8, day.day() as u8)?;
        self.sheet.write_datetime_with_format(self.row, 0, &serial, &self.day_format)?;
        self.text(1, unit)?;
        self.text(2, grade)?;
        self.mass(weighed)?;
        self.sheet.write_number(self.row, 5, f64::from(weighed.fruit))?;
        if !remark.is_empty() {
            self.text(6, remark)?;
        }
        self.next();
        Ok(())
    }

    fn total(&mut self, picks: &[&Pick]) -> Result<(), XlsxError> {
        let all = picks.iter().flat_map(|p| [p.marketable, p.cull]);
        let sum = all.fold(Weighed::default(), |s, w| Weighed { ticks: s.ticks + w.ticks, fruit: s.fruit + w.fruit });
        self.text(0, "Total")?;
        self.mass(sum)?;
        self.sheet.write_number(self.row, 5, f64::from(sum.fruit))?;
        Ok(())
    }

    /// Pounds and ounces; the scale shows half ounces.
    fn mass(&mut self, weighed: Weighed) -> Result<(), XlsxError> {
        self.sheet.write_number(self.row, 3, f64::from(weighed.ticks / 32))?;
        self.sheet.write_number(self.row, 4, f64::from(weighed.ticks % 32) / 2.0)?;
        Ok(())
    }

    fn text(&mut self, column: u16, text: &str) -> Result<(), XlsxError> {
        self.sheet.write_string(self.row, column, text).map(|_| ())
    }

    fn next(&mut self) {
        self.row += 1;
    }
}
