//! What the sheets' own markup says and the workbook reader does not: hidden rows and columns (ECMA-376
//! part 1, 18.3.1.13 and 18.3.1.73; OpenDocument 1.3 part 3, 19.749), and the merged cells and formulas of
//! OpenDocument sheets (19.676, 19.678, 19.642).
use calamine::Dimensions;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::io::{Cursor, Read};

#[derive(Debug, Default)]
pub(super) struct Markup {
    pub hidden_rows: u32,
    pub hidden_columns: u32,
    /// OpenDocument alone.
    pub merges: Vec<Dimensions>,
    pub formulas: u32,
}

/// Rows and columns beyond these are padding that office programs write to the sheet's edge.
const MOST_ROWS: u32 = 1_048_576;
const MOST_COLUMNS: u32 = 16_384;

fn part(bytes: &[u8], name: &str) -> Option<Vec<u8>> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut text = Vec::new();
    archive.by_name(name).ok()?.read_to_end(&mut text).ok()?;
    Some(text)
}

/// Calls `each` for every opening tag and, with `false`, for every closing one.
fn tags(text: &[u8], mut each: impl FnMut(&str, Option<&BytesStart<'_>>)) -> Option<()> {
    let mut reader = Reader::from_reader(text);
    let mut space = Vec::new();
    loop {
        match reader.read_event_into(&mut space).ok()? {
            Event::Start(tag) => each(tag.local_name().as_ref(), Some(&tag)),
            Event::Empty(tag) => {
                each(tag.local_name().as_ref(), Some(&tag));
                each(tag.local_name().as_ref(), None);
            }
            Event::End(tag) => each(tag.local_name().as_ref(), None),
            Event::Eof => return Some(()),
            _ => {}
        }
        space.clear();
    }
}

fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = tag.attributes().flatten().find(|a| a.key.local_name().as_ref() == name)?;
    Some(quick_xml::escape::unescape(&found.value).map_or_else(|_| found.value.to_string(), |t| t.into_owned()))
}

fn number(tag: &BytesStart<'_>, name: &str) -> u32 {
    attribute(tag, name).and_then(|n| n.parse().ok()).unwrap_or(1)
}

fn is_on(tag: &BytesStart<'_>, name: &str) -> bool {
    attribute(tag, name).is_some_and(|v| v == "1" || v == "true")
}

pub(super) fn of_xlsx(bytes: &[u8], sheet: &str) -> Option<Markup> {
    let mut id = None;
    tags(&part(bytes, "xl/workbook.xml")?, |name, tag| {
        if let ("sheet", Some(tag)) = (name, tag)
            && attribute(tag, "name").as_deref() == Some(sheet)
        {
            // The relation's own id, not the sheetId beside it.
            id = tag.attributes().flatten().find(|a| a.key.as_ref().ends_with(":id")).map(|a| a.value.to_string());
        }
    })?;
    let mut target = None;
    tags(&part(bytes, "xl/_rels/workbook.xml.rels")?, |name, tag| {
        if let ("Relationship", Some(tag)) = (name, tag)
            && id.is_some()
            && attribute(tag, "Id") == id
        {
            target = attribute(tag, "Target");
        }
    })?;
    let target = target?;
    let path = target.strip_prefix('/').map_or_else(|| format!("xl/{target}"), str::to_owned);
    let mut markup = Markup::default();
    tags(&part(bytes, &path)?, |name, tag| match (name, tag) {
        ("row", Some(tag)) if is_on(tag, "hidden") => markup.hidden_rows += 1,
        ("col", Some(tag)) if is_on(tag, "hidden") => {
            let (from, to) = (number(tag, "min"), number(tag, "max").min(MOST_COLUMNS));
            markup.hidden_columns = markup.hidden_columns.saturating_add((to + 1).saturating_sub(from));
        }
        _ => {}
    })?;
    Some(markup)
}

/// Where reading stands in an OpenDocument sheet.
#[derive(Default)]
struct At {
    inside: bool,
    row: u32,
    column: u32,
    /// How often the row just read stands there.
    repeated: u32,
}

