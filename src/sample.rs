//! What did the controller read, when, and in which context.
//!
//! The only thing that enters the street. Time comes with the sample: the crate owns no clock.

use serde::{Deserialize, Serialize};

/// One reading of the arm, of `N` joints, base first. `N = 0` means that no arm is read and a
/// powered spindle alone is the source.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JointSample<const N: usize> {
    /// Time since any fixed origin, in µs; must not run backwards.
    pub time_us: u64,
    /// Joint positions in rad.
    pub position_rad: [f32; N],
    /// Joint velocities in rad/s; left out, they are taken from the positions.
    pub velocity_rad_s: Option<[f32; N]>,
    /// Joint torques in N·m, as the joint exerts them on the link it moves (a joint that carries a
    /// load against gravity reads the sign that lifts it).
    pub torque_nm: [f32; N],
    /// Reading of a force–torque sensor at the wrist, if there is one.
    pub wrist: Option<WristReading>,
    /// Reading of a powered spindle, if there is one.
    pub spindle: Option<SpindleReading>,
    /// Switches and settings at this moment.
    pub context: Context,
}

impl<const N: usize> JointSample<N> {
    /// A sample with positions and torques only, in the default context.
    pub const fn new(time_us: u64, position_rad: [f32; N], torque_nm: [f32; N]) -> Self {
        Self {
            time_us,
            position_rad,
            velocity_rad_s: None,
            torque_nm,
            wrist: None,
            spindle: None,
            context: Context::new(),
        }
    }

    /// Whether every figure is a number, and one that such a machine can read: positions within
    /// ±10⁴ rad, velocities within ±10⁴ rad/s, a spindle's angle within ±10⁵ rad (beyond, f32 counts in
    /// steps of half a degree), forces and torques within ±10⁶ N and N·m. A sample that has one that is
    /// not is never used, only counted.
    pub fn is_usable(&self) -> bool {
        // False for NaN as well.
        let within = |v: &[f32], most: f32| v.iter().all(|x| x.abs() <= most);
        within(&self.position_rad, 1e4)
            && within(&self.torque_nm, 1e6)
            && self.velocity_rad_s.as_ref().is_none_or(|v| within(v, 1e4))
            && self
                .wrist
                .as_ref()
                .is_none_or(|w| within(&w.force_n, 1e6) && within(&w.moment_nm, 1e6))
            && self
                .spindle
                .as_ref()
                .is_none_or(|s| within(&[s.angle_rad], 1e5) && within(&[s.torque_nm], 1e6))
    }
}

/// Force and moment that the arm exerts on the tool, read by a six-axis sensor between the last
/// joint and the tool, in the frame of the tip link; the weight of the tool is still in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WristReading {
    /// Force in N, tip frame.
    pub force_n: [f32; 3],
    /// Moment in N·m about the tip frame's origin, tip frame.
    pub moment_nm: [f32; 3],
}

/// Angle and torque of a powered spindle, tightening positive for a right-hand thread.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SpindleReading {
    /// Angle of the spindle against the tool body in rad, counted on over whole turns. A spindle that
    /// counts up in both directions is told by `Sensing::spindle_angle_counts_driving`.
    pub angle_rad: f32,
    /// Torque of the spindle on the bolt in N·m.
    pub torque_nm: f32,
}

/// What else was the case when the sample was read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Context {
    /// Ratio of the force at the tool to the force the operator feels. It scales the operator's
    /// hand only: no estimate of this crate depends on it; it is kept for the record.
    pub force_ratio: f32,
    /// Foot switch that couples master and arm. Without it the arm is locked: its strokes turn no
    /// bolt, whatever the joints say.
    pub arm_enabled: bool,
    /// Foot switch or trigger that powers the tool. A spindle without it is no more than a wrench
    /// in the arm's hand.
    pub tool_powered: bool,
    /// Whether the tool is held by the gripper. If not, its weight is not the arm's, no torque is
    /// told, and the hand may move without turning the bolt.
    pub tool_held: bool,
    /// Whether the payload of the description is held beside the tool: its weight is then the
    /// arm's. For 50 ms after a change nothing is judged.
    pub payload_held: bool,
}

impl Context {
    /// Arm enabled, tool held and powered, no payload, force ratio 1.
    pub const fn new() -> Self {
        Self {
            force_ratio: 1.0,
            arm_enabled: true,
            tool_powered: true,
            tool_held: true,
            payload_held: false,
        }
    }
}

impl Default for Context {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_that_is_no_reading_makes_the_sample_unusable() {
        let sound = JointSample::new(0, [0.3, -1.2], [12.0, -80.0]);
        assert!(sound.is_usable());
        for absurd in [f32::NAN, f32::INFINITY, -1e30] {
            for place in 0..6 {
                let mut sample = sound;
                let spindle = SpindleReading {
                    angle_rad: 9e4,
                    torque_nm: 2e4,
                };
                sample.velocity_rad_s = Some([0.1, -0.1]);
                sample.spindle = Some(spindle);
                assert!(sample.is_usable());
                match place {
                    0 => sample.position_rad[1] = absurd,
                    1 => sample.torque_nm[0] = absurd,
                    2 => sample.velocity_rad_s = Some([0.0, absurd]),
                    3 => {
                        sample.spindle = Some(SpindleReading {
                            angle_rad: absurd,
                            ..spindle
                        });
                    }
                    4 => {
                        sample.spindle = Some(SpindleReading {
                            torque_nm: absurd,
                            ..spindle
                        });
                    }
                    _ => {
                        sample.wrist = Some(WristReading {
                            force_n: [0.0; 3],
                            moment_nm: [0.0, 0.0, absurd],
                        });
                    }
                }
                assert!(!sample.is_usable(), "{absurd} at {place}");
            }
        }
    }
}
