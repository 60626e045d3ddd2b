//! The words of the page, and how its figures are written.

use bolting_monitor::procedure::Verdict;

use super::run::Estimate;
use crate::words::K;

/// What stands for a figure that is not one.
const NO_FIGURE: &str = "—";

pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // No place in XML, and none in a name.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Word, and the class that gives it its colour and its shape.
pub fn verdict(verdict: Verdict) -> (&'static str, &'static str) {
    match verdict {
        Verdict::Accepted => ("accepted", "ok"),
        Verdict::Rejected => ("rejected", "bad"),
        Verdict::NotAssessable => ("not assessable", "open"),
    }
}

/// The torque, or what stands in its place.
pub fn torque(estimate: Option<Estimate>, otherwise: &str) -> String {
    estimate.map_or_else(|| otherwise.to_owned(), |e| with_u(e, 2))
}

/// Text with one kind of minus before figures; a hyphen inside a word stays one.
pub fn minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let figure = rest.peek().is_some_and(char::is_ascii_digit);
        let sign = c == '-' && figure && !before.is_alphanumeric();
        out.push(if sign { '−' } else { c });
        before = c;
    }
    out
}

/// Text with its first letter as a sentence has it.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The figure with its expanded uncertainty.
pub fn with_u(estimate: Estimate, digits: usize) -> String {
    format!(
        "{} ± {}",
        number(estimate.value, digits),
        number(f64::from(K) * estimate.u, digits)
    )
}

pub fn number(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return NO_FIGURE.to_owned();
    }
    let text = format!("{value:.digits$}");
    // "-0.00" is a rounding, no figure.
    let zero = !text.contains(|c: char| ('1'..='9').contains(&c));
    if zero {
        text.trim_start_matches('-').to_owned()
    } else {
        text.replace('-', "−")
    }
}
