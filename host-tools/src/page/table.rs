//! The parts of the page that are text.

use bolting_monitor::procedure::Verdict;

use super::PageContext;
use super::run::PageRun;
use super::words::{self, escape, number, with_u};
use crate::words::reason_label;

pub fn invented(runs: &[PageRun]) -> &'static str {
    match runs.iter().filter(|r| r.invented).count() {
        0 => "",
        n if n == runs.len() => {
            "<p class=\"invented\">Invented scenario, simulated data: no real bolt was turned.</p>"
        }
        _ if runs.iter().all(|r| r.described) => {
            "<p class=\"invented\">Some runs are simulated in an invented scenario; each is marked so.</p>"
        }
        _ => {
            "<p class=\"invented\">Some runs are simulated in an invented scenario and marked so; runs without a description may be invented too.</p>"
        }
    }
}

/// How many runs of each verdict, as switches of what is shown.
pub fn counts(runs: &[PageRun]) -> String {
    [Verdict::Rejected, Verdict::NotAssessable, Verdict::Accepted]
        .map(|v| {
            let (word, class) = words::verdict(v);
            let n = runs.iter().filter(|r| r.verdict == v).count();
            format!(
                "<label class=\"{class}\"><input type=\"checkbox\" value=\"{class}\" checked><i class=\"shape\"></i><b>{n}</b> {word}</label>\n"
            )
        })
        .concat()
}

pub fn context(context: &PageContext) -> String {
    let facts = [
        ("Software", &context.software_version),
        ("Made", &context.generated_at),
        ("Samples ran", &context.how_samples_ran),
    ];
    let mut html = facts
        .iter()
        .filter(|(_, text)| !text.is_empty())
        .map(|(name, text)| format!("<dt>{name}</dt><dd>{}</dd>", escape(text)))
        .collect::<String>();
    if !context.notes.is_empty() {
        let notes: String = context
            .notes
            .iter()
            .map(|n| format!("<dd>{}</dd>", escape(n)))
            .collect();
        html += &format!("<dt>Notes</dt>{notes}");
    }
    html
}

/// The list from which a run is chosen: one stop of the Tab key, arrows inside.
pub fn list(runs: &[PageRun]) -> String {
    let mut html = String::new();
    for (i, run) in runs.iter().enumerate() {
        let (word, class) = words::verdict(run.verdict);
        let alarms = run
            .findings
            .iter()
            .map(|f| escape(&f.label))
            .collect::<Vec<_>>()
            .join(", ");
        html += &format!(
            "<li role=\"option\" id=\"run-{i}\" class=\"{class}\" tabindex=\"-1\" aria-selected=\"false\"><i class=\"shape\"></i><b>{}</b><span>{word}{}{alarms}</span></li>\n",
            escape(&run.name),
            if alarms.is_empty() { "" } else { ": " },
        );
    }
    html
}

/// One small plot for each run.
pub fn cards(runs: &[PageRun]) -> String {
    let mut html = String::new();
    for (i, run) in runs.iter().enumerate() {
        let (word, class) = words::verdict(run.verdict);
        html += &format!(
            "<figure class=\"{class}\" data-run=\"{i}\"><figcaption><i class=\"shape\"></i><b>{}</b><span>{word}{}</span></figcaption><canvas aria-hidden=\"true\"></canvas></figure>\n",
            escape(&run.name),
            run.final_torque_nm
                .map(|t| format!(", {} N·m", number(t.value, 1)))
                .unwrap_or_default(),
        );
    }
    html
}

pub fn rows(runs: &[PageRun]) -> String {
    let mut html = String::new();
    for run in runs {
        let (word, class) = words::verdict(run.verdict);
        let reasons: Vec<&str> = run.reasons.iter().map(|r| reason_label(*r)).collect();
        let wanting: String = (run.wanting.iter())
            .map(|w| format!("<p>{}.</p>", escape(&words::sentence(w))))
            .collect();
        let missing: String = (run.missing.iter())
            .map(|m| format!("<p>Missing from the record: {}.</p>", escape(m)))
            .collect();
        let snug = run.snug_angle_deg.map_or_else(
            || {
                let why = if run.summed_up {
                    "none seen"
                } else {
                    "not told"
                };
                why.to_owned()
            },
            |s| with_u(s, 1),
        );
        let target = run.target.map_or_else(
            || {
                let why = if run.described {
                    "not given"
                } else {
                    "description not given"
                };
                why.to_owned()
            },
            |t| {
                let [low, high] = [-1.0, 1.0].map(|s| t.torque_nm + s * t.half_width_nm);
                format!(
                    "{} <small>({} to {})</small>",
                    number(t.torque_nm, 1),
                    number(low, 1),
                    number(high, 1)
                )
            },
        );
        html += &format!(
            "<tr class=\"{class}\"><th scope=\"row\">{}{}{}</th><td><i class=\"shape\"></i><b>{word}</b><br>{}{wanting}{missing}</td><td>{}</td><td>{target}</td><td>{}</td><td>{snug}</td><td>{}</td><td>{}</td></tr>\n",
            escape(&run.name),
            if run.invented {
                "<br><small>invented, simulated</small>"
            } else {
                ""
            },
            run.about
                .iter()
                .map(|line| format!("<br><small>{}</small>", escape(line)))
                .collect::<String>(),
            reasons.join("; "),
            words::torque(run.final_torque_nm, run.no_torque),
            if run.summed_up {
                with_u(run.final_angle_deg, 1)
            } else {
                "not told".to_owned()
            },
            alarms(run),
            samples(run),
        );
    }
    html
}

/// Where people sign, on paper.
pub fn sign_off(context: &PageContext) -> &'static str {
    if context.sign_off { SIGN_OFF } else { "" }
}

const SIGN_OFF: &str = "<section id=\"signoff\" aria-labelledby=\"signoff-title\">
<h2 id=\"signoff-title\">Sign-off</h2>
<p>A person answers for the bolts, with the joint's procedure at hand; this report does not.</p>
<table>
<thead><tr><th scope=\"col\">For</th><th scope=\"col\">Runs</th><th scope=\"col\">Name</th><th scope=\"col\">Date</th><th scope=\"col\">Signature</th></tr></thead>
<tbody><tr><th scope=\"row\">Done</th><td></td><td></td><td></td><td></td></tr>
<tr><th scope=\"row\">Reviewed</th><td></td><td></td><td></td><td></td></tr>
<tr><th scope=\"row\">Accepted</th><td></td><td></td><td></td><td></td></tr></tbody>
</table>
</section>
";

fn alarms(run: &PageRun) -> String {
    if run.findings.is_empty() {
        return "none".to_owned();
    }
    run.findings
        .iter()
        .map(|f| {
            format!(
                "<p><b>{}{}</b>. {} {}.</p>",
                escape(&f.label),
                if f.stops { ", stops" } else { "" },
                escape(&f.evidence),
                escape(&words::sentence(&f.advice))
            )
        })
        .collect()
}

fn samples(run: &PageRun) -> String {
    if !run.summed_up {
        return "not told".to_owned();
    }
    let mut text = run.samples.to_string();
    for (n, what) in [(run.gaps, "gaps"), (run.unusable_samples, "unusable")] {
        if n > 0 {
            text += &format!("<br><small>{n} {what}</small>");
        }
    }
    text
}
