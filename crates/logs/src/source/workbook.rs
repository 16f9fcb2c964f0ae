//! Workbooks to grids: typed cells, serial dates of both epochs, merged blocks filled within
//! their own range and nowhere else.
use super::files::matches;
use super::grid::{Grid, Kind};
use super::markup::{self, Markup, Unsound};
use super::{Unreadable, zip_size};
use calamine::{Data, DataRef, Dimensions, ExcelDateTime, Ods, Reader, Xlsx, XlsxFormulaMetadata};
use std::cell::Cell;
use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// One sheet as a grid.
#[derive(Debug)]
pub(crate) struct Sheet {
    pub name: String,
    pub grid: Grid,
    /// Cells filled from the corner of a merged block.
    pub merged: u32,
    /// Formulas with a stored value.
    pub formulas: u32,
    pub hidden_rows: u32,
    pub hidden_columns: u32,
    pub hidden: bool,
}

impl Sheet {
    /// What a person should know of the sheet: what, how it was read, because.
    pub fn told(&self) -> Vec<(&'static str, String, &'static str)> {
        use crate::flags::many;
        let mut told = Vec::new();
        let mut tell = |n: u32, what, of: &str, how: &str, because| {
            if n > 0 {
                told.push((what, format!("{}{how}", many(n as usize, of)), because));
            }
        };
        let blocks = "the sheet records the blocks; nothing outside them is filled";
        tell(self.merged, "merged cells", "cell", " filled from the corner of their merged block", blocks);
        let stored = "the workbook holds the value that each formula had when it was saved";
        tell(self.formulas, "formulas", "formula", " read by their stored values", stored);
        let hidden = "hiding changes what is shown, not what is recorded";
        tell(u32::from(self.hidden), "hidden sheet", "hidden sheet", " read like the others", hidden);
        tell(self.hidden_rows, "hidden rows", "hidden row", " read like the others", hidden);
        tell(self.hidden_columns, "hidden columns", "hidden column", " read like the others", hidden);
        told
    }
}

/// A season's workbook unpacks to a few MB; these bounds stop one made to fill the memory.
const MOST_UNPACKED: u64 = 512 << 20;
const MOST_CELLS: usize = 20_000_000;
const MOST_COLUMNS: u32 = 10_000;
/// Serial days of the 1904 system are this many fewer than those of the 1900 system.
const DAYS_1904: f64 = 1462.0;

pub(crate) fn is_workbook(name: &str) -> bool {
    ["xlsx", "xlsm", "ods", "xls", "xlsb"].contains(&extension(name).as_str())
}

fn extension(name: &str) -> String {
    name.rsplit_once('.').map_or(String::new(), |(_, e)| e.to_lowercase())
}

/// The sheets that `pattern` names (all of one, where it is not given and there is only one).
pub(crate) fn read(name: &str, bytes: Vec<u8>, pattern: Option<&str>) -> Result<Vec<Sheet>, Unreadable> {
    if matches!(extension(name).as_str(), "xls" | "xlsb") {
        return Err(Unreadable::new(
            "workbook-old-format",
            "a workbook in a format that is not read",
            format!("the ending .{}", extension(name)),
            ".xlsx or .ods",
            "save the workbook as .xlsx",
        ));
    }
    match zip_size::unpacked(&bytes, MOST_UNPACKED) {
        None => return Err(broken("no ZIP directory")),
        Some(size) if size > MOST_UNPACKED => return Err(too_large("more than 512 MB when unpacked".to_owned())),
        Some(_) => {}
    }
    let open = || if extension(name) == "ods" { read_ods(&bytes, pattern) } else { read_xlsx(&bytes, pattern) };
    // The workbook reader is not ours: should it panic on a damaged file, the file is told as damaged.
    PANIC_IS_TOLD.set(true);
    let read = catch_unwind(AssertUnwindSafe(open));
    PANIC_IS_TOLD.set(false);
    read.unwrap_or_else(|_| Err(broken("a structure that cannot be followed")))
}

thread_local! {
    static PANIC_IS_TOLD: Cell<bool> = const { Cell::new(false) };
}

/// Whether a panic of this thread is told as a fault of a workbook: it need not be printed as well.
pub fn panic_is_told() -> bool {
    PANIC_IS_TOLD.get()
}

fn broken(why: &str) -> Unreadable {
    Unreadable::new(
        "workbook-unreadable",
        "not a workbook that can be read",
        why,
        "a workbook saved as .xlsx or .ods",
        "open it in an office program and save it again, or export the sheet as CSV",
    )
}

fn too_large(found: String) -> Unreadable {
    Unreadable::new(
        "workbook-too-large",
        "a workbook too large to be a log",
        found,
        "at most 512 MB unpacked, 10,000 columns and 20 million cells",
        "export the one sheet that is the log as CSV",
    )
}

