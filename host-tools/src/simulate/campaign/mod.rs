//! The campaign: many different bolts, half of them sound.

mod bolts;
mod faults;

use clap::ValueEnum;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::fault::{Fault, FaultKind};
use super::readings::normal;
use super::scenario::{Direction, Event, Mode, Return, Scenario};
use super::setup::{Arm, Operator, POSE_DOWN, POSE_FORWARD, POSE_NEAR_SINGULAR, Sampling};
use super::stream;

/// What is set, over the campaign's own draws: what a robustness curve turns.
#[derive(Clone, Debug, PartialEq)]
pub struct Knobs {
    /// Every bolt has this fault; none: half of them are sound and the others have one each.
    pub fault: Option<FaultKind>,
    /// Factor on the white noise of joint and spindle torques.
    pub noise_factor: f64,
    /// How far true friction is from nominal, 1 sigma, as a part of it; none: as the arm has it.
    pub friction_error: Option<f64>,
    /// Samples per second; none: as drawn.
    pub rate_hz: Option<f64>,
    /// Part of all samples that is missing.
    pub dropped_part: f64,
    /// From 0, an elbow well bent, to 1, an arm almost straight, both with an angle head whose bolt
    /// axis lies across the last joint, so that the other joints have to tell the torque; none: the
    /// tool stands along the last joint, which alone reads the torque in any pose.
    pub pose: Option<f64>,
}

impl Default for Knobs {
    fn default() -> Self {
        Self {
            fault: None,
            noise_factor: 1.0,
            friction_error: None,
            rate_hz: None,
            dropped_part: 0.0,
            pose: None,
        }
    }
}

/// Scenario number `index` of the campaign `seed`. Even numbers are sound bolts, a quarter of them
/// undone; the odd ones have one fault each, every kind as often as any other.
pub fn campaign(seed: u64, index: usize) -> Scenario {
    campaign_with(seed, index, &Knobs::default())
}

/// The same with some figures set.
pub fn campaign_with(seed: u64, index: usize, knobs: &Knobs) -> Scenario {
    let kinds: Vec<FaultKind> = FaultKind::value_variants()
        .iter()
        .copied()
        .filter(|k| *k != FaultKind::None)
        .collect();
    let kind = match knobs.fault {
        Some(kind) => kind,
        None if index.is_multiple_of(2) => FaultKind::None,
        None => kinds[(index / 2) % kinds.len()],
    };
    // Streams below this are those of single runs.
    let mut rng = stream(seed, 1000 + index as u64);
    let mut s = draw(kind, &mut rng);
    turn(&mut s, knobs);
    s
}

/// A fault of this kind on a scenario, with magnitudes drawn from its seed.
pub(super) fn with_fault(mut s: Scenario, kind: FaultKind) -> Scenario {
    let mut rng = stream(s.seed, 999);
    set_direction(&mut s, kind, &mut rng);
    s.fault = faults::draw(kind, &mut s, &mut rng);
    s
}

/// A fault of this kind with the campaign's magnitudes. It may change the scenario so that the fault can
/// befall it, what is stated of the bolt too.
pub(crate) fn fault_of(kind: FaultKind, s: &mut Scenario, rng: &mut ChaCha8Rng) -> Fault {
    faults::draw(kind, s, rng)
}

/// A steady or unsteady hand.
pub(crate) fn operator(rng: &mut ChaCha8Rng) -> Operator {
    draw_operator(rng)
}

/// Steps of a powered spindle.
pub(crate) fn spindle(rng: &mut ChaCha8Rng) -> Mode {
    bolts::draw_spindle(rng)
}

fn draw(kind: FaultKind, rng: &mut ChaCha8Rng) -> Scenario {
    let wrist = rng.random();
    let (bolt, stated) = bolts::draw_bolt(wrist, rng);
    let mode = if wrist {
        bolts::draw_strokes(&bolt, rng)
    } else {
        bolts::draw_spindle(rng)
    };
    let tool = bolts::draw_tool(&mode, stated.windup_nm_per_rad, stated.play_deg, rng);
    let mut s = Scenario {
        arm: draw_arm(bolt.target_nm, rng),
        operator: draw_operator(rng),
        sampling: Sampling {
            rate_hz: if rng.random::<f64>() < 0.8 {
                1000.0
            } else {
                500.0
            },
            jitter_s: log_range(1e-5, 1.5e-4, rng),
            gaps_per_s: log_range(0.05, 3.0, rng),
            ..Sampling::default()
        },
        bolt,
        mode,
        tool,
        stated,
        // TOML knows no unsigned 64-bit numbers.
        seed: u64::from(rng.random::<u32>()),
        ..Scenario::default()
    };
    set_direction(&mut s, kind, rng);
    s.fault = faults::draw(kind, &mut s, rng);
    s.events = draw_events(&s, rng);
    s
}

fn draw_arm(target_nm: f64, rng: &mut ChaCha8Rng) -> Arm {
    // A weak bolt is no work for an arm without joint torque sensors.
    let sensed = target_nm < 25.0 || rng.random::<f64>() < 0.8;
    let mut arm = if sensed {
        Arm::torque_sensed()
    } else {
        Arm::current_sensed()
    };
    arm.pose_rad = if rng.random() {
        POSE_DOWN
    } else {
        POSE_FORWARD
    };
    for q in arm.pose_rad.iter_mut().take(6) {
        *q += rng.random_range(-0.15..0.15);
    }
    let noise = rng.random_range(0.7..1.4);
    arm.torque_noise_nm = arm.torque_noise_nm.map(|x| x * noise);
    arm.mass_error = rng.random_range(0.01..0.03);
    arm.cold_friction = rng.random_range(1.0..1.3);
    arm.warm_friction = rng.random_range(0.7..1.0);
    arm.warm_up_s = log_range(20.0, 300.0, rng);
    arm
}

