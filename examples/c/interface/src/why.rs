//! What is wrong with a plan, and where, in words without figures: the crate's own sentences have
//! them, but printing a float takes 20 kB of flash and has panic paths in the core library. The host
//! tools, which check a plan as the controller does, tell the figures.

use core::fmt::{Result, Write};

use bolting_monitor::monitor::MonitorError;
use bolting_monitor::procedure::{JobError, MAX_BOLTS, ProcedureError};
use bolting_monitor::wire::PlanError;
use bolting_monitor::{arm, fastener};

/// Says why a blob is no plan.
pub fn plan(out: &mut impl Write, error: &PlanError) -> Result {
    match error {
        PlanError::TooLong { .. } => out.write_str("the plan does not fit"),
        PlanError::Version(found) => write!(out, "the plan is of version {found}"),
        PlanError::Damaged => out.write_str("the plan does not match its CRC"),
        PlanError::Malformed => out.write_str(
            "the plan has a sound CRC but not its layout: host and controller are of different releases",
        ),
        PlanError::NoArm => out.write_str(
            "the plan turns the bolt by wrist strokes but describes no arm",
        ),
        PlanError::Job(error) => job(out, error),
        PlanError::Fastener(fault) => limit(out, fault),
        PlanError::Arm(error) => of_arm(out, error),
        PlanError::Procedure(error) => procedure(out, error),
        PlanError::LeftOut(part) => write!(out, "{part}"),
    }
}

/// Says why a plan makes no monitor.
pub fn monitor(out: &mut impl Write, error: &MonitorError) -> Result {
    match error {
        MonitorError::Job(error) => job(out, error),
        MonitorError::Fastener(fault) => limit(out, fault),
        MonitorError::Arm(error) => of_arm(out, error),
        MonitorError::LeftOut(part) => write!(out, "{part}"),
        MonitorError::NoArm => out.write_str(
            "the bolt is turned by wrist strokes, but no arm is described: add the arm, or use mode powered_spindle",
        ),
    }
}

fn job(out: &mut impl Write, error: &JobError) -> Result {
    write!(out, "{} must be {}", error.key, error.must_be)
}

fn limit(out: &mut impl Write, fault: &fastener::Fault) -> Result {
    write!(out, "{}: {} is beyond its limit", fault.part, fault.key)
}

// No figure of an arm is told, so its own words do.
fn of_arm(out: &mut impl Write, error: &arm::ArmError) -> Result {
    write!(out, "{error}")
}

fn procedure(out: &mut impl Write, error: &ProcedureError) -> Result {
    // People count from 1.
    let pass = |pass: &u8| u16::from(*pass) + 1;
    match error {
        ProcedureError::Bolts(bolts) => write!(out, "{bolts} bolts: give 1 to {MAX_BOLTS}"),
        ProcedureError::NoPass => out.write_str("no pass: give at least one"),
        ProcedureError::Cross => out.write_str("the crosswise order does not name each bolt once"),
        ProcedureError::Part { pass: at, .. } => write!(
            out,
            "pass {}: its part must be above 0 and at most 1",
            pass(at)
        ),
        ProcedureError::Falling { pass: at } => write!(
            out,
            "pass {} aims at less torque than the pass before",
            pass(at)
        ),
        ProcedureError::Goal { pass: at, error } => {
            write!(out, "pass {}: ", pass(at))?;
            job(out, error)
        }
    }
}
