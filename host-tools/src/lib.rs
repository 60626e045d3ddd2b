//! Host side of bolting-monitor: descriptions, recordings, simulation and review.

pub mod constant;
pub mod description;
pub mod samples;
pub mod urdf;