fn draw_operator(rng: &mut ChaCha8Rng) -> Operator {
    Operator {
        free_s: rng.random_range(0.55..1.0),
        free_motion_mm: if rng.random::<f64>() < 0.3 {
            rng.random_range(2.0..20.0)
        } else {
            0.0
        },
        jerkiness: log_range(0.03, 0.4, rng),
        pause_chance: rng.random_range(0.0..0.5),
        pause_s: rng.random_range(0.3..2.0),
        overshoot: (0.012 * normal(rng)).clamp(-0.03, 0.03),
        relaxation: rng.random_range(0.01..0.12),
        push_n: rng.random_range(10.0..60.0),
        lateral_n: log_range(1.0, 10.0, rng),
        tilt_nm: log_range(0.1, 1.0, rng),
        axial_wander_mm: rng.random_range(0.03..0.2),
    }
}

/// Undone or done up; a bolt that is undone had reached its target without yielding.
fn set_direction(s: &mut Scenario, kind: FaultKind, rng: &mut ChaCha8Rng) {
    let chance = match kind {
        FaultKind::Galling | FaultKind::Fracture => 0.5,
        FaultKind::None => 0.25,
        _ if !kind.tightening() => 1.0,
        _ if kind.undoing() => 0.3,
        _ => 0.0,
    };
    if rng.random::<f64>() >= chance {
        return;
    }
    s.direction = Direction::Undo;
    s.bolt.yield_nm = None;
    match &mut s.mode {
        // A ratchet would turn the bolt back once its last thread is about to leave.
        Mode::WristStrokes {
            back, stroke_deg, ..
        } => {
            *back = reseating(rng);
            *stroke_deg = stroke_deg.max(150.0);
        }
        Mode::PoweredSpindle { steps, .. } => {
            steps.truncate(1);
            steps[0].until_fraction = 1.0;
            steps[0].rpm = log_range(5.0, 60.0, rng);
        }
    }
}

fn reseating(rng: &mut ChaCha8Rng) -> Return {
    Return::LiftAndReseat {
        lift_mm: rng.random_range(10.0..15.0),
        seat_deg: if rng.random() { 60.0 } else { 30.0 },
    }
}

/// What else happens, sound bolt or not: most often nothing.
fn draw_events(s: &Scenario, rng: &mut ChaCha8Rng) -> Vec<Event> {
    let span = s.bolt.rundown_turns;
    let mut events = Vec::new();
    if rng.random::<f64>() < 0.12 {
        events.push(Event::ForceRatio {
            at_turns: rng.random_range(0.1..span),
            ratio: log_range(0.2, 8.0, rng),
        });
    }
    if rng.random::<f64>() < 0.06 {
        let at_turns = rng.random_range(0.1..0.5 * span);
        events.push(Event::Payload { at_turns });
        let at_turns = rng.random_range(0.5 * span..span);
        events.push(Event::Payload { at_turns });
    }
    if rng.random::<f64>() < 0.08 {
        events.push(Event::FootSwitch {
            at_turns: rng.random_range(0.1..span),
            lasts_s: rng.random_range(0.3..2.0),
        });
    }
    if matches!(s.mode, Mode::PoweredSpindle { .. }) && rng.random::<f64>() < 0.08 {
        events.push(Event::ToolPower {
            at_turns: rng.random_range(0.1..span),
            lasts_s: rng.random_range(0.3..2.0),
        });
    }
    events.sort_by(|a, b| a.at_turns().total_cmp(&b.at_turns()));
    events
}

/// Sets what the knobs ask for.
fn turn(s: &mut Scenario, knobs: &Knobs) {
    s.arm.torque_noise_nm = s.arm.torque_noise_nm.map(|x| x * knobs.noise_factor);
    if let Mode::PoweredSpindle {
        torque_noise_nm, ..
    } = &mut s.mode
    {
        *torque_noise_nm *= knobs.noise_factor;
    }
    if let Some(error) = knobs.friction_error {
        s.arm.friction_error = error;
    }
    if let Some(rate) = knobs.rate_hz {
        s.sampling.rate_hz = rate;
    }
    s.sampling.dropped_part = knobs.dropped_part;
    let Some(straight) = knobs.pose else {
        return;
    };
    let between = |a: f64, b: f64| a + (b - a) * straight.clamp(0.0, 1.0);
    s.arm.pose_rad = std::array::from_fn(|i| between(POSE_DOWN[i], POSE_NEAR_SINGULAR[i]));
    s.tool.angle_head = true;
    // The whole arm swings about the bolt: strokes are short, and so must the rundown be.
    s.mode = Mode::WristStrokes {
        stroke_deg: 40.0,
        back: Return::Ratchet {
            tooth_deg: 5.0,
            drag_nm: 0.3 * s.bolt.running_nm,
        },
        speed_deg_s: 20.0,
        clamp_speed_deg_s: 10.0,
        return_speed_deg_s: 15.0,
    };
    let short = s.bolt.rundown_turns - s.bolt.rundown_turns.min(1.5);
    s.bolt.rundown_turns -= short;
    s.stated.rundown_turns -= short;
}

pub(crate) fn log_range(low: f64, high: f64, rng: &mut ChaCha8Rng) -> f64 {
    rng.random_range(low.ln()..high.ln()).exp()
}
