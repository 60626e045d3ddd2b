//! What the example firmwares share. A controller has two halves that know each other by messages
//! only:
//!
//! | half | does | may wait for |
//! |---|---|---|
//! | [`control`] | takes each sample through the monitor and drives the permit pin | nothing |
//! | [`desk`] | reads requests, keeps the plan, queues what is to be sent, sends it | the link |
//!
//! `examples/firmware` runs both in one loop, `examples/interrupts` in two interrupts of different
//! priority with queues between them. [`board`] is the board that QEMU emulates; replace it and
//! `memory.x` for another. [`session`] knows the monitor, and how many joints the arm has.

#![no_std]

pub mod board;
pub mod control;
pub mod desk;
mod panic;
pub mod session;