pub(super) fn of_ods(bytes: &[u8], sheet: &str) -> Option<Markup> {
    let mut markup = Markup::default();
    let mut at = At::default();
    tags(&part(bytes, "content.xml")?, |name, tag| match (name, tag) {
        ("table", Some(tag)) => at = At { inside: attribute(tag, "name").as_deref() == Some(sheet), ..At::default() },
        ("table", None) => at.inside = false,
        ("table-column", Some(tag)) if at.inside && is_hidden(tag) => {
            let repeated = number(tag, "number-columns-repeated").min(MOST_COLUMNS);
            markup.hidden_columns = markup.hidden_columns.saturating_add(repeated);
        }
        ("table-row", Some(tag)) if at.inside => {
            at.column = 0;
            at.repeated = number(tag, "number-rows-repeated").min(MOST_ROWS);
            markup.hidden_rows = markup.hidden_rows.saturating_add(if is_hidden(tag) { at.repeated } else { 0 });
        }
        ("table-row", None) if at.inside => at.row = at.row.saturating_add(at.repeated),
        ("table-cell" | "covered-table-cell", Some(tag)) if at.inside => cell(tag, &mut at, &mut markup),
        _ => {}
    })?;
    Some(markup)
}

/// Why an OpenDocument workbook cannot be followed.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Unsound {
    /// Content that is no sound XML: a tag is never closed, or closed by another.
    Open,
    /// Repeated cells and spaces come to more text than the bound.
    TooLarge,
}

/// Looks the content over before the workbook reader does, which reads on for ever in a table that is never
/// closed, and writes out every repeated cell and space. Content that is not there is left to that reader.
///
/// # Errors
/// [`Unsound`]
pub(super) fn check_ods(bytes: &[u8], most_text: u64) -> Result<(), Unsound> {
    let Some(content) = part(bytes, "content.xml") else { return Ok(()) };
    let mut reader = Reader::from_reader(content.as_slice());
    let (mut space, mut open, mut text) = (Vec::new(), 0u64, Text::default());
    loop {
        match reader.read_event_into(&mut space).map_err(|_| Unsound::Open)? {
            Event::Start(tag) => {
                open += 1;
                text.begins(&tag);
            }
            Event::Empty(tag) => {
                text.begins(&tag);
                text.ends(tag.local_name().as_ref());
            }
            Event::End(tag) => {
                open = open.saturating_sub(1);
                text.ends(tag.local_name().as_ref());
            }
            Event::Text(written) => text.cell = text.cell.saturating_add(written.len() as u64),
            Event::Eof => return if open == 0 { Ok(()) } else { Err(Unsound::Open) },
            _ => {}
        }
        if text.all > most_text || text.cell > most_text {
            return Err(Unsound::TooLarge);
        }
        space.clear();
    }
}

/// How much text the cells of an OpenDocument workbook come to, with all that is repeated.
#[derive(Default)]
struct Text {
    all: u64,
    cell: u64,
    rows: u64,
    columns: u64,
}

impl Text {
    fn begins(&mut self, tag: &BytesStart<'_>) {
        let times = |name| attribute(tag, name).map_or(1, |n| n.parse().unwrap_or(u64::MAX));
        match tag.local_name().as_ref() {
            "table-row" => self.rows = times("number-rows-repeated").min(MOST_ROWS.into()),
            "table-cell" | "covered-table-cell" => {
                self.columns = times("number-columns-repeated").min(MOST_COLUMNS.into());
                let length = |name| attribute(tag, name).map_or(0, |t| t.len() as u64);
                self.cell = length("string-value") + length("date-value") + length("time-value") + length("formula");
            }
            "s" => self.cell = self.cell.saturating_add(times("c")),
            _ => {}
        }
    }

    fn ends(&mut self, name: &str) {
        if matches!(name, "table-cell" | "covered-table-cell") {
            self.all = self.all.saturating_add(self.cell.saturating_mul(self.columns).saturating_mul(self.rows));
            self.cell = 0;
        }
    }
}

fn is_hidden(tag: &BytesStart<'_>) -> bool {
    attribute(tag, "visibility").is_some_and(|v| v == "collapse" || v == "filter")
}

