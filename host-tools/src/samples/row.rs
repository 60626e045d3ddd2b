//! One row of a recording: its numbers, each in its place.

use bolting_monitor::arm::MAX_JOINTS;
use bolting_monitor::sample::{Context, JointSample, SpindleReading, WristReading};
use csv::StringRecord;

use super::columns::{Columns, TIME};
use super::fault::Fault;

/// Larger than any clock; below it µs are exact in f64 to a fraction of one.
const LARGEST_TIME_S: f64 = 1e10;

/// Turns times into µs that never run backwards.
#[derive(Default)]
pub struct Clock {
    origin_s: f64,
    last_s: Option<f64>,
}

impl Clock {
    fn us(&mut self, time_s: f64) -> Result<u64, Fault> {
        if time_s.abs() > LARGEST_TIME_S {
            return Err(Fault::TooLarge {
                column: TIME.to_owned(),
                value: time_s,
            });
        }
        match self.last_s {
            Some(last_s) if time_s < last_s => return Err(Fault::TimeBackwards { last_s, time_s }),
            None => self.origin_s = time_s.min(0.0),
            Some(_) => {}
        }
        self.last_s = Some(time_s);
        Ok(((time_s - self.origin_s) * 1e6).round() as u64)
    }
}

/// The sample of a row. The clock is only moved on by a row that is good as a whole.
pub fn sample(
    row: &StringRecord,
    columns: &Columns,
    clock: &mut Clock,
) -> Result<JointSample<MAX_JOINTS>, Fault> {
    if row.len() != columns.width() {
        return Err(Fault::Width {
            fields: row.len(),
            columns: columns.width(),
        });
    }
    let number = |column: usize| -> Result<f64, Fault> {
        let text = row.get(column).unwrap_or_default();
        text.parse()
            .ok()
            .filter(|x: &f64| x.is_finite())
            .ok_or_else(|| Fault::NotANumber {
                column: columns.name(column),
                text: text.to_owned(),
            })
    };
    let single = |column: usize| -> Result<f32, Fault> {
        let value = number(column)?;
        Some(value as f32)
            .filter(|x| x.is_finite())
            .ok_or_else(|| Fault::TooLarge {
                column: columns.name(column),
                value,
            })
    };
    let joints = |of: &[usize]| -> Result<[f32; MAX_JOINTS], Fault> {
        let mut all = [0.0; MAX_JOINTS];
        for (out, column) in all.iter_mut().zip(of) {
            *out = single(*column)?;
        }
        Ok(all)
    };
    let switch = |column: Option<usize>, default: bool| match column.map(number).transpose()? {
        None => Ok(default),
        Some(0.0) => Ok(false),
        Some(1.0) => Ok(true),
        Some(value) => Err(Fault::NotASwitch {
            column: columns.name(column.unwrap_or_default()),
            value,
        }),
    };
    let default = Context::new();
    let [arm_enabled, tool_powered, tool_held, payload_held] = columns.switches;
    let context = Context {
        force_ratio: columns
            .force_ratio
            .map_or(Ok(default.force_ratio), single)?,
        arm_enabled: switch(arm_enabled, default.arm_enabled)?,
        tool_powered: switch(tool_powered, default.tool_powered)?,
        tool_held: switch(tool_held, default.tool_held)?,
        payload_held: switch(payload_held, default.payload_held)?,
    };
    let wrist = |[fx, fy, fz, mx, my, mz]: [usize; 6]| -> Result<WristReading, Fault> {
        Ok(WristReading {
            force_n: [single(fx)?, single(fy)?, single(fz)?],
            moment_nm: [single(mx)?, single(my)?, single(mz)?],
        })
    };
    let spindle = |[angle, torque]: [usize; 2]| -> Result<SpindleReading, Fault> {
        Ok(SpindleReading {
            angle_rad: single(angle)?,
            torque_nm: single(torque)?,
        })
    };
    let position_rad = joints(&columns.position)?;
    let velocity_rad_s = columns.velocity.as_deref().map(joints).transpose()?;
    let torque_nm = joints(&columns.torque)?;
    let wrist = columns.wrist.map(wrist).transpose()?;
    let spindle = columns.spindle.map(spindle).transpose()?;
    Ok(JointSample {
        time_us: clock.us(number(columns.time)?)?,
        position_rad,
        velocity_rad_s,
        torque_nm,
        wrist,
        spindle,
        context,
    })
}
