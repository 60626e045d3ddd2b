//! Host side.

pub mod emulator;
pub mod link;
pub mod record;
pub mod store;
