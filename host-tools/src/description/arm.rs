//! The arm: the URDF beside the file, and what the file says of its joints and loads.

use std::path::Path;

use bolting_monitor::arm::{ArmDescription, Body};

use super::judge::{Judge, ZERO_AND_MORE};
use super::schema::{self, Column, Figure, File};
use crate::urdf;

impl Judge<'_> {
    fn body(&mut self, keys: [&str; 2], mass_kg: &Figure, com_m: &Column) -> Body {
        Body {
            mass_kg: self.figure(keys[0], mass_kg, ZERO_AND_MORE).unwrap_or(0.0),
            com_m: self.column_or(keys[1], com_m, [0.0; 3]),
        }
    }

    pub fn arm(
        &mut self,
        file: &File,
        keys: &schema::Arm,
        urdf_path: &Path,
        notices: &mut Vec<String>,
    ) -> Option<(ArmDescription, Vec<Option<[f64; 2]>>)> {
        let read = std::fs::read_to_string(urdf_path)
            .map_err(|error| {
                format!(
                    "cannot be read: {error}; give its place as seen from the description's folder, or --arm-urdf FILE"
                )
            })
            .and_then(|text| {
                urdf::read(&text, keys.base_link.as_deref(), &keys.tip_link)
                    .map_err(|error| error.to_string())
            });
        let (mut arm, limits_rad) = match read {
            Ok(read) => {
                notices.extend(read.notices);
                (read.arm, read.limits_rad)
            }
            Err(error) => {
                let problem = format!("{}: {error}", urdf_path.display());
                self.mistake("arm.urdf", keys.urdf.span(), problem);
                return None;
            }
        };
        let n = arm.joints.len();
        let noise = self.per_joint("arm.joint_torque_noise_nm", &keys.joint_torque_noise_nm, n);
        let range = self.per_joint("arm.joint_torque_range_nm", &keys.joint_torque_range_nm, n);
        let zero = self.per_joint("arm.torque_zero_u_nm", &keys.torque_zero_u_nm, n);
        let dry = self.per_joint("arm.coulomb_friction_nm", &keys.coulomb_friction_nm, n);
        let dry_u = self.per_joint("arm.coulomb_friction_u_nm", &keys.coulomb_friction_u_nm, n);
        let viscous = self.per_joint(
            "arm.viscous_friction_nm_s_per_rad",
            &keys.viscous_friction_nm_s_per_rad,
            n,
        );
        let viscous_u = self.per_joint(
            "arm.viscous_friction_u_nm_s_per_rad",
            &keys.viscous_friction_u_nm_s_per_rad,
            n,
        );
        let of = |figures: &Option<Vec<f32>>, i: usize| figures.as_ref().map(|f| f[i]);
        for (i, joint) in arm.joints.iter_mut().enumerate() {
            joint.torque_noise_nm = of(&noise, i);
            joint.torque_range_nm = of(&range, i);
            joint.torque_zero_u_nm = of(&zero, i).unwrap_or(joint.torque_zero_u_nm);
            joint.friction = urdf::friction(
                of(&dry, i).unwrap_or(joint.friction.coulomb_nm),
                of(&dry_u, i),
                of(&viscous, i).unwrap_or(joint.friction.viscous_nm_s_per_rad),
                of(&viscous_u, i),
            );
        }
        arm.gravity_m_s2 = self.column_or("arm.gravity_m_s2", &keys.gravity_m_s2, arm.gravity_m_s2);
        if let Some(percent) =
            self.figure("arm.mass_u_percent", &keys.mass_u_percent, ZERO_AND_MORE)
        {
            arm.mass_u = percent / 100.0;
        }
        arm.tool = self.body(
            ["tool.mass_kg", "tool.centre_of_mass_m"],
            &file.tool.mass_kg,
            &file.tool.centre_of_mass_m,
        );
        arm.payload = self.body(
            ["payload.mass_kg", "payload.centre_of_mass_m"],
            &file.payload.mass_kg,
            &file.payload.centre_of_mass_m,
        );
        match arm.checked() {
            Ok(arm) => Some((arm, limits_rad)),
            Err(error) => {
                self.mistake("arm", keys.urdf.span(), format!("is no arm: {error}"));
                None
            }
        }
    }
}