fn cell(tag: &BytesStart<'_>, at: &mut At, markup: &mut Markup) {
    let (down, across) = (number(tag, "number-rows-spanned"), number(tag, "number-columns-spanned"));
    let block = (1..=MOST_ROWS).contains(&down) && (1..=MOST_COLUMNS).contains(&across);
    if block && (down > 1 || across > 1) {
        let end = (at.row.saturating_add(down - 1), at.column.saturating_add(across - 1));
        markup.merges.push(Dimensions { start: (at.row, at.column), end });
    }
    markup.formulas += u32::from(attribute(tag, "formula").is_some());
    at.column = at.column.saturating_add(number(tag, "number-columns-repeated").min(MOST_COLUMNS));
}

#[cfg(test)]
mod tests {
    use super::super::workbook;
    use std::io::{Cursor, Write};
    use zip::write::SimpleFileOptions;

    /// An .ods whose only sheet holds `rows`, and whose content ends with `end`.
    fn ods(rows: &str, end: &str) -> Vec<u8> {
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let content = format!("<office:document-content><office:spreadsheet><table:table table:name=\"a\">{rows}{end}");
        for (name, text) in [
            ("mimetype", "application/vnd.oasis.opendocument.spreadsheet"),
            ("META-INF/manifest.xml", "<manifest:manifest/>"),
            ("content.xml", content.as_str()),
        ] {
            archive.start_file(name, SimpleFileOptions::default()).unwrap();
            archive.write_all(text.as_bytes()).unwrap();
        }
        archive.finish().unwrap().into_inner()
    }

    const END: &str = "</table:table></office:spreadsheet></office:document-content>";

    fn read(rows: &str, end: &str) -> Result<String, &'static str> {
        let sheets = workbook::read("a.ods", ods(rows, end), None).map_err(|why| why.code)?;
        Ok(sheets[0].grid.cell(0, 0).text.to_owned())
    }

    fn row(repeated: &str, cell: &str) -> String {
        format!("<table:table-row {repeated}><table:table-cell {cell}</table:table-cell></table:table-row>")
    }

    #[test]
    fn an_opendocument_sheet_that_is_never_closed_is_refused_and_not_read_for_ever() {
        let text = row("", "office:value-type=\"string\"><text:p>kg</text:p>");
        assert_eq!(read(&text, END), Ok("kg".to_owned()));
        let note = row("", "office:value-type=\"string\"><office:annotation><text:p>kg</text:p>");
        for (rows, end) in [(text.as_str(), ""), (&text, "</office:spreadsheet></office:document-content>"), (&note, END)] {
            assert_eq!(read(rows, end), Err("workbook-unreadable"), "{rows}{end}");
        }
    }

    #[test]
    fn a_cell_that_spans_no_row_is_no_merged_block() {
        for spans in ["table:number-rows-spanned=\"0\" table:number-columns-spanned=\"2\"", "table:number-columns-spanned=\"0\""] {
            let bytes = ods(&row("", &format!("{spans} office:value-type=\"string\"><text:p>kg</text:p>")), END);
            let sheets = workbook::read("a.ods", bytes, None).unwrap();
            assert_eq!((sheets[0].grid.cell(0, 0).text, sheets[0].merged), ("kg", 0), "{spans}");
        }
    }

    #[test]
    fn hidden_rows_beyond_all_counting_are_counted_to_the_end() {
        let hidden = "<table:table-row table:visibility=\"collapse\" table:number-rows-repeated=\"1048576\"/>".repeat(4097);
        let bytes = ods(&(row("", "office:value-type=\"string\"><text:p>kg</text:p>") + &hidden), END);
        assert_eq!(workbook::read("a.ods", bytes, None).unwrap()[0].hidden_rows, u32::MAX);
    }

    #[test]
    fn repeated_cells_and_spaces_of_an_opendocument_sheet_fill_no_memory() {
        let long = "x".repeat(1 << 20);
        let spaces = row("", "office:value-type=\"string\"><text:p><text:s text:c=\"99999999999\"/></text:p>");
        let cells = format!("table:number-columns-repeated=\"16384\" office:value-type=\"string\"><text:p>{long}</text:p>");
        let rows = format!("office:value-type=\"string\" office:string-value=\"{long}\">");
        for rows in [spaces, row("", &cells), row("table:number-rows-repeated=\"100000\"", &rows)] {
            assert_eq!(read(&rows, END), Err("workbook-too-large"));
        }
        assert_eq!(
            read(&row("table:number-rows-repeated=\"100000\"", "office:value-type=\"string\"><text:p>kg</text:p>"), END),
            Ok("kg".to_owned())
        );
    }
}
