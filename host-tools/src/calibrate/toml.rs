//! What was learnt, as lines for the table `[arm]` of a description.

use std::fmt::Write as _;

use bolting_monitor::arm::{ArmDescription, JointFriction};

use super::{Calibration, Friction};

/// The lines. A joint that was not told keeps the figures of `arm`, and the lines say so.
pub fn fragment(calibration: &Calibration, arm: &ArmDescription) -> String {
    let mut text = format!(
        "# For the table [arm]: from {:.0} s of free motion. Standard uncertainties (k = 1); base first.\n",
        calibration.duration_s
    );
    for (i, joint) in calibration.joints.iter().enumerate() {
        if joint.friction.is_none() {
            // Writing to a string cannot fail.
            let _ = writeln!(
                text,
                "# Joint {}, \"{}\", was not told; its friction is what the description had.",
                i + 1,
                joint.name
            );
        }
    }
    let noise: Option<Vec<f64>> = calibration.joints.iter().map(|j| j.noise_nm).collect();
    if let Some(noise) = noise {
        line(&mut text, "joint_torque_noise_nm", noise.into_iter());
    }
    let keys: [Key; 4] = [
        ("coulomb_friction_nm", |f| f.coulomb_nm, |s| s.coulomb_nm),
        (
            "coulomb_friction_u_nm",
            |f| f.coulomb_u_nm,
            |s| s.coulomb_u_nm,
        ),
        (
            "viscous_friction_nm_s_per_rad",
            |f| f.viscous_nm_s_per_rad,
            |s| s.viscous_nm_s_per_rad,
        ),
        (
            "viscous_friction_u_nm_s_per_rad",
            |f| f.viscous_u_nm_s_per_rad,
            |s| s.viscous_u_nm_s_per_rad,
        ),
    ];
    let joints = || calibration.joints.iter().zip(&arm.joints);
    for (key, told, stated) in keys {
        let figures = joints().map(|(joint, described)| {
            (joint.friction.as_ref()).map_or(f64::from(stated(&described.friction)), told)
        });
        line(&mut text, key, figures);
    }
    let zero = joints().map(|(joint, described)| {
        (joint.friction).map_or(f64::from(described.torque_zero_u_nm), |f| f.zero_u_nm)
    });
    line(&mut text, "torque_zero_u_nm", zero);
    if let Some(mass_u) = calibration.mass_u {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "mass_u_percent = {:.2}", 100.0 * mass_u);
    }
    text
}

/// A key, with its figure as learnt and as stated before.
type Key = (
    &'static str,
    fn(&Friction) -> f64,
    fn(&JointFriction) -> f32,
);

fn line(text: &mut String, key: &str, figures: impl Iterator<Item = f64>) {
    let figures: Vec<String> = figures.map(|x| format!("{x:.4}")).collect();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{key} = [{}]", figures.join(", "));
}
