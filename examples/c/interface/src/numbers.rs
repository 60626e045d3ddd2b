//! Numbers that stand for findings, causes and the like, and their names. Those that also travel on
//! the wire have the same numbers there; a test holds them together. Numbers are never reused.

use core::ffi::c_char;
use core::fmt::Write;

use bolting_monitor::{detect, phase, procedure};

use crate::status::Status;
use crate::text::{SnakeCase, Text};

/// What was found: `bm_finding.kind`; 0: nothing.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FindingKind {
    /// Torque rises where the thread should still run freely: it has most likely started crossed.
    CrossThread = 1,
    /// Torque falls while the bolt goes on turning: the thread is most likely shearing.
    Strip = 2,
    /// In this pose the joints cannot tell the bolt torque.
    TorqueNotObservable = 3,
    /// The joint torques contradict each other: contact elsewhere on the arm, or a faulty sensor.
    JointsDisagree = 4,
    /// The bolt turns without advancing or resisting: the thread has not caught.
    NotStarted = 5,
    /// The torque rises steadily before snug is due: something is in the way, or the thread ends.
    EarlySnug = 6,
    /// Snug is overdue: a part is most likely missing, or the bolt is too long.
    LateSnug = 7,
    /// A rise that looked like snug has cleared.
    FalseSnug = 8,
    /// Running torque grows and grows rough: the thread is most likely galling or seizing.
    Galling = 9,
    /// The rundown takes more torque than the stated band allows.
    PrevailingHigh = 10,
    /// The rundown takes less torque than the stated band asks for: the locking feature is dead or missing.
    PrevailingLow = 11,
    /// The torque rises from the first degrees: the bolt was tight already.
    AlreadyTight = 12,
    /// The slope drops where the bolt may yield, at or above the torque that was wanted.
    YieldOnset = 13,
    /// The slope drops below the torque that was wanted: bolt, thread or joint gives way.
    EarlyYield = 14,
    /// The torque has gone within a few degrees and stays away: the bolt has most likely broken.
    Fracture = 15,
    /// The torque breaks off and comes back with the seats of the head: the socket slips on it.
    SocketSlip = 16,
    /// The bolt turns in jerks: the torque is read from its lower envelope.
    StickSlip = 17,
    /// The run ended below its torque window.
    UnderTorque = 18,
    /// The torque is above its window.
    OverTorque = 19,
    /// The bolt has turned further beyond snug than its window allows.
    OverAngle = 20,
    /// The held bolt has lost torque since it stopped.
    Relaxation = 21,
    /// The tool is coming off the head.
    ToolLifting = 22,
    /// The bolt has broken loose.
    Breakaway = 23,
    /// The bolt drags on without coming loose or advancing: it most likely turns with its nut or insert.
    TurningTogether = 24,
    /// The torque has reached its limit and the bolt does not move.
    Seized = 25,
    /// The last thread has left: the bolt is loose in the socket and may drop.
    ThreadFree = 26,
    /// A joint torque stands at the end of its range.
    SensorSaturated = 27,
    /// A joint torque has not changed at all while the arm moved.
    SensorFrozen = 28,
    /// The joint torques no longer agree with the tare, without contact.
    SensorDrift = 29,
    /// Samples are missing.
    SamplesStale = 30,
    /// The tool levers: the moment across the bolt axis is too high.
    SideLoad = 31,
    /// The socket turns on a head that does not grip: the drive is most likely worn out.
    DriveStripped = 32,
}

/// What may stand behind a finding: `bm_finding.likely`, `.runner_up`; 0: not told.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Thread started crossed.
    CrossedThread = 1,
    /// Thread shearing.
    StrippingThread = 2,
    /// Bolt yielding.
    YieldingBolt = 3,
    /// Bolt broken.
    BrokenBolt = 4,
    /// Socket slipping on the head.
    SlippingSocket = 5,
    /// Debris or a burr between the parts.
    Debris = 6,
    /// Bolt bottoming in its hole, or too long for it.
    Bottoming = 7,
    /// Washer or part missing, or bolt too long.
    MissingPart = 8,
    /// Thread galling or seizing.
    GallingThread = 9,
    /// Locking feature wrong, worn or missing.
    LockingFeature = 10,
    /// Bolt tight already.
    AlreadyTight = 11,
    /// Bolt turning together with its nut or insert.
    TurningTogether = 12,
    /// Wrong part or wrong thread.
    WrongPart = 13,
    /// Softer joint than described.
    SoftJoint = 14,
    /// Faulty sensor.
    SensorFault = 15,
    /// Contact elsewhere on the arm.
    ContactElsewhere = 16,
    /// Tool coming off the head.
    ToolLifting = 17,
    /// Sensor drifted since the tare.
    DriftingSensor = 18,
    /// Drive of the head worn out.
    WornDrive = 19,
    /// Thread not caught.
    NotCaught = 20,
}

