//! The invented scenario.

use crate::simulate::{self, Fault, Mode, Operator, Sampling, Scenario, Stated};

/// One bolt of the flange.
pub struct Bolt {
    pub name: &'static str,
    /// What is simulated, for people.
    pub simulated: &'static str,
    pub scenario: Scenario,
}

/// Four bolts of a flange in an invented test cell.
pub fn four(seed: u32) -> [Bolt; 4] {
    // A short rundown, sampled slowly: the emulated controller takes a few hundred samples a second.
    let scenario = |number: u32, mode: Mode, fault: Fault, elastic_deg: f64| Scenario {
        bolt: simulate::Bolt {
            rundown_turns: 1.75,
            elastic_deg,
            ..simulate::Bolt::default()
        },
        stated: Stated {
            rundown_turns: 1.75,
            elastic_deg,
            elastic_tolerance_deg: 0.5 * elastic_deg,
            ..Stated::default()
        },
        operator: Operator {
            pause_chance: 0.0,
            ..Operator::default()
        },
        sampling: Sampling {
            rate_hz: 100.0,
            ..Sampling::default()
        },
        fault,
        mode,
        seed: u64::from(seed.wrapping_mul(4).wrapping_add(number)),
        ..Scenario::default()
    };
    let wrist = Mode::WristStrokes {
        stroke_deg: 300.0,
        back: simulate::Return::default(),
        speed_deg_s: 60.0,
        clamp_speed_deg_s: 30.0,
        return_speed_deg_s: 75.0,
    };
    [
        Bolt {
            name: "flange-bolt-1",
            simulated: "sound, hard joint, wrist",
            scenario: scenario(1, wrist.clone(), Fault::None, 60.0),
        },
        Bolt {
            name: "flange-bolt-2",
            simulated: "sound, soft joint, spindle",
            scenario: scenario(2, Mode::spindle(), Fault::None, 270.0),
        },
        Bolt {
            name: "flange-bolt-3",
            simulated: "cross-threaded, wrist",
            scenario: scenario(3, wrist, Fault::cross_thread(), 60.0),
        },
        Bolt {
            name: "flange-bolt-4",
            simulated: "stripping, spindle",
            scenario: scenario(4, Mode::spindle(), Fault::strip(), 60.0),
        },
    ]
}
