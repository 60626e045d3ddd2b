//! What a controller may log: behind the feature `defmt`, every public type with something in it to
//! read can be formatted.

use std::fs;
use std::path::{Path, PathBuf};

/// Types with public fields that are not formatted all the same, and why.
const EXCUSED: [(&str, &str); 6] = [
    (
        "Grips",
        "working state of the detectors for undoing, outside the public interface",
    ),
    ("StepView", "borrows the curve for the length of a call"),
    ("ArmReading", "borrows the reading for the length of a call"),
    ("ArmLoad", "borrows the reading for the length of a call"),
    (
        "Block",
        "borrows the gathered samples for the length of a call",
    ),
    ("SampleView", "borrows the reading for the length of a call"),
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of the sources") {
        let path = entry.expect("readable").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

/// Name of the public type that a line at the left margin declares.
fn declared(line: &str) -> Option<&str> {
    let rest = ["pub struct ", "pub enum "]
        .iter()
        .find_map(|start| line.strip_prefix(start))?;
    rest.split(|c: char| !c.is_alphanumeric()).next()
}

/// The types of a source file, with whether there is something to read in them and whether they
/// are formatted.
fn types(text: &str) -> Vec<(&str, bool, bool)> {
    let lines: Vec<_> = text.lines().collect();
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let Some(name) = declared(line) else {
            continue;
        };
        // Between the item before and this one, rustfmt leaves an empty line.
        let formatted = lines[..at]
            .iter()
            .rev()
            .take_while(|line| !line.is_empty())
            .any(|line| line.contains(r#"feature = "defmt", derive(defmt::Format)"#))
            || text.contains(&format!("defmt::Format for {name}"));
        let mut body = lines[at + 1..].iter().take_while(|line| **line != "}");
        // A state whose fields are private says what it has to say by its results.
        let readable = line.starts_with("pub enum")
            || !line.ends_with('{')
            || body.any(|line| line.starts_with("    pub "));
        found.push((name, readable, formatted));
    }
    found
}

#[test]
fn every_public_type_with_something_to_read_can_be_logged() {
    let mut files = Vec::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    sources(&root, &mut files);
    let mut missing = Vec::new();
    let mut formatted_types = 0;
    for file in files {
        let text = fs::read_to_string(&file).expect("readable");
        for (name, readable, formatted) in types(&text) {
            formatted_types += usize::from(formatted);
            let excused = EXCUSED.iter().any(|(excused, _)| *excused == name);
            assert!(!(excused && formatted), "{name} needs no excuse");
            if readable && !formatted && !excused {
                missing.push(format!("{}: {name}", file.display()));
            }
        }
    }
    assert!(missing.is_empty(), "without defmt::Format: {missing:#?}");
    // Would catch a search that finds nothing.
    assert!(formatted_types > 80, "{formatted_types}");
}

#[test]
fn the_search_sees_what_is_missing() {
    let source = "/// A.\n#[derive(Debug)]\npub struct A {\n    pub x: f32,\n}\n\n\
                  /// B.\n#[derive(Debug)]\n#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]\n\
                  pub enum B {\n    C,\n}\n\n/// D.\npub struct D<T> {\n    x: T,\n}\n";
    assert_eq!(
        types(source),
        [("A", true, false), ("B", true, true), ("D", false, false)]
    );
}