fn chosen(sheets: &[String], pattern: Option<&str>) -> Result<Vec<String>, Unreadable> {
    let list = sheets.iter().map(|s| format!("\"{s}\"")).collect::<Vec<_>>().join(", ");
    match pattern {
        Some(wanted) => {
            let found: Vec<String> = sheets.iter().filter(|s| matches(wanted.trim(), s.trim())).cloned().collect();
            if found.is_empty() {
                let near = crosshouse_readings::declared::nearest(wanted, sheets.iter().map(String::as_str));
                let mend = near.map_or_else(|| "correct `sheet` in the site file".to_owned(), |n| format!("did you mean sheet = \"{n}\"?"));
                return Err(Unreadable::new(
                    "sheet-missing",
                    "a sheet that the workbook does not have",
                    format!("no sheet \"{wanted}\"; its sheets are {list}"),
                    "a sheet of this workbook",
                    &mend,
                ));
            }
            Ok(found)
        }
        None if sheets.len() == 1 => Ok(sheets.to_vec()),
        None => Err(Unreadable::new(
            "sheet-undeclared",
            "a workbook with several sheets, none of them named",
            format!("the sheets {list}"),
            "`sheet` in the site file",
            "add sheet = \"…\"; a pattern such as \"Week *\" takes several",
        )),
    }
}

type Cells = BTreeMap<(u32, u32), (String, Kind)>;

fn read_xlsx(bytes: &[u8], pattern: Option<&str>) -> Result<Vec<Sheet>, Unreadable> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|e| broken(&e.to_string()))?;
    let from_1904 = book.has_1904_epoch();
    let mut sheets = Vec::new();
    for name in chosen(&book.sheet_names(), pattern)? {
        let (mut cells, formulas) = xlsx_cells(&mut book, &name)?;
        let merges = book.merge_cells_by_sheet_name(&name).unwrap_or_default();
        let merged = fill(&mut cells, &merges);
        let hidden = is_hidden(book.sheets_metadata(), &name);
        let Markup { hidden_rows, hidden_columns, .. } = markup::of_xlsx(bytes, &name).unwrap_or_default();
        sheets.push(Sheet { name, grid: grid_of(&cells, from_1904), merged, formulas, hidden_rows, hidden_columns, hidden });
    }
    Ok(sheets)
}

fn is_hidden(sheets: &[calamine::Sheet], name: &str) -> bool {
    sheets.iter().any(|s| s.name == name && s.visible != calamine::SheetVisible::Visible)
}

/// The cells of a sheet, and how many of them are formulas with a stored value.
fn xlsx_cells(book: &mut Xlsx<Cursor<&[u8]>>, name: &str) -> Result<(Cells, u32), Unreadable> {
    let mut reader = book.worksheet_cells_reader(name).map_err(|e| broken(&e.to_string()))?;
    let mut cells = Cells::new();
    let mut text = 0;
    let mut formulas = 0;
    while let Some(cell) = reader.next_cell_with_formula_metadata().map_err(|e| broken(&e.to_string()))? {
        let at = cell.pos;
        formulas += u32::from(cell.formula.is_some() && !matches!(cell.value, DataRef::Empty));
        let read = match (cell.value, &cell.formula) {
            (DataRef::Empty, None) => continue,
            (DataRef::Empty, Some(formula)) => Some((without_value(formula), Kind::Error)),
            (value, _) => written(&value.into()),
        };
        if at.1 >= MOST_COLUMNS {
            return Err(too_large(format!("a cell in column {} of sheet \"{name}\"", at.1 + 1)));
        }
        if cells.len() >= MOST_CELLS {
            return Err(too_large(format!("more than 20 million cells in sheet \"{name}\"")));
        }
        if let Some(read) = read {
            text += read.0.len() as u64;
            cells.insert(at, read);
        }
        if text > MOST_UNPACKED {
            return Err(too_large(format!("more than 512 MB of text in sheet \"{name}\"")));
        }
    }
    Ok((cells, formulas))
}

/// A formula that a program wrote and no office program has worked out yet: not a blank cell.
fn without_value(formula: &XlsxFormulaMetadata) -> String {
    match formula {
        XlsxFormulaMetadata::Normal { formula } | XlsxFormulaMetadata::Shared { formula, .. } => {
            format!("={}", formula.chars().take(80).collect::<String>())
        }
        _ => "=…".to_owned(),
    }
}

