//! Host side.
