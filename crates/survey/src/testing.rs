//! Small bodies for tests.
use crate::body::{Body, Part};
use crate::frame;

/// A body of one text file, written to a temporary folder and read as any other.
pub(crate) fn body(text: &str) -> Body {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.csv");
    #[allow(clippy::disallowed_methods)] // an input of the test
    std::fs::write(&path, text).unwrap();
    let file = crosshouse_logs::raw::read(&path, "a.csv").unwrap();
    let sheet = file.sheets.into_iter().next().unwrap();
    let frame = frame::find(&sheet).unwrap();
    Body {
        parts: vec![Part {
            file: "a.csv".into(),
            sheet,
            frame,
            encoding: file.encoding,
            guessed: file.guessed,
            delimiter: file.delimiter,
            unclosed: file.unclosed,
        }],
    }
}
