//! The command line as a user meets it: exit codes, data on standard output, talk on standard error.

mod bench;
mod commands;
#[path = "../common/mod.rs"]
mod common;
mod kept;
mod refused;
mod replay;
