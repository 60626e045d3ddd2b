//! Rows as a recording: the columns that `replay` reads.

use std::fmt::Write as _;

use bolting_monitor::sample::Context;

use super::Row;
use super::files::Content;
use super::setup::JOINTS;

/// Rows as a recording of the last `joints` joints; of none: of the spindle alone.
pub(crate) fn csv(rows: &[Row], joints: usize) -> Content {
    let empty = JOINTS.saturating_sub(joints);
    let mut out = csv::Writer::from_writer(Vec::new());
    let mut header = vec!["time_s".to_owned()];
    for group in ["q", "dq", "tau"] {
        header.extend((1..=joints).map(|j| format!("{group}{j}")));
    }
    if rows.first().is_some_and(|r| r.spindle.is_some()) {
        header.extend([
            "spindle_angle_rad".to_owned(),
            "spindle_torque_nm".to_owned(),
        ]);
    }
    // Columns that say nothing are left out.
    let plain = Context::new();
    let changing = rows.iter().any(|r| r.context != plain);
    if changing {
        header.extend(
            ["force_ratio", "arm_enabled", "tool_powered", "payload_held"].map(str::to_owned),
        );
    }
    out.write_record(&header)?;
    let mut record = csv::StringRecord::new();
    let mut field = String::new();
    let mut push = |record: &mut csv::StringRecord, value: f64, digits: usize| {
        field.clear();
        // Writing to a string cannot fail.
        let _ = write!(field, "{value:.digits$}");
        record.push_field(&field);
    };
    for row in rows {
        record.clear();
        push(&mut record, row.time_s, 6);
        for (group, digits) in [(&row.q, 6), (&row.dq, 5), (&row.tau, 4)] {
            (group.iter().skip(empty)).for_each(|x| push(&mut record, *x, digits));
        }
        if let Some([angle, torque]) = row.spindle {
            push(&mut record, angle, 6);
            push(&mut record, torque, 4);
        }
        if changing {
            let c = &row.context;
            push(&mut record, f64::from(c.force_ratio), 4);
            for switch in [c.arm_enabled, c.tool_powered, c.payload_held] {
                push(&mut record, f64::from(u8::from(switch)), 0);
            }
        }
        out.write_record(&record)?;
    }
    Ok(out.into_inner()?)
}
