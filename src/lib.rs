#![no_std]
#![doc = "Bolt torque, bolt angle and thread findings from a manipulator's own joint samples."]

pub mod arm;
pub mod detect;
pub mod device;
pub mod math;
pub mod monitor;
pub mod procedure;
pub mod sample;
pub mod wire;
