#![no_std]
#![doc = "Bolt torque, bolt angle and thread findings from a manipulator's own joint samples."]

pub mod arm;
pub mod cue;
pub mod curve;
pub mod detect;
pub mod device;
pub mod fastener;
pub mod math;
pub mod monitor;
pub mod phase;
pub mod procedure;
pub mod sample;
pub mod turn;
pub mod wire;
pub mod wrench;
