//! The form of a description: which keys there are, and of what kind. A key that is not known or a value of
//! the wrong kind is noted and taken out, and the reading begins again, so that all are told at once.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue, Deserializer, Error};

use super::Mistake;
use super::schema::File;

/// Mistakes after which the rest is not looked at: so many are of another kind of file.
const MOST: usize = 50;
/// Likeness of a key to a known one from which it is most likely a slip (Jaro–Winkler, 1: the same).
const ALIKE: f64 = 0.85;

/// Reads the form of `text`: what could be read, and what was taken out for it.
///
/// # Errors
/// It is no TOML, or a key is missing without which nothing can be read; then what was taken out before
/// comes with it.
pub fn read(text: &str) -> Result<(File, Vec<Mistake>), (Error, Vec<Mistake>)> {
    let mut taken: Vec<(Range<usize>, Mistake)> = Vec::new();
    loop {
        let mut table = DeTable::parse(text).map_err(|error| (error, Vec::new()))?;
        for (span, _) in &taken {
            take(table.get_mut(), span);
        }
        let known = |taken: Vec<(Range<usize>, Mistake)>| taken.into_iter().map(|t| t.1).collect();
        // Keeps where it stands in the file only if it was read from one.
        let error = match serde::Deserialize::deserialize(Deserializer::from(table.clone())) {
            Ok(file) => return Ok((file, known(taken))),
            Err(error) => error,
        };
        let error: Error = error;
        let found = (error.span()).and_then(|span| Some((take(table.get_mut(), &span)?, span)));
        match found {
            Some((key, span)) if taken.len() < MOST => {
                let mistake = Mistake {
                    line: line(text, &span),
                    problem: problem(&key, error.message()),
                    key,
                };
                taken.push((span, mistake));
            }
            _ => return Err((error, known(taken))),
        }
    }
}

/// Takes out the innermost entry that the span is of; its key with its tables.
fn take(table: &mut DeTable<'_>, span: &Range<usize>) -> Option<String> {
    let within = |outer: &Range<usize>| outer.start <= span.start && span.end <= outer.end;
    let mut found = None;
    for (key, value) in table.iter_mut() {
        let name = key.get_ref();
        if key.span() == *span {
            found = Some(name.to_string());
            break;
        }
        let inner = match value.get_mut() {
            DeValue::Table(inner) => take(inner, span),
            DeValue::Array(all) => all.iter_mut().find_map(|one| match one.get_mut() {
                DeValue::Table(inner) => take(inner, span),
                _ => None,
            }),
            _ => None,
        };
        if let Some(inner) = inner {
            return Some(format!("{name}.{inner}"));
        }
        // What is wrong with a table as a whole is something missing from it.
        let holds_tables = match value.get_ref() {
            DeValue::Table(_) => true,
            DeValue::Array(all) => all.iter().any(|one| one.get_ref().is_table()),
            _ => false,
        };
        if within(&value.span()) && !holds_tables {
            found = Some(name.to_string());
            break;
        }
    }
    let name = found?;
    table
        .remove(name.as_str())
        .map(|_: Spanned<DeValue<'_>>| name)
}

/// Line on which a span begins, from 1.
pub fn line(text: &str, span: &Range<usize>) -> usize {
    1 + text
        .bytes()
        .take(span.start)
        .filter(|b| *b == b'\n')
        .count()
}

/// What the reader says, as a predicate of the key; of a key that is not known, which one is like it.
fn problem(key: &str, message: &str) -> String {
    let Some((_, expected)) =
        (message.strip_prefix("unknown field ")).and_then(|m| m.split_once(", "))
    else {
        return format!("cannot be read: {message}");
    };
    let written = key.rsplit('.').next().unwrap_or(key);
    let alike = (expected.split('`').skip(1).step_by(2))
        .map(|known| (strsim::jaro_winkler(written, known), known))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness >= ALIKE);
    let meant = alike.map_or_else(String::new, |(_, known)| format!(": is `{known}` meant?"));
    let expected = expected.replacen("expected", "", 1);
    format!("is not known here{meant} ({})", expected.trim())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_does_not_belong_is_told_and_the_rest_is_read() {
        let text = "schema = 1\nname = 7\ncolour = \"red\"\n[bolt]\nthread = \"M10\"\nhead = 3\n[run]\nmode = \"wrist_strokes\"\ntarget_torque_nm = \"much\"\ntiming = { a = 1 }\n";
        let (error, mistakes) = read(text).err().unwrap();
        assert!(error.message().contains("missing field `name`"), "{error}");
        let told: Vec<_> = mistakes.iter().map(|m| (m.line, m.key.as_str())).collect();
        assert!(
            told.contains(&(2, "name")) && told.contains(&(3, "colour")),
            "{told:?}"
        );
        assert!(told.contains(&(6, "bolt.head")), "{told:?}");
        assert!(told.contains(&(9, "run.target_torque_nm")), "{told:?}");
        assert!(told.contains(&(10, "run.timing")), "{told:?}");
        assert_eq!(told.len(), 5);
        let (file, none) = read(&text.replace("name = 7", "name = \"a\""))
            .ok()
            .unwrap();
        assert_eq!((none.len(), file.run.target_torque_nm.is_none()), (4, true));
    }

    #[test]
    fn what_is_no_toml_and_what_is_of_another_kind_comes_to_an_end() {
        assert!(read("schema = ").is_err());
        let other: String = (0..200).map(|i| format!("key{i} = {i}\n")).collect();
        assert_eq!(read(&other).err().unwrap().1.len(), MOST);
    }
}
