//! Replayed runs as a table for people, with reasons and alarms in plain words below it.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};
use bolting_host::words::{K, advice, finding_label, reason_label, reason_sentence, seen};
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

/// What stands below every table of verdicts.
pub const CAUTION: &str = "Caution: an aid for the operator, not a safety function. It does not replace a calibrated \
verification of the bolt.";

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
    text += CAUTION;
    text.push('\n');
    text
}

fn row(run: &Run) -> Vec<Cell> {
    let summary = &run.outcome.summary;
    let (verdict, color) = match summary.verdict {
        Verdict::Accepted => ("accepted", Color::Green),
        Verdict::Rejected => ("rejected", Color::Red),
        Verdict::NotAssessable => ("not assessable", Color::Yellow),
    };
    let torque = run.outcome.final_torque_nm().map_or_else(
        || run.outcome.no_torque_words(run.summed_up).to_owned(),
        |torque| format!("{torque:.2} ± {:.2}", K * summary.final_torque_u_nm),
    );
    let told = |words: String| {
        if run.summed_up {
            words
        } else {
            "not told".to_owned()
        }
    };
    let degrees = |rad: f32| format!("{:.1}", rad.to_degrees());
    let [snug_angle, snug_torque] = summary.snug.map_or_else(
        || ["none"; 2].map(|none| told(none.to_owned())),
        |snug| [degrees(snug.angle_rad), format!("{:.2}", snug.torque_nm)],
    );
    vec![
        Cell::new(out::plain(&run.name)),
        Cell::new(verdict).fg(color),
        Cell::new(torque),
        Cell::new(told(degrees(summary.final_angle_rad))),
        Cell::new(snug_angle),
        Cell::new(snug_torque),
        Cell::new(told(summary.samples.to_string())),
        Cell::new(told(summary.gaps.to_string())),
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
    if run.invented == Some(true) {
        text.push_str("  invented scenario: no real bolt was turned\n");
    }
    if !run.about.is_empty() {
        let _ = writeln!(text, "  {}", out::plain(&run.about.join("; ")));
    }
    for (told, finding) in run.outcome.findings.iter().enumerate() {
        let stop = if finding.stops() { ", stop" } else { "" };
        let _ = writeln!(
            text,
            "  {ALARM}{}{ALARM:#} at {:.3} s and {:.1}°{stop}: {}\n    {}",
            finding_label(finding.kind),
            run.outcome.time_s(finding),
            finding.angle_rad.to_degrees(),
            seen(finding),
            advice(finding, &run.outcome.findings[..told])
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
