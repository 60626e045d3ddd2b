//! What was learnt, as lines for the table `[arm]` of a description.

use std::fmt::Write as _;

use bolting_monitor::arm::ArmDescription;

use super::{Calibration, Joint};

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
    let stated = arm.joints.iter().map(|joint| &joint.friction);
    let told = || calibration.joints.iter().zip(stated.clone());
    let per_joint = |of: fn(&super::Friction) -> f64, else_: fn(&Stated) -> f32| {
        told().map(move |(joint, stated)| {
            joint.friction.as_ref().map_or(f64::from(else_(stated)), of)
        })
    };
    line(
        &mut text,
        "coulomb_friction_nm",
        per_joint(|f| f.coulomb_nm, |s| s.coulomb_nm),
    );
    line(
        &mut text,
        "coulomb_friction_u_nm",
        per_joint(|f| f.coulomb_u_nm, |s| s.coulomb_u_nm),
    );
    line(
        &mut text,
        "viscous_friction_nm_s_per_rad",
        per_joint(|f| f.viscous_nm_s_per_rad, |s| s.viscous_nm_s_per_rad),
    );
    line(
        &mut text,
        "viscous_friction_u_nm_s_per_rad",
        per_joint(|f| f.viscous_u_nm_s_per_rad, |s| s.viscous_u_nm_s_per_rad),
    );
    let zero = calibration
        .joints
        .iter()
        .zip(&arm.joints)
        .map(|(joint, stated)| {
            let told = |joint: &Joint| joint.friction.map(|f| f.zero_u_nm);
            told(joint).unwrap_or(f64::from(stated.torque_zero_u_nm))
        });
    line(&mut text, "torque_zero_u_nm", zero);
    if let Some(mass_u) = calibration.mass_u {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "mass_u_percent = {:.2}", 100.0 * mass_u);
    }
    text
}

type Stated = bolting_monitor::arm::JointFriction;

fn line(text: &mut String, key: &str, figures: impl Iterator<Item = f64>) {
    let figures: Vec<String> = figures.map(|x| format!("{x:.4}")).collect();
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{key} = [{}]", figures.join(", "));
}
