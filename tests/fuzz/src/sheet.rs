//! A sound workbook round the bytes of one sheet.
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

const HEAD: &str = r#"<?xml version="1.0" encoding="UTF-8" standalone="yes"?>"#;

const TYPES: &str = r#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>"#;

const RELATIONS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;

const BOOK: &str = r#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><workbookPr date1904="EPOCH"/><sheets><sheet name="Week 21" sheetId="1" r:id="r1"/></sheets></workbook>"#;

const SHEETS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="r3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/></Relationships>"#;

const STRINGS: &str = r#"<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>Date</t></si><si><t>Bucket</t></si><si><t>kg</t></si><si><t>Fruit</t></si><si><t>B1-01</t></si></sst>"#;

/// Style 1 is a date, style 2 a time.
const STYLES: &str = r#"<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="20"/></cellXfs></styleSheet>"#;

const MIMETYPE: &str = "application/vnd.oasis.opendocument.spreadsheet";

const MANIFEST: &str = r#"<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>"#;

/// An .xlsx of one sheet, "Week 21", whose XML is `sheet`.
pub fn xlsx(sheet: &[u8], from_1904: bool) -> Vec<u8> {
    let book = BOOK.replace("EPOCH", if from_1904 { "1" } else { "0" });
    zipped(&[
        ("[Content_Types].xml", &[HEAD.as_bytes(), TYPES.as_bytes()]),
        ("_rels/.rels", &[HEAD.as_bytes(), RELATIONS.as_bytes()]),
        ("xl/workbook.xml", &[HEAD.as_bytes(), book.as_bytes()]),
        ("xl/_rels/workbook.xml.rels", &[HEAD.as_bytes(), SHEETS.as_bytes()]),
        ("xl/sharedStrings.xml", &[HEAD.as_bytes(), STRINGS.as_bytes()]),
        ("xl/styles.xml", &[HEAD.as_bytes(), STYLES.as_bytes()]),
        ("xl/worksheets/sheet1.xml", &[sheet]),
    ])
}

/// An .ods whose content is `content`.
pub fn ods(content: &[u8]) -> Vec<u8> {
    zipped(&[("mimetype", &[MIMETYPE.as_bytes()]), ("META-INF/manifest.xml", &[MANIFEST.as_bytes()]), ("content.xml", &[content])])
}

fn zipped(parts: &[(&str, &[&[u8]])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for (name, pieces) in parts {
        zip.start_file(*name, stored).expect("a name");
        for piece in *pieces {
            zip.write_all(piece).expect("memory");
        }
    }
    zip.finish().expect("memory").into_inner()
}
