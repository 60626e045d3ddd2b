//! Tests of the simulator by its own physics; the monitor has no part in them.

mod arm;
mod campaign;
mod faults;
mod readings;
mod sensing;
mod sound;
mod undoing;

use super::*;

fn quiet(mut s: Scenario) -> Scenario {
    let zero = [0.0; JOINTS];
    s.arm = Arm {
        torque_noise_nm: zero,
        torque_quantum_nm: zero,
        coulomb_nm: zero,
        viscous_nm_s_per_rad: zero,
        ripple_nm: zero,
        bias_nm: 0.0,
        drift_nm_per_min: 0.0,
        mass_error: 0.0,
        centre_error_m: 0.0,
        position_quantum_rad: 0.0,
        velocity_noise_rad_s: 0.0,
        ..s.arm
    };
    s.sampling.gaps_per_s = 0.0;
    s.sampling.jitter_s = 0.0;
    s
}

fn spindle() -> Scenario {
    Scenario {
        mode: Mode::spindle(),
        ..Scenario::default()
    }
}

fn reseating() -> Scenario {
    let mode = Mode::WristStrokes {
        stroke_deg: 240.0,
        back: Return::LiftAndReseat {
            lift_mm: 12.0,
            seat_deg: 60.0,
        },
        speed_deg_s: 60.0,
        clamp_speed_deg_s: 20.0,
        return_speed_deg_s: 70.0,
    };
    Scenario {
        mode,
        ..Scenario::default()
    }
}

fn each_way() -> [Scenario; 3] {
    [Scenario::default(), spindle(), reseating()]
}

fn std(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    (values.map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0)).sqrt()
}

fn bad(fault: Fault) -> Scenario {
    Scenario { fault, ..spindle() }
}

/// Torque at the first row at which the bolt has come to an angle, both in the direction of the run.
fn torque_at(truth: &Truth, angle_deg: f64) -> f64 {
    let sense = if truth.undone { -1.0 } else { 1.0 };
    let at = |a: &f64| sense * a.to_degrees() >= angle_deg;
    let row = truth.bolt_angle_rad.iter().position(at).unwrap();
    sense * truth.bolt_torque_nm[row]
}