fn read_ods(bytes: &[u8], pattern: Option<&str>) -> Result<Vec<Sheet>, Unreadable> {
    markup::check_ods(bytes, MOST_UNPACKED).map_err(|why| match why {
        Unsound::Open => broken("content whose tags do not close"),
        Unsound::TooLarge => too_large("more than 512 MB of text in its cells".to_owned()),
    })?;
    let mut book: Ods<_> = Ods::new(Cursor::new(bytes)).map_err(|e| broken(&e.to_string()))?;
    let mut sheets = Vec::new();
    for name in chosen(&book.sheet_names(), pattern)? {
        let range = book.worksheet_range(&name).map_err(|e| broken(&e.to_string()))?;
        let (top, left) = range.start().unwrap_or((0, 0));
        let mut cells: Cells = range
            .used_cells()
            .filter_map(|(row, column, value)| written(value).map(|w| ((row as u32 + top, column as u32 + left), w)))
            .collect();
        if cells.keys().any(|(_, column)| *column >= MOST_COLUMNS) {
            return Err(too_large(format!("more than 10,000 columns in sheet \"{name}\"")));
        }
        let hidden = is_hidden(book.sheets_metadata(), &name);
        let markup = markup::of_ods(bytes, &name).unwrap_or_default();
        let merged = fill(&mut cells, &markup.merges);
        let Markup { formulas, hidden_rows, hidden_columns, .. } = markup;
        sheets.push(Sheet { name, grid: grid_of(&cells, false), merged, formulas, hidden_rows, hidden_columns, hidden });
    }
    Ok(sheets)
}

/// The text of a cell as a person would write it, and its kind.
fn written(value: &Data) -> Option<(String, Kind)> {
    Some(match value {
        Data::Empty => return None,
        Data::String(text) => (text.clone(), Kind::Text),
        Data::Int(i) => (i.to_string(), Kind::Number(*i as f64)),
        Data::Float(x) => (x.to_string(), Kind::Number(*x)),
        Data::Bool(b) => (if *b { "TRUE" } else { "FALSE" }.to_owned(), Kind::Text),
        Data::DateTime(serial) => date_cell(days(serial)),
        Data::DateTimeIso(text) => iso_days(text).map_or((text.clone(), Kind::Text), date_cell),
        Data::DurationIso(text) => iso_time(text).map_or((text.clone(), Kind::Text), date_cell),
        Data::Error(error) => (error.to_string(), Kind::Error),
    })
}

/// Serial days of the 1900 system. A time of day has no epoch.
fn days(serial: &ExcelDateTime) -> f64 {
    let value = serial.as_f64();
    let epoch = serial.to_ymd_hms_milli().0;
    let plain = ExcelDateTime::new(value, calamine::ExcelDateTimeType::DateTime, false).to_ymd_hms_milli().0;
    if value >= 1.0 && epoch != plain && serial.is_datetime() { value + DAYS_1904 } else { value }
}

fn date_cell(days: f64) -> (String, Kind) {
    (crate::cells::serial_text(days), Kind::Serial(days))
}

fn iso_days(text: &str) -> Option<f64> {
    use jiff::civil::{DateTime, date};
    let stamp: DateTime = text.parse().ok()?;
    let whole = (stamp.date() - date(1899, 12, 30)).get_days();
    let seconds = i32::from(stamp.hour()) * 3600 + i32::from(stamp.minute()) * 60 + i32::from(stamp.second());
    Some(f64::from(whole) + f64::from(seconds) / 86_400.0)
}

fn iso_time(text: &str) -> Option<f64> {
    let duration: jiff::SignedDuration = text.parse().ok()?;
    Some(duration.as_secs_f64() / 86_400.0)
}

/// Fills merged blocks from their corner; returns how many cells were filled.
fn fill(cells: &mut Cells, merges: &[Dimensions]) -> u32 {
    let last_row = cells.keys().map(|(row, _)| *row).max().unwrap_or(0);
    let last_column = cells.keys().map(|(_, column)| *column).max().unwrap_or(0);
    let mut filled = 0;
    let mut text = 0;
    for block in merges {
        let Some(corner) = cells.get(&block.start).cloned() else { continue };
        for row in block.start.0..=block.end.0.min(last_row) {
            for column in block.start.1..=block.end.1.min(last_column) {
                if cells.len() < MOST_CELLS && text < MOST_UNPACKED && !cells.contains_key(&(row, column)) {
                    text += corner.0.len() as u64;
                    cells.insert((row, column), corner.clone());
                    filled += 1;
                }
            }
        }
    }
    filled
}

fn grid_of(cells: &Cells, from_1904: bool) -> Grid {
    let mut grid = Grid::with_capacity(cells.len() * 8, cells.len());
    grid.from_1904 = from_1904;
    let mut at = (0, 0);
    if !cells.is_empty() {
        grid.start_row(1);
    }
    for ((row, column), (text, kind)) in cells {
        while at.0 < *row {
            at = (at.0 + 1, 0);
            grid.start_row(at.0 + 1);
        }
        while at.1 < *column {
            grid.push("", Kind::Text);
            at.1 += 1;
        }
        grid.push(text, *kind);
        at.1 += 1;
    }
    grid
}

