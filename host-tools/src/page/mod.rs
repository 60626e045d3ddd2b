//! One self-contained page of torque–angle curves: opens from a file, asks nothing of a network,
//! prints, and says everything that matters as text as well.

mod data;
mod run;
pub(crate) mod svg;
mod table;
pub(crate) mod words;

pub use run::{Estimate, PageFinding, PagePoint, PageRun, Target};
pub use svg::svg;

use data::Data;
use words::escape;

const TEMPLATE: &str = include_str!("page.html");
pub(crate) const STYLE: &str = include_str!("page.css");
/// In the order in which the page needs them.
const SCRIPTS: [&str; 4] = [
    include_str!("data.js"),
    include_str!("draw.js"),
    include_str!("small.js"),
    include_str!("page.js"),
];

/// What the page says of how it came to be.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PageContext {
    /// Version of the software that made the page.
    pub software_version: String,
    /// When the page was made, as the reader is to see it.
    pub generated_at: String,
    /// How the samples ran, e.g. "through the emulated controller" or "in this process".
    pub how_samples_ran: String,
    /// Sentences for the reader, e.g. of skipped rows.
    pub notes: Vec<String>,
    /// Whether people are to sign below the results.
    pub sign_off: bool,
}

/// Makes the page. The same input gives the same bytes.
pub fn render(title: &str, runs: &[PageRun], context: &PageContext) -> String {
    fill(TEMPLATE, |key| match key {
        "title" => escape(title),
        "style" => STYLE.to_owned(),
        "script" => SCRIPTS.concat(),
        "data" => Data::of(runs).json(),
        "invented" => table::invented(runs).to_owned(),
        "counts" => table::counts(runs),
        "context" => table::context(context),
        "list" => table::list(runs),
        "cards" => table::cards(runs),
        "rows" => table::rows(runs),
        "signoff" => table::sign_off(context).to_owned(),
        // A test renders the page and finds no key left over.
        _ => format!("{{{{{key}}}}}"),
    })
}

/// Puts texts in the places of a template in one pass, so that a text that looks like a place stays
/// a text.
pub(crate) fn fill(template: &str, text_of: impl Fn(&str) -> String) -> String {
    let mut parts = template.split("{{");
    let mut page = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (key, rest) = part.split_once("}}").unwrap_or((part, ""));
        page.push_str(&text_of(key));
        page.push_str(rest);
    }
    page
}
