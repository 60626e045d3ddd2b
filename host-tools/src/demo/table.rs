//! The results for people.

use bolting_monitor::detect::Finding;
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::Shown;
use crate::words::{K, advice, finding_label, seen};

const HEADER: [&str; 6] = [
    "bolt",
    "what was simulated",
    "verdict",
    "final torque ± U (k=2)\nN·m",
    "snug angle\n°",
    "alarms",
];

/// One row for each bolt.
pub fn of(shown: &[Shown]) -> String {
    let mut table = Table::new();
    table
        .load_style(presets::UTF8_HORIZONTAL_ONLY)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_header(HEADER);
    for column in table.column_iter_mut().skip(3).take(2) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    for bolt in shown {
        table.add_row(row(bolt));
    }
    let mut text = format!("{table}\n");
    for bolt in shown {
        for (told, finding) in bolt.outcome.findings.iter().enumerate() {
            text += &format!(
                "{}: {}{}: {}\n  {}\n",
                bolt.prepared.name,
                alarm(finding),
                if finding.stops() { ", stop" } else { "" },
                seen(finding),
                advice(finding, &bolt.outcome.findings[..told])
            );
        }
    }
    text
}

fn alarm(finding: &Finding) -> String {
    format!(
        "{} at {:.1}°",
        finding_label(finding.kind),
        finding.angle_rad.to_degrees()
    )
}

fn row(bolt: &Shown) -> [String; 6] {
    let (outcome, summary) = (&bolt.outcome, &bolt.outcome.summary);
    let alarms: Vec<_> = outcome.findings.iter().map(alarm).collect();
    [
        bolt.prepared.name.clone(),
        bolt.prepared.simulated.to_owned(),
        summary.verdict.name().replace('_', " "),
        outcome.final_torque_nm().map_or_else(
            || outcome.no_torque_words(true).to_owned(),
            |torque| format!("{torque:.2} ± {:.2}", K * summary.final_torque_u_nm),
        ),
        summary.snug.map_or_else(
            || "none".to_owned(),
            |snug| format!("{:.1}", snug.angle_rad.to_degrees()),
        ),
        if alarms.is_empty() {
            "none".to_owned()
        } else {
            alarms.join("\n")
        },
    ]
}