#[cfg(test)]
mod tests {
    use super::*;
    use rust_xlsxwriter::{ExcelDateTime as Stamp, Format, Workbook};

    fn saved(book: &mut Workbook) -> Vec<u8> {
        book.save_to_buffer().unwrap()
    }

    fn picks() -> Workbook {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet().set_name("Picks").unwrap();
        let date = Format::new().set_num_format("yyyy-mm-dd");
        sheet.merge_range(0, 0, 0, 1, "Picks of July", &Format::new()).unwrap();
        sheet.write(1, 0, "Date").unwrap();
        sheet.write(1, 1, "kg").unwrap();
        sheet.write_with_format(2, 0, Stamp::parse_from_str("2031-07-04").unwrap(), &date).unwrap();
        sheet.write(2, 1, 1.25).unwrap();
        sheet.merge_range(4, 0, 5, 0, "B2-07", &Format::new()).unwrap();
        sheet.write(5, 1, "0.5").unwrap();
        book.add_worksheet().set_name("Notes").unwrap();
        book
    }

    #[test]
    fn ok_typed_cells_dates_and_blank_rows_keep_their_row_numbers() {
        let sheets = read("a.xlsx", saved(&mut picks()), Some("Picks")).unwrap();
        let grid = &sheets[0].grid;
        // 2000-01-01 is serial day 36526; 31 years with 8 leap days and 184 days later is 48033.
        assert_eq!(grid.cell(2, 0).kind, Kind::Serial(48_033.0));
        assert_eq!(grid.cell(2, 0).text, "2031-07-04");
        assert_eq!(grid.cell(2, 1).kind, Kind::Number(1.25));
        assert!(grid.is_blank(3));
        assert_eq!((grid.number(4), grid.cell(5, 1).text, grid.cell(5, 1).kind), (5, "0.5", Kind::Text));
    }

    #[test]
    fn ok_a_merged_block_is_filled_within_its_range_only() {
        let sheets = read("a.xlsx", saved(&mut picks()), Some("P*")).unwrap();
        let grid = &sheets[0].grid;
        assert_eq!((grid.cell(0, 1).text, grid.cell(4, 0).text, grid.cell(5, 0).text), ("Picks of July", "B2-07", "B2-07"));
        assert_eq!(grid.cell(4, 1).text, "");
        assert_eq!(sheets[0].merged, 2);
    }

    #[test]
    fn err_a_missing_sheet_lists_those_there_are() {
        let fault = read("a.xlsx", saved(&mut picks()), Some("Pick")).unwrap_err();
        assert_eq!(fault.found, "no sheet \"Pick\"; its sheets are \"Picks\", \"Notes\"");
        assert_eq!(fault.mend, "did you mean sheet = \"Picks\"?");
        assert_eq!(read("a.xlsx", saved(&mut picks()), None).unwrap_err().code, "sheet-undeclared");
    }

    #[test]
    fn err_text_with_a_workbooks_ending() {
        assert_eq!(read("a.xlsx", b"a,b\n".to_vec(), None).unwrap_err().code, "workbook-unreadable");
    }

    #[test]
    fn a_cell_in_the_last_corner_fills_no_memory() {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet();
        sheet.write(0, 0, "Date").unwrap();
        sheet.write(1_048_575, 16_383, "x").unwrap();
        assert_eq!(read("a.xlsx", saved(&mut book), None).unwrap_err().code, "workbook-too-large");
    }

    #[test]
    fn a_cell_dated_beyond_all_calendars_leaves_the_rest_of_its_sheet_readable() {
        let mut book = Workbook::new();
        let date = Format::new().set_num_format("yyyy-mm-dd");
        let sheet = book.add_worksheet();
        sheet.write_with_format(0, 0, -1e300, &date).unwrap();
        sheet.write(0, 1, "x").unwrap();
        let sheets = read("a.xlsx", saved(&mut book), None).unwrap();
        assert_eq!(sheets[0].grid.cell(0, 1).text, "x");
    }

    #[test]
    fn a_formula_without_a_value_shows_itself() {
        let formula = XlsxFormulaMetadata::Normal { formula: "1+0.107".into() };
        assert_eq!(without_value(&formula), "=1+0.107");
        assert_eq!(without_value(&XlsxFormulaMetadata::SharedDerived { shared_index: 0 }), "=…");
    }

    #[test]
    fn days_of_the_1904_system_are_shifted_and_times_are_not() {
        let days_of = |value| days(&ExcelDateTime::new(value, calamine::ExcelDateTimeType::DateTime, true));
        assert_eq!(days_of(46_571.0), 48_033.0);
        assert_eq!(days_of(0.25), 0.25);
    }
}
