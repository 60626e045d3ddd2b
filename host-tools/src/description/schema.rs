//! The shape of the TOML file, key by key, before any figure is judged. What each key means stands in
//! `examples/bolt.toml`.

use serde::Deserialize;
use toml::Spanned;

/// A figure that may be left out, with its place in the file.
pub type Figure = Option<Spanned<f64>>;
/// Three figures that may be left out.
pub type Column = Option<Spanned<[f64; 3]>>;
/// A band that may be left out.
pub type StatedBand = Option<Spanned<Band>>;
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
    #[serde(default)]
    pub invented: bool,
    pub bolt: Bolt,
    pub mating: Option<Mating>,
    pub joint: Option<Joint>,
    pub locking: Option<Locking>,
    pub run: Run,
    pub group: Option<Group>,
    #[serde(default)]
    pub pass: Vec<Spanned<Pass>>,
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
    pub class: Option<Spanned<String>>,
    pub material: Option<Spanned<Material>>,
    pub friction_class: Option<Spanned<FrictionClass>>,
    pub thread_friction: StatedBand,
    pub head_friction: StatedBand,
    pub bearing_mm: Figure,
    pub rundown_mm: Figure,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    pub yield_mpa: Spanned<f64>,
    pub tensile_mpa: Spanned<f64>,
    pub proof_mpa: Figure,
    pub modulus_gpa: Spanned<f64>,
    pub shear_part: Figure,
}

#[derive(Clone, Copy, Deserialize)]
pub enum FrictionClass {
    A,
    B,
    C,
    D,
    E,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mating {
    pub engagement_mm: Figure,
    pub class: Option<Spanned<String>>,
    pub material: Option<Spanned<Material>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Joint {
    pub class: Option<JointClass>,
    pub bolt_n_per_m: Figure,
    pub parts_n_per_m: Figure,
    pub length_mm: Figure,
    pub shank_mm: Figure,
    pub parts_gpa: Figure,
    #[serde(default = "yes")]
    pub nut: bool,
}

const fn yes() -> bool {
    true
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum JointClass {
    Hard,
    Medium,
    Soft,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Locking {
    pub feature: Spanned<Feature>,
    #[serde(default)]
    pub reused: bool,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Feature {
    None,
    Standard,
}

#[derive(Default, Deserialize, PartialEq)]
#[serde(rename_all = "snake_case")]
pub enum Hand {
    #[default]
    Right,
    Left,
}

/// A table that says what a run is meant to reach, with keys of its own first. (`flatten` would let
/// unknown keys pass.)
macro_rules! with_goal {
    ($name:ident { $($(#[$meta:meta])* $key:ident: $of:ty,)* }) => {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$meta])* pub $key: $of,)*
            pub goal: Option<Spanned<GoalName>>,
            pub target_torque_nm: Figure,
            pub torque_tolerance_percent: Figure,
            pub start_torque_nm: Figure,
            pub further_angle_deg: Figure,
            pub further_tolerance_deg: Figure,
            pub end_torque_nm: StatedBand,
            pub yield_slope_percent: Figure,
            pub most_angle_deg: Figure,
            pub recorded_torque_nm: Figure,
            pub breakaway_torque_nm: StatedBand,
            pub run_out_turns: Figure,
            pub run_out_tolerance_turns: Figure,
        }

        impl $name {
            pub fn goal_keys(&self) -> GoalKeys<'_> {
                GoalKeys {
                    goal: self.goal.as_ref(),
                    target_torque_nm: &self.target_torque_nm,
                    torque_tolerance_percent: &self.torque_tolerance_percent,
                    start_torque_nm: &self.start_torque_nm,
                    further_angle_deg: &self.further_angle_deg,
                    further_tolerance_deg: &self.further_tolerance_deg,
                    end_torque_nm: &self.end_torque_nm,
                    yield_slope_percent: &self.yield_slope_percent,
                    most_angle_deg: &self.most_angle_deg,
                    recorded_torque_nm: &self.recorded_torque_nm,
                    breakaway_torque_nm: &self.breakaway_torque_nm,
                    run_out_turns: &self.run_out_turns,
                    run_out_tolerance_turns: &self.run_out_tolerance_turns,
                }
            }
        }
    };
}

/// The keys that say what a run is meant to reach, wherever they stand.
#[derive(Clone, Copy)]
pub struct GoalKeys<'a> {
    pub goal: Option<&'a Spanned<GoalName>>,
    pub target_torque_nm: &'a Figure,
    pub torque_tolerance_percent: &'a Figure,
    pub start_torque_nm: &'a Figure,
    pub further_angle_deg: &'a Figure,
    pub further_tolerance_deg: &'a Figure,
    pub end_torque_nm: &'a StatedBand,
    pub yield_slope_percent: &'a Figure,
    pub most_angle_deg: &'a Figure,
    pub recorded_torque_nm: &'a Figure,
    pub breakaway_torque_nm: &'a StatedBand,
    pub run_out_turns: &'a Figure,
    pub run_out_tolerance_turns: &'a Figure,
}

with_goal!(Run {
    direction: Option<Spanned<Direction>>,
    mode: Spanned<Mode>,
    carried_torque_nm: Figure,
    rundown_turns: Figure,
    rundown_tolerance_turns: Figure,
    elastic_angle_deg: Figure,
    elastic_tolerance_deg: Figure,
    prevailing_torque_nm: StatedBand,
});

with_goal!(Pass {
    percent: Figure,
    #[serde(default)]
    order: Order,
});

#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum GoalName {
    Watch,
    Torque,
    TorqueThenAngle,
    Yield,
    Recheck,
    Loosen,
}

impl GoalName {
    /// As it stands in the file.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Watch => "watch",
            Self::Torque => "torque",
            Self::TorqueThenAngle => "torque_then_angle",
            Self::Yield => "yield",
            Self::Recheck => "recheck",
            Self::Loosen => "loosen",
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    pub bolts: Spanned<i64>,
    pub cross_order: Option<Spanned<Vec<i64>>>,
    pub passes_percent: Option<Spanned<Vec<f64>>>,
    #[serde(default)]
    pub closing_round: bool,
}

#[derive(Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    #[default]
    Cross,
    Round,
}

#[derive(Clone, Copy, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
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
    pub length_m: Figure,
    pub side_moment_limit_nm: Figure,
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
    pub joint_torque_range_nm: JointFigure,
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
