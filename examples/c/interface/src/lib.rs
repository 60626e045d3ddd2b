//! The monitor for controllers in C and C++: a static library and its header,
//! `../include/bolting_monitor.h`, which is made of this package by `tests/header.rs`.
//!
//! The crate behind it has no `unsafe`; here it stands, as little as a foreign caller needs. Whatever
//! can be checked of a pointer, a size or a number is checked before it is used, and answered with a
//! [`Status`]; what cannot be checked stands under *Safety* of each function, and in the header.
#![cfg_attr(target_os = "none", no_std)]

mod convert;
mod door;
mod numbers;
mod slot;
mod status;
mod structs;
mod text;
mod why;

#[cfg(target_os = "none")]
mod panic;

pub use door::{
    Handle, bm_abi_version, bm_error_text, bm_monitor_align, bm_monitor_create, bm_monitor_destroy,
    bm_monitor_silence, bm_monitor_size, bm_monitor_summary, bm_monitor_update, bm_sample_init,
};
pub use numbers::{Cause, FindingKind, Phase, Quantity, Reason, Verdict};
pub use numbers::{bm_finding_name, bm_phase_name, bm_reason_name, bm_verdict_name};
pub use status::Status;
pub use structs::*;
