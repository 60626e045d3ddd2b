//! The stages of the monitor, driven one by one so that each can be counted. The monitor drives the
//! same code; what it adds (clock, detectors, findings) is told by difference.

use core::hint::black_box;

use bolting_monitor::arm::{ArmDescription, ArmModel, ArmPose, FrictionEstimate};
use bolting_monitor::curve::{AngleStep, BinnedCurve, Level, StepBuilder, Trail, Window};
use bolting_monitor::math::{Mat3, Vec3, add, dot, mat_mul, rotate, scale, sub, transposed, unit};
use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::{BoltJob, Mode};
use bolting_monitor::sample::JointSample;
use bolting_monitor::turn::{AdvanceTracker, Effort, JoinConfig, Motion, StrokeJoiner, Twist};
use bolting_monitor::wrench::{
    ArmLoad, ArmReading, AxialTorque, InertiaEstimate, InertiaTracker, JointSight, JointWrench,
    MomentAxis, SensorHealth, WEIGHT_PARTS, WrenchEstimate,
};

/// Bins of the run's curve.
pub const BINS: usize = 512;

/// Stages that are counted on their own.
pub const STAGES: usize = 4;

/// Rows of the inertia that are taken with one sample, as in the monitor.
const ROWS: usize = 2;

/// What one sample says of the arm.
pub struct ArmState<const N: usize> {
    pub pose: ArmPose<N>,
    friction: FrictionEstimate<N>,
    inertia: InertiaEstimate<N>,
}

/// The state of all stages of a run with a stated bolt axis.
pub struct Street<const N: usize> {
    model: ArmModel<N>,
    wrench: JointWrench<N>,
    health: SensorHealth<N>,
    inertia: InertiaTracker<N>,
    tool_axis: Vec3,
    tool_length_m: f32,
    axis: MomentAxis,
    twist: Twist,
    reference: Option<(Mat3, Vec3)>,
    joiner: StrokeJoiner,
    steps: StepBuilder,
    window: Window,
    level: Level,
    curve: BinnedCurve<BINS>,
    trail: Trail,
    snug: bool,
    advance: AdvanceTracker,
    start_us: Option<u64>,
    last_us: Option<u64>,
    dt_s: f32,
    /// Whose turn it is, as in the monitor: weights, the moment across, inertia.
    turn: u8,
    sights: [JointSight; N],
    tare_s: f32,
}

impl<const N: usize> Street<N> {
    /// `None` if the arm is not one of `N` joints or the bolt axis is not stated.
    pub fn new(job: &BoltJob, arm: &ArmDescription) -> Option<Self> {
        let model = ArmModel::try_new(arm).ok()?;
        let line = job.bolt_axis?;
        let target_nm = job.goal.scale_nm()?;
        let axis = MomentAxis {
            point_m: line.point_m,
            direction: unit(&line.direction)?,
        };
        Some(Self {
            health: SensorHealth::new(*model.torque_range_nm()),
            inertia: InertiaTracker::default(),
            tool_axis: unit(&job.tool.axis)?,
            tool_length_m: job.tool.length_m,
            wrench: JointWrench::new(&model, &job.sensing, 3.0 * target_nm, 0.2 * target_nm),
            model,
            twist: Twist::new(axis.direction),
            axis,
            reference: None,
            joiner: StrokeJoiner::new(&JoinConfig {
                windup_nm_per_rad: job.tool.windup_nm_per_rad,
                tooth_rad: job.tool.ratchet_tooth_rad,
                play_rad: job.tool.socket_play_rad,
                seat_rad: job.tool.seat_rad,
                reseats: job.mode == Mode::WristStrokes,
                gives_way: false,
            }),
            steps: StepBuilder::default(),
            window: Window::default(),
            level: Level::default(),
            curve: BinnedCurve::new(0.0),
            trail: Trail::default(),
            snug: false,
            advance: AdvanceTracker::default(),
            start_us: None,
            last_us: None,
            dt_s: 0.0,
            turn: 0,
            sights: [JointSight::default(); N],
            tare_s: job.tare.duration_s,
        })
    }

    /// Whether the sample is one of the tare.
    pub fn taring(&mut self, sample: &JointSample<N>) -> bool {
        let start = *self.start_us.get_or_insert(sample.time_us);
        ((sample.time_us - start) as f32 * 1e-6) < self.tare_s
    }

