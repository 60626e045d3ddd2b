//! Host side of bolting-monitor: descriptions, recordings, simulation and review.

pub mod calibrate;
pub mod campaign;
pub mod constant;
pub mod demo;
pub mod description;
pub mod emulator;
pub mod forecast;
pub mod link;
pub mod page;
pub mod record;
pub mod replay;
pub mod review;
pub mod rig;
pub mod samples;
pub mod simulate;
pub mod store;
pub mod urdf;
pub mod whole_file;
pub mod words;
