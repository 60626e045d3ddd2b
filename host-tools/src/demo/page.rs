//! The report of the demo.

use super::Shown;
use crate::page::{PageContext, PageRun, render as render_page, svg};

/// The report as one page, and the first bolt's curve as a still picture.
pub fn render(shown: &[Shown], how: &str) -> (String, Option<String>) {
    let runs: Vec<PageRun> = shown
        .iter()
        .map(|s| {
            PageRun::new(
                &s.prepared.name,
                Some(&s.prepared.description.job),
                &s.outcome,
                true,
            )
        })
        .collect();
    let context = PageContext {
        software_version: env!("CARGO_PKG_VERSION").to_owned(),
        how_samples_ran: how.to_owned(),
        ..PageContext::default()
    };
    let page = render_page("Four bolts of an invented test cell", &runs, &context);
    (page, runs.last().map(svg))
}
