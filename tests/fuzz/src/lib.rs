//! What the targets share: how an input is parted, a season's folder, a workbook round a sheet.
pub mod declarations;
pub mod folder;
mod kept;
pub mod logs;
pub mod season_file;
pub mod sheet;

/// Parts several files of one input.
pub const FILE_ENDS: u8 = 0x1E;

/// The first byte of an input and the rest of it; 0 of an empty one.
pub fn first(data: &[u8]) -> (usize, &[u8]) {
    data.split_first().map_or((0, data), |(first, rest)| (usize::from(*first), rest))
}

/// The one that a byte chooses.
pub fn chosen<T: Copy>(of: &[T], by: usize) -> T {
    of[by % of.len()]
}

/// Crates of the workbook library, whose panics the reader of workbooks catches.
const CAUGHT: [&str; 4] = ["/calamine-", "/quick-xml-", "/zip-", "/fast-float2-"];

/// Leaves those panics to the reader; any other, ours above all, ends the run.
pub fn leave_caught_panics() {
    let loud = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |about| {
        if !about.location().is_some_and(|l| CAUGHT.iter().any(|c| l.file().contains(c))) {
            loud(about);
        }
    }));
}
