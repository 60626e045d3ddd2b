//! `bolting-host calibrate`: what free motion says of the arm's joints.

use std::path::PathBuf;
use std::process::ExitCode;

use bolting_host::calibrate::{Calibration, Joint, calibrate, fragment};
use bolting_host::description::Description;
use bolting_host::samples::{BadRows, Recording};
use clap::Args;
use comfy_table::{Table, presets};

use super::error::{CliError, NOT_ACCEPTED};
use super::out;

const EXAMPLES: &str = "\
Examples:
  bolting-host calibrate --bolt bolt.toml free.csv > arm-keys.toml
  bolting-host calibrate --bolt bolt.toml cold.csv warm.csv
  bolting-host simulate --out free --free-motion 60 --plain     (a recording to try it on)

Record a minute in which the arm, with its tool, touches nothing: every joint to and fro by 5 degrees and
more, at least three times each way, slowly and fast, over the poses in which it will work. A cold and a
warm recording together show how far friction moves between them.

Standard output gets the keys for the table [arm] of the description. Exit code 0: every joint was told;
1: some were not; 3: nothing could be told.
What it cannot see: the gain of a torque sensor, and what another load or a worn gear will do. Verify with
a known torque.";

/// Learns noise, friction, drift and mass error of an arm's joints from free motion
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct CalibrateArgs {
    /// Recordings of free motion (CSV), all of one arm with one tool
    #[arg(required = true, value_name = "FREE.csv")]
    free: Vec<PathBuf>,
    /// Description of the arm and its tool; what it states of friction is not used
    #[arg(long, value_name = "BOLT.toml")]
    bolt: PathBuf,
    /// URDF to use instead of the one that the description names
    #[arg(long, value_name = "FILE")]
    arm_urdf: Option<PathBuf>,
    /// Leave out rows that cannot be used instead of refusing the file
    #[arg(long)]
    lenient: bool,
}

/// Runs the command.
///
/// # Errors
/// When a file cannot be used, no joint moved enough, or nothing can be written.
pub fn run(args: &CalibrateArgs) -> Result<ExitCode, CliError> {
    let description = Description::load_with(&args.bolt, args.arm_urdf.as_deref())?;
    description.notices.iter().for_each(out::notice);
    let Some(arm) = &description.arm else {
        return Err(CliError::NoArmToCalibrate(args.bolt.clone()));
    };
    let bad_rows = if args.lenient {
        BadRows::Skip
    } else {
        BadRows::Refuse
    };
    let mut recordings = Vec::new();
    for path in &args.free {
        let recording = Recording::load(path, bad_rows)?;
        for notice in &recording.notices {
            out::notice(&format!("{}: {notice}", path.display()));
        }
        if recording.skipped > 0 {
            let skipped = recording.skipped;
            out::notice(&format!("{}: {skipped} rows left out", path.display()));
        }
        recordings.push(recording);
    }
    let calibration = calibrate(arm, &recordings).map_err(CliError::Calibrate)?;
    tell(&calibration);
    out::data(&fragment(&calibration, arm))?;
    let all = calibration.joints.iter().all(|j| j.friction.is_some());
    Ok(if all {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(NOT_ACCEPTED)
    })
}

/// The table for people, and what they should know.
fn tell(calibration: &Calibration) {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header([
        "joint",
        "strokes up, down",
        "speed, rad/s",
        "Coulomb ± U (k=2), N·m",
        "viscous ± U, N·m·s/rad",
        "left, rms N·m",
    ]);
    for joint in &calibration.joints {
        table.add_row(row(joint));
    }
    out::aside(&format!("{}\n", table.trim_fmt()));
    for (i, joint) in calibration.joints.iter().enumerate() {
        let name = format!("joint {} \"{}\"", i + 1, out::plain(&joint.name));
        if let Some(why) = &joint.why {
            out::notice(&format!("{name}: not told: {why}"));
        }
        if let Some([from_s, to_s]) = joint.touched_s {
            out::notice(&format!(
                "{name}: from {from_s:.1} to {to_s:.1} s far more is left than elsewhere: if something was touched, leave that part out"
            ));
        }
    }
    match calibration.mass_u {
        Some(mass_u) => out::aside(&format!(
            "Gravity is off by {:.1} % of how it changes in this motion.\n",
            100.0 * mass_u
        )),
        None => out::notice(
            &"gravity hardly changed in this motion: mass_u_percent is not told; move through poses that load the joints differently",
        ),
    }
}

fn row(joint: &Joint) -> [String; 6] {
    let [up, down] = joint.strokes;
    let [slow, fast] = joint.speed_rad_s;
    let figures = joint.friction.map_or_else(
        || ["not told".to_owned(), String::new(), String::new()],
        |f| {
            [
                format!("{:.3} ± {:.3}", f.coulomb_nm, 2.0 * f.coulomb_u_nm),
                format!(
                    "{:.3} ± {:.3}",
                    f.viscous_nm_s_per_rad,
                    2.0 * f.viscous_u_nm_s_per_rad
                ),
                format!("{:.3}", f.left_nm),
            ]
        },
    );
    let [coulomb, viscous, left] = figures;
    [
        out::plain(&joint.name),
        format!("{up}, {down}"),
        format!("{slow:.2} to {fast:.2}"),
        coulomb,
        viscous,
        left,
    ]
}
