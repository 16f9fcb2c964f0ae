//! Bytes → encoding → delimiter → cells. Quoting the cells again and splitting them gives the same cells.
#![no_main]
use crosshouse_fuzz::{chosen, first};
use crosshouse_logs::fuzzing::{Cells, cells, delimited};
use libfuzzer_sys::fuzz_target;

const ENCODINGS: [Option<&str>; 6] = [None, Some("utf-8"), Some("windows-1252"), Some("utf-16le"), Some("shift_jis"), Some("iso-2022-jp")];

fuzz_target!(|data: &[u8]| {
    let (choice, bytes) = first(data);
    let headers: &[&str] = if choice >= 128 { &["Date", "Bucket", "kg"] } else { &[] };
    let Ok(read) = delimited(bytes, chosen(&ENCODINGS, choice), headers) else { return };
    assert_eq!(read.rows.len(), read.numbers.len());
    assert!(read.numbers.windows(2).all(|w| w[0] < w[1]), "row numbers fall: {:?}", read.numbers);
    if !read.stopped {
        lines_are_rows(&read);
        quoted_again(&read);
    }
});

/// Without a quotation mark every line is a row, and its cells are what stands between the marks.
fn lines_are_rows(read: &Cells) {
    if read.text.contains('"') {
        return;
    }
    let text = read.text.replace("\r\n", "\n").replace('\r', "\n");
    let lines: Vec<&str> = text.strip_suffix('\n').unwrap_or(&text).split('\n').collect();
    let lines = if text.is_empty() { Vec::new() } else { lines };
    let expected: Vec<Vec<String>> = lines.iter().map(|l| l.split(read.delimiter).map(|c| c.trim().to_owned()).collect()).collect();
    assert_eq!(read.rows, expected);
    assert!(read.numbers.iter().enumerate().all(|(i, n)| *n as usize == i + 1));
}

fn quoted_again(read: &Cells) {
    let quoted = |cell: &String| format!("\"{}\"", cell.replace('"', "\"\""));
    let line = |row: &Vec<String>| row.iter().map(quoted).collect::<Vec<_>>().join(&read.delimiter.to_string()) + "\n";
    let again = cells(read.rows.iter().map(line).collect(), read.delimiter);
    if !again.stopped {
        assert_eq!(again.rows, read.rows);
        assert_eq!(again.unclosed, 0);
    }
}
