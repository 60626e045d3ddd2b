//! The integration guide cannot go stale: its table of findings is the crate's.

use bolting_monitor::detect::FindingKind;

const GUIDE: &str = include_str!("../examples/INTEGRATION.md");

/// Name, whether it stops, and what is done.
fn rows() -> Vec<(&'static str, &'static str, &'static str)> {
    GUIDE
        .lines()
        .skip_while(|line| !line.starts_with("| finding |"))
        .skip(2)
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let cells: Vec<_> = line.trim_matches('|').split('|').map(str::trim).collect();
            match cells[..] {
                [name, stops, action] => (name.trim_matches('`'), stops, action),
                _ => panic!("not three cells: {line}"),
            }
        })
        .collect()
}

#[test]
fn every_finding_stands_in_the_guide_with_whether_it_stops() {
    let kinds: Vec<_> = (0..=u8::MAX)
        .filter_map(FindingKind::from_wire_code)
        .map(|kind| (kind.name(), if kind.stops() { "yes" } else { "no" }))
        .collect();
    let told: Vec<_> = rows()
        .iter()
        .map(|(name, stops, _)| (*name, *stops))
        .collect();
    assert_eq!(told, kinds);
    assert!(rows().iter().all(|(_, _, action)| !action.is_empty()));
}
