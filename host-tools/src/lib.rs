//! Host side.
pub mod simulate;
