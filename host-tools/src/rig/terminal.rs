//! A rehearsal as text.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::report::{Faulty, Part, Pass, Rehearsal};
use crate::forecast::INVENTED;

fn table(width: Option<u16>) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .force_no_tty();
    if let Some(width) = width {
        table.set_width(width);
    }
    table
}

/// `1, 3 and 4`.
pub(super) fn numbers(passes: &[u8]) -> String {
    let words: Vec<String> = passes.iter().map(u8::to_string).collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => format!("Pass {one}"),
        [first @ .., last] => format!("Passes {} and {last}", first.join(", ")),
    }
}

/// Name and value of each figure of the sound bolts.
pub(super) fn of_sound(pass: &Pass) -> Vec<[String; 2]> {
    let s = &pass.sound;
    let parts = [
        ("accepted", &s.accepted),
        ("not assessable", &s.not_assessable),
        ("rejected", &s.rejected),
        ("stopped", &s.stopped),
        ("torque could be told", &s.observable),
        ("snug found", &s.snug_found),
        ("true torque within its uncertainty", &s.torque_within_u),
    ];
    let mut rows: Vec<[String; 2]> = (parts.iter())
        .filter(|(_, part)| part.of > 0)
        .map(|(name, part)| [(*name).to_owned(), part.to_string()])
        .collect();
    let listed = |list: &[super::report::Counted]| {
        let words: Vec<_> = list
            .iter()
            .map(|c| format!("{} {}", c.count, c.words))
            .collect();
        words.join("; ")
    };
    for (name, list) in [
        ("why not accepted", &s.reasons),
        ("stopped for", &s.stops),
        ("also said", &s.said),
    ] {
        if !list.is_empty() {
            rows.push([name.to_owned(), listed(list)]);
        }
    }
    if let (Some(window), Some(u), Some(ratio)) = (s.window_nm, s.torque_u_nm, s.window_over_u) {
        rows.push([
            "torque window over uncertainty".to_owned(),
            format!("±{window:.2} N·m over ±{u:.2} N·m (k = 2) = {ratio:.1}; below 1 nothing can be assessed"),
        ]);
    }
    rows
}

/// Cells of the faults' table.
pub(super) const HEADER: [&str; 7] = [
    "fault",
    "bolts",
    "told",
    "named",
    "stopped in time",
    "at % of target",
    "went through",
];

/// The row of a fault.
pub(super) fn of_fault(fault: &Faulty) -> [String; 7] {
    let part = |part: &Part| match part.of {
        0 => "–".to_owned(),
        _ => format!("{}", part.count),
    };
    [
        fault.words.to_owned(),
        fault.began.count.to_string(),
        part(&fault.told),
        part(&fault.named),
        match fault.stopped.of {
            0 => "no stop due".to_owned(),
            of => format!("{} of {of}", fault.stopped.count),
        },
        match (fault.stop_percent, fault.stop_95_percent) {
            (Some(median), Some(most)) => format!("{median:.0} (95 %: {most:.0})"),
            _ => "–".to_owned(),
        },
        match fault.harmless {
            true => format!("{} stopped", fault.let_through.count),
            false => fault.let_through.to_string(),
        },
    ]
}

/// In one line whether it passed, and by what.
pub fn answer(r: &Rehearsal) -> String {
    format!(
        "{}: asked for were at least {} % of the sound bolts of every pass accepted and none stopped, and at most {} % of the faulty ones let through ({})",
        if r.passed { "PASSED" } else { "NOT PASSED" },
        r.accept_percent,
        r.allow_percent,
        r.let_through
    )
}

/// The rehearsal as text of a width; `None` for a file or pipe.
pub fn text(r: &Rehearsal, width: Option<u16>) -> String {
    let mut text = format!("Rehearsal of {}, {}\n\n{}\n", r.bolt, r.thread, r.simulated);
    if r.invented {
        text += INVENTED;
        text.push('\n');
    }
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "\n{}.\n\n{} sound bolts a pass, {} with each fault, seed {}, {} samples a second; intervals 95 % (Wilson).",
        answer(r),
        r.sound_each_pass,
        r.each_fault,
        r.seed,
        r.rate_hz
    );
    if let Some(pose) = &r.pose_deg {
        let pose: Vec<String> = pose.iter().map(f64::to_string).collect();
        let _ = writeln!(text, "The arm stands at {}°, base first.", pose.join(", "));
    }
    text += "Taken:\n";
    for what in &r.taken {
        let _ = writeln!(text, "  - {what}");
    }
    for pass in &r.passes {
        of_pass(pass, width, &mut text);
    }
    let _ = writeln!(text, "\n{}\n{}", r.simulated, r.caution);
    text
}

fn of_pass(pass: &Pass, width: Option<u16>, text: &mut String) {
    let _ = writeln!(text, "\n{}: {}\n", numbers(&pass.passes), pass.goal);
    let mut sound = table(width);
    sound.set_header(["sound bolts", ""]);
    for row in of_sound(pass) {
        sound.add_row(row);
    }
    let _ = writeln!(text, "{}\n", sound.trim_fmt());
    if !pass.faults.is_empty() {
        let mut faults = table(width);
        faults.set_header(HEADER);
        for fault in &pass.faults {
            faults.add_row(of_fault(fault));
        }
        for column in faults.column_iter_mut().skip(1).take(3) {
            column.set_cell_alignment(CellAlignment::Right);
        }
        let _ = writeln!(text, "{}\n", faults.trim_fmt());
    }
    if !pass.not_rehearsed.is_empty() {
        text.push_str("not rehearsed:\n");
        for (why, faults) in super::report::by_why(&pass.not_rehearsed) {
            let _ = writeln!(text, "  - {}: {why}", faults.join(", "));
        }
    }
    match pass.conclusions.as_slice() {
        [] => text.push_str("\nNothing in the description to change by these counts.\n"),
        list => {
            text.push_str("\nWhat the counts say:\n");
            for conclusion in list {
                let _ = writeln!(text, "  - {conclusion}");
            }
        }
    }
}
