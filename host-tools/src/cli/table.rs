//! Replayed runs as a table for people, with reasons and alarms in plain words below it.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use bolting_host::words::{advice, finding_label, reason_label, reason_sentence, seen};
use bolting_monitor::procedure::Verdict;
use comfy_table::{Cell, CellAlignment, Color, ContentArrangement, Table, presets};

use super::out;
use super::run::Run;

const ALARM: Style = AnsiColor::Red.on_default();
const HEADER: [&str; 8] = [
    "run",
    "verdict",
    "final torque ± U (k=2)\nN·m",
    "bolt angle\n°",
    "snug angle\n°",
    "snug torque\nN·m",
    "samples",
    "gaps",
];

/// The table and what stands below it.
pub fn for_people(runs: &[Run]) -> String {
    if runs.is_empty() {
        return String::new();
    }
    let mut table = Table::new();
    table
        .load_style(presets::UTF8_HORIZONTAL_ONLY)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_header(HEADER);
    if out::colored() {
        table.enforce_styling();
    } else {
        table.force_no_tty();
    }
    for column in table.column_iter_mut().skip(2) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    for run in runs {
        table.add_row(row(run));
    }
    let mut text = format!("{table}\n");
    for run in runs {
        below(run, &mut text);
    }
    text
}

fn row(run: &Run) -> Vec<Cell> {
    let summary = &run.outcome.summary;
    let (verdict, color) = match summary.verdict {
        Verdict::Accepted => ("accepted", Color::Green),
        Verdict::Rejected => ("rejected", Color::Red),
        Verdict::NotAssessable => ("not assessable", Color::Yellow),
    };
    let torque = match (run.outcome.final_torque_nm(), run.outcome.observable) {
        (Some(torque), _) => format!("{torque:.2} ± {:.2}", 2.0 * summary.final_torque_u_nm),
        (None, Some(_)) => "not observable".to_owned(),
        (None, None) if !run.summed_up => "not told".to_owned(),
        (None, None) => "did not turn".to_owned(),
    };
    let degrees = |rad: f32| format!("{:.1}", rad.to_degrees());
    let [snug_angle, snug_torque] = summary.snug.map_or_else(
        || ["none".to_owned(), "none".to_owned()],
        |snug| [degrees(snug.angle_rad), format!("{:.2}", snug.torque_nm)],
    );
    vec![
        Cell::new(out::plain(&run.name)),
        Cell::new(verdict).fg(color),
        Cell::new(torque),
        Cell::new(degrees(summary.final_angle_rad)),
        Cell::new(snug_angle),
        Cell::new(snug_torque),
        Cell::new(summary.samples),
        Cell::new(summary.gaps),
    ]
}

/// Why, and what was found.
fn below(run: &Run, text: &mut String) {
    let summary = &run.outcome.summary;
    let reasons: Vec<_> = summary
        .reasons
        .iter()
        .map(|reason| match &run.job {
            Some(job) => reason_sentence(*reason, job, summary),
            None => reason_label(*reason).to_owned(),
        })
        .chain(
            run.missing
                .iter()
                .map(|m| out::plain(&format!("missing from the record: {m}"))),
        )
        .collect();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{}: {}", out::plain(&run.name), reasons.join("; "));
    if !run.about.is_empty() {
        let _ = writeln!(text, "  {}", out::plain(&run.about.join("; ")));
    }
    for finding in &run.outcome.findings {
        let stop = if finding.stops() { ", stop" } else { "" };
        let _ = writeln!(
            text,
            "  {ALARM}{}{ALARM:#} at {:.3} s and {:.1}°{stop}: {}\n    {}",
            finding_label(finding.kind),
            run.outcome.time_s(finding),
            finding.angle_rad.to_degrees(),
            seen(finding),
            advice(finding)
        );
    }
    if run.outcome.observable.is_none() && run.summed_up {
        text.push_str("  the bolt never turned: check the signs of angle and torque, tightening is positive (a spindle whose angle counts up when it undoes, too: spindle.angle_counts = \"driving\")\n");
    }
    if summary.unusable_samples > 0 || run.skipped_rows > 0 {
        let _ = writeln!(
            text,
            "  {} rows left out, {} samples unusable",
            run.skipped_rows, summary.unusable_samples
        );
    }
}
