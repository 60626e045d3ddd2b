//! Host side of bolting-monitor: descriptions, recordings, simulation and review.

pub mod constant;
pub mod description;
pub mod page;
pub mod replay;
pub mod samples;
pub mod simulate;
pub mod urdf;
