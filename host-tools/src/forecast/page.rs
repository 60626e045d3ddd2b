//! The forecast as one self-contained page: opens from a file and asks nothing of a network.

use super::figure::{Figure, Untold};
use super::svg::svg;
use super::{Expectation, INVENTED, PassExpectation};
use crate::page::words::{escape, minus};
use crate::page::{STYLE, fill};

const TEMPLATE: &str = include_str!("page.html");

/// Makes the page. The same forecast gives the same bytes.
pub fn page(expectation: &Expectation) -> String {
    fill(TEMPLATE, |key| match key {
        "title" => escape(&expectation.bolt),
        "style" => STYLE.to_owned(),
        "thread" => escape(&expectation.thread),
        "invented" if expectation.invented => format!("<p class=\"invented\">{INVENTED}</p>"),
        "invented" => String::new(),
        "caution" => escape(expectation.caution),
        "software" => format!("bolting-host {}", env!("CARGO_PKG_VERSION")),
        "passes" => expectation.passes.iter().map(of_pass).collect(),
        "bolt" => table(&expectation.figures) + &untold(&expectation.not_told),
        // A test renders the page and finds no key left over.
        _ => format!("{{{{{key}}}}}"),
    })
}

fn of_pass(pass: &PassExpectation) -> String {
    let n = pass.pass;
    let warnings: String = pass
        .warnings
        .iter()
        .map(|w| format!("<p class=\"invented\">Warning: {}.</p>\n", escape(w)))
        .collect();
    format!(
        "<section aria-labelledby=\"pass-{n}\">\n<h2 id=\"pass-{n}\">Pass {n}: {}</h2>\n{warnings}{}{}{}</section>\n",
        escape(&pass.goal),
        pass.picture.as_ref().map(svg).unwrap_or_default(),
        table(&pass.figures),
        untold(&pass.not_told),
    )
}

fn table(figures: &[Figure]) -> String {
    if figures.is_empty() {
        return String::new();
    }
    let rows: String = figures
        .iter()
        .map(|f| {
            format!(
                "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                escape(f.name),
                escape(&minus(&f.words())),
                escape(f.formula),
                escape(&f.source)
            )
        })
        .collect();
    format!(
        "<table>\n<thead><tr><th scope=\"col\">Figure</th><th scope=\"col\">Expected</th><th scope=\"col\">Formula</th><th scope=\"col\">Source</th></tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n"
    )
}

fn untold(untold: &[Untold]) -> String {
    if untold.is_empty() {
        return String::new();
    }
    let items: String = untold
        .iter()
        .map(|u| {
            format!(
                "<li>{}: state <code>{}</code></li>\n",
                escape(u.figures),
                escape(u.state)
            )
        })
        .collect();
    format!("<h2>Not told</h2>\n<ul>\n{items}</ul>\n")
}