    /// Pose, Jacobian, gravity, friction and inertia.
    #[inline(never)]
    pub fn arm(&mut self, sample: &JointSample<N>) -> ArmState<N> {
        let velocity = sample.velocity_rad_s.unwrap_or([0.0; N]);
        self.dt_s = self
            .last_us
            .replace(sample.time_us)
            .map_or(0.0, |last| (sample.time_us - last) as f32 * 1e-6);
        let model = &self.model;
        self.turn = (self.turn + 1) % (WEIGHT_PARTS + 2);
        let rows = if self.turn > WEIGHT_PARTS { ROWS } else { 0 };
        let centres = self.inertia.inertia_mut().next(rows);
        let mut pose = ArmPose::NONE;
        model.pose_into(&mut pose, &sample.position_rad, (true, false), &centres);
        if rows > 0 {
            model.renew_inertia(self.inertia.inertia_mut(), &pose, (true, false), rows);
        }
        let inertia = self.inertia.update(&velocity, self.dt_s);
        ArmState {
            friction: model.friction(&velocity),
            inertia,
            pose,
        }
    }

    /// Health, tare, and the moments about the bolt and across.
    #[inline(never)]
    pub fn wrench(
        &mut self,
        sample: &JointSample<N>,
        arm: &ArmState<N>,
        taring: bool,
    ) -> WrenchEstimate {
        let velocity = sample.velocity_rad_s.unwrap_or([0.0; N]);
        self.health.update(&sample.torque_nm, &velocity, self.dt_s);
        let reading = ArmReading {
            pose: &arm.pose,
            torque_nm: &sample.torque_nm,
            friction: &arm.friction,
            inertia: &arm.inertia,
            health: &self.health,
            wrist: None,
            samples: 1,
        };
        if taring {
            self.wrench.tare(&self.model, &reading);
        }
        self.wrench.look(&reading, &mut self.sights);
        let tip = &arm.pose.tip;
        let along = rotate(&tip.rotation, &self.tool_axis);
        let socket_m = (self.turn == WEIGHT_PARTS)
            .then(|| add(&tip.translation_m, &scale(&along, self.tool_length_m)));
        let load = ArmLoad {
            pose: &arm.pose,
            sights: &self.sights,
            wrist: None,
            samples: 1,
        };
        self.wrench.estimate(
            &self.model,
            &load,
            &self.axis,
            socket_m.as_ref(),
            self.turn < WEIGHT_PARTS,
        )
    }

    /// Twist and advance of the tool, and the bolt angle.
    #[inline(never)]
    pub fn turn(&mut self, pose: &ArmPose<N>, torque: &AxialTorque, taring: bool) -> (Motion, f32) {
        let tip = &pose.tip;
        let (rotation, origin) = self
            .reference
            .get_or_insert((tip.rotation, tip.translation_m));
        let since = mat_mul(&tip.rotation, &transposed(rotation));
        let advance_m = dot(&sub(&tip.translation_m, origin), &self.axis.direction);
        let tool_rad = self.twist.angle_rad(&since);
        let effort = Effort {
            torque_nm: torque.value_nm,
            noise_nm: torque.noise_nm,
            systematic_u_nm: torque.systematic_u_nm,
        };
        let motion = match (taring, torque.observable) {
            (true, _) => Motion::default(),
            (_, true) => self.joiner.update(tool_rad, &effort),
            (_, false) => self.joiner.hold(tool_rad),
        };
        black_box(self.joiner.angle_u_rad());
        (motion, advance_m)
    }

    /// The curve and what is kept beside it.
    #[inline(never)]
    pub fn curve(
        &mut self,
        sample: &JointSample<N>,
        motion: &Motion,
        torque: &AxialTorque,
        advance_m: f32,
    ) -> Option<AngleStep> {
        let step = self
            .steps
            .add(sample.time_us, motion, torque, Some(advance_m))?;
        self.window.push(step);
        self.curve.add(&step.point());
        if !self.snug {
            self.level.add(&self.window);
        }
        self.trail.follow(&self.window);
        if let Some(z) = step.advance_m {
            self.advance.add(step.angle_rad, z, step.width_rad);
        }
        Some(step)
    }

    /// Follows the monitor's snug event, which is not counted here.
    pub fn follow(&mut self, update: &Update) {
        if update.snug_seen {
            self.snug = true;
            self.trail.begin(&self.window);
        }
    }
}
