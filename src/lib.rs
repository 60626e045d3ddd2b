#![no_std]
//! Bolt torque, bolt angle and thread findings from a manipulator's own joint samples.
//!
//! An operator does up and undoes bolts through a force-feedback arm, on cameras that hide depth. This
//! crate runs on the arm's controller: it turns each joint sample into bolt torque and bolt angle with
//! a stated uncertainty, watches the torque–angle curve while it is being made, and says *snug*,
//! *cross-threaded* or *stripping* early enough to stop. It needs no operating system, no memory but
//! its own types', no clock, and no 64-bit floating point; it never fails and never panics on a
//! sample, whatever bits are in it.
//!
//! **Caution.** An aid for the operator, not a safety function. It does not replace a calibrated
//! verification of the bolt. Local codes and licensed practice decide.
//!
//! # The one-way street
//!
//! Samples go through the rooms below in one direction; no room knows of those behind it. Read them in
//! this order, or begin with the one door that most need: [`Monitor::update`](monitor::Monitor::update).
//!
//! 1. **What was read.** A [`JointSample`](sample::JointSample) is all that ever enters: positions,
//!    torques and, where there are such, velocities, a wrist sensor, a spindle, and the
//!    [`Context`](sample::Context) of switches and loads. Time comes with it.
//!    Samples that come faster than the bolt does anything are [gathered](gather) first.
//! 2. **Where the socket is.** [`arm`] turns positions into a pose and a Jacobian, and says what
//!    gravity and joint friction explain of the torques.
//! 3. **What acts at the socket.** [`wrench`] weighs what remains by how well each joint is known, and
//!    gives the moment about the bolt axis with its covariance. Where the pose cannot tell it, the
//!    torque is *not observable*, never a number; where joints contradict each other, that is said.
//! 4. **How far the bolt has turned.** [`turn`] takes the twist of the tool about its axis, less the
//!    wind-up, and joins strokes: the bolt turns only while it resists as it last did.
//! 5. **What the standards expect.** [`fastener`] knows threads, materials, friction and joints: pitch,
//!    stress area, prevailing torque, expected rates, each as a band.
//! 6. **The curve.** [`curve`] keeps torque over angle in fixed memory, whole, with its local slope and
//!    noise, and finds the knee at snug.
//! 7. **What is wrong.** [`detect`] holds one detector for each phenomenon. It compares slopes and
//!    levels in units of their own uncertainty and of the joint's physics, and says what it found as a
//!    [`Finding`](detect::Finding) with its evidence.
//! 8. **Where the work stands.** [`phase`] goes from approach to clamping, or from breakaway to free,
//!    by legal transitions only.
//! 9. **Was it got.** [`procedure`] knows what this bolt in this pass was meant to get, and gives the
//!    [`Verdict`](procedure::Verdict): accepted, rejected with reasons, or not assessable.
//! 10. **One block of samples at a time.** [`monitor`] drives all of these. An [`Update`](monitor::Update)
//!     says what one block changed, up to 1.5 kHz that is one sample; the [`RunSummary`](procedure::RunSummary) is the answer for the run.
//! 11. **What is felt.** [`cue`] makes of it a small, bounded signal for the operator's hand.
//! 12. **What is said.** [`wire`] frames, checks and numbers messages, keeps findings until they are
//!     acknowledged, and reads the [`Plan`](wire::Plan) that the host sends.
//! 13. **Pins and ports.** [`device`] puts the permit on a pin and the frames on a port, by the traits
//!     of embedded-hal and embedded-io.
//!
//! Beside the street lies [`math`], the few `f32` functions that all rooms use, each with its error and
//! cost. The same samples give the same bits on every machine.
//!
//! # Putting it on a controller
//!
//! [`guide`] says how: wiring, units and signs, which uncertainties to state, timing, the link, and
//! what to do on each finding.
//!
//! # Features
//!
//! All parts are built in by default; a controller leaves out what it does not need with
//! `default-features = false`. No part is left out of a run silently: see [`parts`].
//!
//! | feature | what it brings | without it |
//! |---|---|---|
//! | `arm` | torque, angle and place from the arm's joints | a plan that describes an arm is refused by name; a powered spindle alone is taken |
//! | `undoing` | detectors and verdict of a bolt that is undone | a plan with a pass that undoes is refused by name |
//! | `fastener-check` | the controller's own check that bolt, thread and joint bear what the plan asks | figures that no bolt has are refused still, as are version, CRC and ranges; whether the bolt bears its target is for the host to say |
//!
//! Nothing that is never called takes flash: the hand's signal ([`cue`]), the link and the plan
//! ([`wire`]) and pins and ports ([`device`]) need no feature.
//!
//! - `defmt`: formatting for loggers on the controller, on every type with something to read.

pub mod arm;
pub mod cue;
pub mod curve;
pub mod detect;
pub mod device;
pub mod fastener;
pub mod gather;
pub mod guide;
pub mod math;
pub mod monitor;
pub mod parts;
pub mod phase;
pub mod procedure;
pub mod sample;
pub mod turn;
pub mod wire;
pub mod wrench;
