//! A rehearsal as one self-contained page: opens from a file and asks nothing of a network.

use super::report::{Pass, Rehearsal, by_why};
use super::terminal::{HEADER, answer, numbers, of_fault, of_sound};
use crate::forecast::INVENTED;
use crate::page::words::escape;
use crate::page::{STYLE, fill};

const TEMPLATE: &str = include_str!("page.html");

/// Makes the page. The same rehearsal gives the same bytes.
pub fn page(r: &Rehearsal) -> String {
    fill(TEMPLATE, |key| match key {
        "title" => escape(&r.bolt),
        "style" => STYLE.to_owned(),
        "thread" => escape(&r.thread),
        "invented" if r.invented => format!("<p class=\"invented\">{INVENTED}</p>"),
        "invented" => String::new(),
        "simulated" => escape(r.simulated),
        "caution" => escape(r.caution),
        "answer" => escape(&answer(r)),
        "how" => format!(
            "{} sound bolts a pass, {} with each fault, seed {}, {} samples a second; intervals 95 % (Wilson).",
            r.sound_each_pass, r.each_fault, r.seed, r.rate_hz
        ),
        "pose" => r.pose_deg.as_ref().map_or(String::new(), |pose| {
            let pose: Vec<String> = pose.iter().map(f64::to_string).collect();
            format!("<p>The arm stands at {}°, base first.</p>", pose.join(", "))
        }),
        "taken" => list(r.taken.iter().map(String::as_str)),
        "passes" => r.passes.iter().map(of_pass).collect(),
        "software" => format!("bolting-host {}", env!("CARGO_PKG_VERSION")),
        // A test renders the page and finds no key left over.
        _ => format!("{{{{{key}}}}}"),
    })
}

fn list<'a>(items: impl Iterator<Item = &'a str>) -> String {
    let items: String = items
        .map(|item| format!("<li>{}</li>\n", escape(item)))
        .collect();
    format!("<ul>\n{items}</ul>\n")
}

fn of_pass(pass: &Pass) -> String {
    let id = pass.passes.first().copied().unwrap_or(0);
    let says = match pass.conclusions.as_slice() {
        [] => "<p>Nothing in the description to change by these counts.</p>\n".to_owned(),
        all => format!(
            "<h3>What the counts say</h3>\n{}",
            list(all.iter().map(String::as_str))
        ),
    };
    let sound: String = of_sound(pass)
        .iter()
        .map(|[name, value]| {
            format!(
                "<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n",
                escape(name),
                escape(value)
            )
        })
        .collect();
    let head: String = HEADER
        .iter()
        .map(|h| format!("<th scope=\"col\">{}</th>", escape(h)))
        .collect();
    let faults: String = pass
        .faults
        .iter()
        .map(|fault| {
            let [name, rest @ ..] = of_fault(fault);
            let cells: String = rest
                .iter()
                .map(|cell| format!("<td>{}</td>", escape(cell)))
                .collect();
            format!("<tr><th scope=\"row\">{}</th>{cells}</tr>\n", escape(&name))
        })
        .collect();
    let faults = if faults.is_empty() {
        String::new()
    } else {
        format!(
            "<h3>Faults</h3>\n<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{faults}</tbody>\n</table>\n"
        )
    };
    let left: Vec<String> = by_why(&pass.not_rehearsed)
        .iter()
        .map(|(why, faults)| format!("{}: {why}", faults.join(", ")))
        .collect();
    let left = if left.is_empty() {
        String::new()
    } else {
        format!(
            "<h3>Not rehearsed</h3>\n{}",
            list(left.iter().map(String::as_str))
        )
    };
    format!(
        "<section aria-labelledby=\"pass-{id}\">\n<h2 id=\"pass-{id}\">{}: {}</h2>\n{says}<h3>Sound bolts</h3>\n<table>\n<tbody>\n{sound}</tbody>\n</table>\n{faults}{left}</section>\n",
        escape(&numbers(&pass.passes)),
        escape(&pass.goal),
    )
}