/// The quantity that crossed its limit: `bm_finding.quantity`.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Bolt torque above a ceiling, N m.
    TorqueNm = 1,
    /// Fall of torque below the highest carried so far, N m.
    DropNm = 2,
    /// Standard uncertainty of the bolt torque, N m.
    UncertaintyNm = 3,
    /// Weighted sum of squares of what the wrench leaves unexplained, in units of its expectation.
    ResidualRatio = 4,
    /// Bolt angle, rad.
    AngleRad = 5,
    /// Torque as a part of a recorded or stated one.
    TorqueRatio = 6,
    /// Slope as a part of the steepest so far, or of the expected one.
    SlopeRatio = 7,
    /// Amplitude of a swinging torque, N m.
    AmplitudeNm = 8,
    /// Moment across the bolt axis, or at a joint, N m.
    MomentNm = 9,
    /// Axial advance per turn as a part of the pitch.
    AdvanceRatio = 10,
    /// Distance along the bolt axis, m.
    DistanceM = 11,
    /// Duration, s.
    DurationS = 12,
}

/// The answer for a run: `bm_summary.verdict`. Never a bare pass: see `bm_summary.reasons`.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Everything asked for was seen and met.
    Accepted = 1,
    /// Something asked for was seen not to be met, or a finding stands against the bolt.
    Rejected = 2,
    /// The data cannot tell.
    NotAssessable = 3,
}

/// Why a verdict is what it is: `bm_summary.reasons`.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Final torque inside the window around the target, uncertainty small against the window.
    TorqueInWindow = 1,
    /// Final torque below the window.
    TorqueBelowWindow = 2,
    /// Final torque above the window.
    TorqueAboveWindow = 3,
    /// The uncertainty is too large against the window.
    UncertaintyTooLarge = 4,
    /// The bolt torque was not observable when it mattered.
    TorqueNotObservable = 5,
    /// A stopping finding stands.
    FindingStands = 6,
    /// The joint torques contradicted each other.
    JointsDisagree = 7,
    /// No target torque was given.
    NoTarget = 8,
    /// No snug point was seen.
    NoSnug = 9,
    /// Snug came outside the expected turns.
    SnugOutsideWindow = 10,
    /// The angle from snug to the end lies outside the expected window.
    ElasticAngleOutsideWindow = 11,
    /// Too many samples were missing or unusable.
    SamplesMissing = 12,
    /// Undone without a window to hold it against.
    UndoingNotJudged = 13,
    /// The angle beyond the start torque lies in its window.
    FurtherAngleInWindow = 14,
    /// The angle beyond the start torque lies below its window.
    FurtherAngleBelowWindow = 15,
    /// The angle beyond the start torque lies above its window.
    FurtherAngleAboveWindow = 16,
    /// The torque from which the further angle counts was not reached.
    StartTorqueNotReached = 17,
    /// The uncertainty of an angle is too large against its window.
    AngleUncertaintyTooLarge = 18,
    /// Yield began inside its window.
    YieldInWindow = 19,
    /// Yield began below its window.
    YieldBelowWindow = 20,
    /// Yield began above its window.
    YieldAboveWindow = 21,
    /// Yield was not reached.
    NoYield = 22,
    /// The bolt carried the check torque without moving.
    HeldStill = 23,
    /// The bolt moved while it was checked.
    MovedBeforeTorque = 24,
    /// The check torque was not reached.
    CheckTorqueNotReached = 25,
    /// The bolt came loose inside its window.
    BreakawayInWindow = 26,
    /// The bolt came loose below its window.
    BreakawayBelowWindow = 27,
    /// The bolt came loose above its window.
    BreakawayAboveWindow = 28,
    /// The bolt was not seen to come loose.
    NoBreakaway = 29,
    /// The last thread was free where it was expected.
    ThreadFree = 30,
    /// The thread was free before it was due.
    FreeTooSoon = 31,
    /// The thread was free later than it was due.
    FreeTooLate = 32,
    /// The thread was not seen to be free.
    ThreadNotFree = 33,
    /// The bolt did not turn.
    NeverTurned = 34,
    /// Snug came inside the expected turns.
    SnugInWindow = 35,
    /// The angle from snug to the target lies inside its window.
    ElasticAngleInWindow = 36,
    /// A finding that did not stop the run speaks against the bolt.
    FindingAgainst = 37,
    /// A joint torque was drifting, frozen or clipped.
    SensingInDoubt = 38,
    /// At the end the slope lay below that of a yielding bolt, too little or too briefly for a finding.
    YieldInDoubt = 39,
    /// While it was held, the bolt lost torque to below its window.
    TorqueLostWhileHeld = 40,
    /// Whether the running torque lies in its stated band cannot be told.
    RunningTorqueInDoubt = 41,
    /// Turned on at more than its thread may take, not seen to come out: it may turn with its nut.
    RunOutInDoubt = 42,
}

