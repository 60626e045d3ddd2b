//! The shape of the TOML file, key by key, before any figure is judged. What each key means stands in
//! `examples/bolt.toml`.

use serde::Deserialize;
use toml::Spanned;

/// A figure that may be left out, with its place in the file.
pub type Figure = Option<Spanned<f64>>;
/// Three figures that may be left out.
pub type Column = Option<Spanned<[f64; 3]>>;
/// A figure for each joint that may be left out.
pub type JointFigure = Option<Spanned<PerJoint>>;

#[derive(Deserialize)]
#[serde(
    untagged,
    expecting = "expected a number for all joints or a list of numbers, base joint first"
)]
pub enum PerJoint {
    All(f64),
    Each(Vec<f64>),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    pub schema: Spanned<i64>,
    pub name: Spanned<String>,
    pub bolt: Bolt,
    pub run: Run,
    #[serde(default)]
    pub tool: Tool,
    #[serde(default)]
    pub payload: Payload,
    pub bolt_axis: Option<BoltAxis>,
    pub arm: Option<Arm>,
    #[serde(default)]
    pub spindle: Spindle,
    #[serde(default)]
    pub wrist_sensor: WristSensor,
    #[serde(default)]
    pub prior: Prior,
    #[serde(default)]
    pub tare: Tare,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bolt {
    pub thread: Spanned<String>,
    pub pitch_mm: Figure,
    #[serde(default)]
    pub hand: Hand,
}

#[derive(Default, Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
pub enum Hand {
    #[default]
    Right,
    Left,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    #[serde(default)]
    pub direction: Direction,
    pub mode: Spanned<Mode>,
    pub target_torque_nm: Figure,
    pub torque_tolerance_percent: Figure,
    pub rundown_turns: Figure,
    pub rundown_tolerance_turns: Figure,
    pub elastic_angle_deg: Figure,
    pub elastic_tolerance_deg: Figure,
    pub prevailing_torque_nm: Option<Spanned<Band>>,
}

#[derive(Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    #[default]
    Tighten,
    Undo,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    WristStrokes,
    PoweredSpindle,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    pub min: f64,
    pub max: f64,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tool {
    pub axis: Column,
    pub windup_nm_per_rad: Figure,
    pub ratchet_tooth_deg: Figure,
    pub socket_play_deg: Figure,
    pub seat_angle_deg: Figure,
    pub mass_kg: Figure,
    pub centre_of_mass_m: Column,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Payload {
    pub mass_kg: Figure,
    pub centre_of_mass_m: Column,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoltAxis {
    pub point_m: Spanned<[f64; 3]>,
    pub direction: Spanned<[f64; 3]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arm {
    pub urdf: Spanned<String>,
    pub tip_link: String,
    pub base_link: Option<String>,
    pub gravity_m_s2: Column,
    pub joint_torque_noise_nm: JointFigure,
    pub coulomb_friction_nm: JointFigure,
    pub coulomb_friction_u_nm: JointFigure,
    pub viscous_friction_nm_s_per_rad: JointFigure,
    pub viscous_friction_u_nm_s_per_rad: JointFigure,
    pub torque_zero_u_nm: JointFigure,
    pub mass_u_percent: Figure,
}

#[derive(Default, Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
pub enum AngleCounts {
    #[default]
    Clockwise,
    Driving,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spindle {
    #[serde(default)]
    pub angle_counts: AngleCounts,
    pub torque_noise_nm: Figure,
    pub torque_u_percent: Figure,
    pub torque_zero_u_nm: Figure,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WristSensor {
    pub force_u_n: Figure,
    pub moment_u_nm: Figure,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Prior {
    pub force_n: Figure,
    pub moment_nm: Figure,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tare {
    pub duration_s: Figure,
}
