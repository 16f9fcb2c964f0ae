//! Bytes as a workbook, as the sheet of a sound .xlsx, as the content of a sound .ods.
#![no_main]
use crosshouse_fuzz::{first, leave_caught_panics, sheet};
use crosshouse_logs::fuzzing::workbook;
use libfuzzer_sys::fuzz_target;

fuzz_target!(init: leave_caught_panics(), |data: &[u8]| {
    let (choice, bytes) = first(data);
    let read = match choice % 5 {
        0 => workbook("a.xlsx", bytes),
        1 => workbook("a.ods", bytes),
        2 => workbook("a.xlsx", &sheet::xlsx(bytes, false)),
        3 => workbook("a.xlsx", &sheet::xlsx(bytes, true)),
        _ => workbook("a.ods", &sheet::ods(bytes)),
    };
    if let Err(code) = read {
        assert!(code.starts_with("workbook-") || code.starts_with("sheet-"), "{code}");
    }
});