/// Where the work stands: `bm_update.phase`; 0: none of these.
#[repr(u8)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// The tool has not turned or loaded the bolt yet.
    Approach = 1,
    /// Done up: the first turn, in which a thread catches or crosses.
    ThreadStart = 2,
    /// Done up: the bolt runs down to its seat.
    Rundown = 3,
    /// Done up: the parts come together.
    Snugging = 4,
    /// Done up: torque rises with the elastic joint.
    Clamping = 5,
    /// Done up: the slope has gone, bolt or thread yields.
    Yielding = 6,
    /// Undone: the bolt resists and has not broken loose.
    Breakaway = 7,
    /// Undone: broken loose, the clamp force goes.
    Loosening = 8,
    /// Undone: only the prevailing torque is left.
    RunOut = 9,
    /// Undone: the last thread has left, the bolt is loose in the socket.
    Free = 10,
    /// Thread or bolt gave way.
    Failed = 11,
}

impl Phase {
    /// Every one, in the order of their numbers.
    const ALL: [Self; 11] = [
        Self::Approach,
        Self::ThreadStart,
        Self::Rundown,
        Self::Snugging,
        Self::Clamping,
        Self::Yielding,
        Self::Breakaway,
        Self::Loosening,
        Self::RunOut,
        Self::Free,
        Self::Failed,
    ];
}

/// The number of a phase; 0 for one that this version does not know.
pub fn phase_number(phase: phase::Phase) -> u8 {
    let known = match phase {
        phase::Phase::Approach => Phase::Approach,
        phase::Phase::ThreadStart => Phase::ThreadStart,
        phase::Phase::Rundown => Phase::Rundown,
        phase::Phase::Snugging => Phase::Snugging,
        phase::Phase::Clamping => Phase::Clamping,
        phase::Phase::Yielding => Phase::Yielding,
        phase::Phase::Breakaway => Phase::Breakaway,
        phase::Phase::Loosening => Phase::Loosening,
        phase::Phase::RunOut => Phase::RunOut,
        phase::Phase::Free => Phase::Free,
        phase::Phase::Failed => Phase::Failed,
        _ => return 0,
    };
    known as u8
}

/// Writes `value` in snake case, or says that there is none.
fn name(value: Option<impl core::fmt::Debug>, mut out: Text) -> Status {
    match value {
        Some(value) => {
            // What does not fit is cut, as the header says.
            let _ = write!(SnakeCase::new(&mut out), "{value:?}");
            Status::Ok
        }
        None => Status::UnknownNumber,
    }
}

/// Writes the name of a finding in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
/// a longer name is cut. Null or no room: only the number is checked.
///
/// # Safety
/// `out` is null or has `room` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_finding_name(kind: u8, out: *mut c_char, room: usize) -> Status {
    // SAFETY: promised by the caller.
    let out = unsafe { Text::new(out, room) };
    name(detect::FindingKind::from_wire_code(kind), out)
}

/// Writes the name of a verdict in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
/// a longer name is cut. Null or no room: only the number is checked.
///
/// # Safety
/// `out` is null or has `room` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_verdict_name(verdict: u8, out: *mut c_char, room: usize) -> Status {
    // SAFETY: promised by the caller.
    let out = unsafe { Text::new(out, room) };
    name(procedure::Verdict::from_wire_code(verdict), out)
}

/// Writes the name of a reason in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
/// a longer name is cut. Null or no room: only the number is checked.
///
/// # Safety
/// `out` is null or has `room` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_reason_name(reason: u8, out: *mut c_char, room: usize) -> Status {
    // SAFETY: promised by the caller.
    let out = unsafe { Text::new(out, room) };
    name(procedure::Reason::from_wire_code(reason), out)
}

/// Writes the name of a phase in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
/// a longer name is cut. Null or no room: only the number is checked.
///
/// # Safety
/// `out` is null or has `room` bytes.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_phase_name(phase: u8, out: *mut c_char, room: usize) -> Status {
    // SAFETY: promised by the caller.
    let out = unsafe { Text::new(out, room) };
    name(
        Phase::ALL.into_iter().find(|known| *known as u8 == phase),
        out,
    )
}
