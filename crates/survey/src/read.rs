//! Every file to its sheets with their frames.
use crate::body::Part;
use crate::{frame, places};
use crosshouse_logs::raw;
use crosshouse_readings::Fault;
use std::collections::BTreeMap;

/// Sheets with a frame, names and reasons of those without, the sheets of each workbook.
pub(crate) type Read = (Vec<Part>, Vec<(String, String)>, BTreeMap<String, Vec<String>>);

/// Every sheet with a frame, those without, and the sheets of each workbook.
pub(crate) fn read(files: &[places::Placed]) -> Result<Read, Vec<Fault>> {
    let (mut parts, mut unknown, mut sheets, mut faults) = (Vec::new(), Vec::new(), BTreeMap::<String, Vec<String>>::new(), Vec::new());
    for file in files {
        let found = match raw::read(&file.path, &file.name) {
            Ok(found) => found,
            Err(fault) => {
                faults.push(*fault);
                continue;
            }
        };
        for sheet in found.sheets {
            if let Some(name) = &sheet.name {
                sheets.entry(file.name.clone()).or_default().push(name.clone());
            }
            let shown = sheet.name.as_ref().map_or_else(|| file.name.clone(), |s| format!("{} / {s}", file.name));
            match frame::find(&sheet) {
                Some(frame) => parts.push(Part {
                    file: file.name.clone(),
                    sheet,
                    frame,
                    encoding: found.encoding.clone(),
                    guessed: found.guessed,
                    delimiter: found.delimiter,
                    unclosed: found.unclosed.clone(),
                }),
                None => unknown.push((shown, "no line looks like a header with rows below it".to_owned())),
            }
        }
    }
    if faults.is_empty() { Ok((parts, unknown, sheets)) } else { Err(faults) }
}
