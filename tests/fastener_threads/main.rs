//! Threads held to published figures. Each table names its source; a figure said to be "from memory"
//! is no outside check.

mod designations;
mod diameters;
mod limits;
mod prevailing;
mod stripping;

use bolting_monitor::fastener::Thread;

fn thread(designation: &str) -> Thread {
    designation
        .parse()
        .unwrap_or_else(|error| panic!("{designation}: {error}"))
}

/// A figure of a table: of which thread, printed, ours.
type Row = (&'static str, f32, f32);

/// Holds every row within `tolerance` of its printed figure and tells all that are not.
fn hold(source: &str, rows: impl IntoIterator<Item = Row>, tolerance: impl Fn(f32) -> f32) {
    let rows: Vec<Row> = rows.into_iter().collect();
    let wrong: Vec<String> = rows
        .iter()
        .filter(|(_, printed, ours)| !((ours - printed).abs() <= tolerance(*printed)))
        .map(|(name, printed, ours)| format!("{name}: expected {printed}, got {ours}"))
        .collect();
    assert!(!rows.is_empty(), "{source}: no rows");
    assert!(wrong.is_empty(), "{source}:\n{}", wrong.join("\n"));
    println!("{source}: {} figures", rows.len());
}
