/*
 * bolting-monitor: bolt torque, bolt angle and thread findings from a manipulator's joint samples.
 * C11 and C++17. Made from the package ../interface by its test `header`: do not edit.
 *
 * Units stand in the names: N m, rad, s, us; SI throughout. Torques and angles of the bolt are
 * positive when a bolt is tightened, of either hand.
 *
 * Memory: a monitor lives in memory of the caller (bm_monitor_size, bm_monitor_align); nothing is
 * allocated. It must have been initialised once (static memory is), and must neither move nor be
 * written to until bm_monitor_destroy.
 *
 * Threads: a monitor takes one call at a time. An interrupt that calls while another call is under
 * way is answered with BM_STATUS_BUSY. Threads need a lock of their own: between them the check is an
 * aid in finding mistakes. Different monitors are independent. There is no global state.
 *
 * Structs begin with struct_size: set it to sizeof. A call that does not answer BM_STATUS_OK has
 * written nothing but bm_setup.why. No pointer but the monitor is kept when a call returns.
 *
 * Not a safety function: nothing here is redundant, diagnosed or certified.
 */

#ifndef BOLTING_MONITOR_H
#define BOLTING_MONITOR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// Version of this interface; `bm_abi_version` says the library's.
#define BM_ABI_VERSION 1

// Most joints of an arm.
#define BM_MAX_JOINTS 8

// Memory that is enough for a monitor of any number of joints on any target, bytes; see
// `bm_monitor_size` for the exact figure.
#define BM_MONITOR_ROOM 24576

// Alignment of that memory that is enough on any target, bytes.
#define BM_MONITOR_ALIGN 8

// Room for any name, its NUL included, bytes.
#define BM_NAME_ROOM 32

// `bm_sample.flags`: `velocity_rad_s` was read. Without it velocities come from the positions.
#define BM_SAMPLE_VELOCITY 1

// `bm_sample.flags`: `wrist_force_n` and `wrist_moment_nm` were read.
#define BM_SAMPLE_WRIST 2

// `bm_sample.flags`: `spindle_angle_rad` and `spindle_torque_nm` were read.
#define BM_SAMPLE_SPINDLE 4

// `bm_sample.flags`: the switch that couples master and arm is closed.
#define BM_SAMPLE_ARM_ENABLED 8

// `bm_sample.flags`: the tool is powered.
#define BM_SAMPLE_TOOL_POWERED 16

// `bm_sample.flags`: the gripper holds the tool.
#define BM_SAMPLE_TOOL_HELD 32

// `bm_sample.flags`: the payload of the plan is held beside the tool.
#define BM_SAMPLE_PAYLOAD_HELD 64

// `sizeof(bm_sample)`.
#define BM_SAMPLE_SIZE 152

// `sizeof(bm_finding)`.
#define BM_FINDING_SIZE 56

// `sizeof(bm_update)`.
#define BM_UPDATE_SIZE 112

// `sizeof(bm_summary)`.
#define BM_SUMMARY_SIZE 56

// What a call answers. Numbers are never reused: a later version may add to them.
//
// After anything but `BM_STATUS_OK` nothing was written to the caller's structs, and turning must
// not be permitted on the word of an earlier call.
enum bm_status
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : int32_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Done.
    BM_STATUS_OK = 0,
    // A pointer that is needed is null.
    BM_STATUS_NULL_POINTER = 1,
    // A pointer is not aligned as its type or `bm_monitor_align` asks.
    BM_STATUS_MISALIGNED = 2,
    // `struct_size` is not the size of this version's struct.
    BM_STATUS_STRUCT_SIZE = 3,
    // The header is of another ABI version than the library.
    BM_STATUS_ABI_VERSION = 4,
    // The memory is smaller than `bm_monitor_size` asks.
    BM_STATUS_MEMORY_TOO_SMALL = 5,
    // The library was not built for this number of joints.
    BM_STATUS_JOINTS_NOT_BUILT = 6,
    // The sample has another number of joints than the plan's arm.
    BM_STATUS_JOINTS_DIFFER = 7,
    // There is no monitor in this memory: never created, destroyed, moved or overwritten.
    BM_STATUS_NOT_A_MONITOR = 8,
    // Another call on this monitor has not returned yet.
    BM_STATUS_BUSY = 9,
    // A flag is set that this version does not know.
    BM_STATUS_UNKNOWN_FLAG = 10,
    // The plan is damaged or cut short.
    BM_STATUS_PLAN_DAMAGED = 11,
    // The plan is of another version.
    BM_STATUS_PLAN_VERSION = 12,
    // The plan arrived whole, but its figures or its layout are unsound.
    BM_STATUS_PLAN_UNSOUND = 13,
    // The plan has no such pass or bolt.
    BM_STATUS_NO_SUCH_TURN = 14,
    // A length or a size cannot be true.
    BM_STATUS_BAD_LENGTH = 15,
    // A number stands for nothing in this version.
    BM_STATUS_UNKNOWN_NUMBER = 16,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_status bm_status;
#else
typedef int32_t bm_status;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// What was found: `bm_finding.kind`; 0: nothing.
enum bm_finding_kind
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Torque rises where the thread should still run freely: it has most likely started crossed.
    BM_FINDING_KIND_CROSS_THREAD = 1,
    // Torque falls while the bolt goes on turning: the thread is most likely shearing.
    BM_FINDING_KIND_STRIP = 2,
    // In this pose the joints cannot tell the bolt torque.
    BM_FINDING_KIND_TORQUE_NOT_OBSERVABLE = 3,
    // The joint torques contradict each other: contact elsewhere on the arm, or a faulty sensor.
    BM_FINDING_KIND_JOINTS_DISAGREE = 4,
    // The bolt turns without advancing or resisting: the thread has not caught.
    BM_FINDING_KIND_NOT_STARTED = 5,
    // The torque rises steadily before snug is due: something is in the way, or the thread ends.
    BM_FINDING_KIND_EARLY_SNUG = 6,
    // Snug is overdue: a part is most likely missing, or the bolt is too long.
    BM_FINDING_KIND_LATE_SNUG = 7,
    // A rise that looked like snug has cleared.
    BM_FINDING_KIND_FALSE_SNUG = 8,
    // Running torque grows and grows rough: the thread is most likely galling or seizing.
    BM_FINDING_KIND_GALLING = 9,
    // The rundown takes more torque than the stated band allows.
    BM_FINDING_KIND_PREVAILING_HIGH = 10,
    // The rundown takes less torque than the stated band asks for: the locking feature is dead or missing.
    BM_FINDING_KIND_PREVAILING_LOW = 11,
    // The torque rises from the first degrees: the bolt was tight already.
    BM_FINDING_KIND_ALREADY_TIGHT = 12,
    // The slope drops where the bolt may yield, at or above the torque that was wanted.
    BM_FINDING_KIND_YIELD_ONSET = 13,
    // The slope drops below the torque that was wanted: bolt, thread or joint gives way.
    BM_FINDING_KIND_EARLY_YIELD = 14,
    // The torque has gone within a few degrees and stays away: the bolt has most likely broken.
    BM_FINDING_KIND_FRACTURE = 15,
    // The torque breaks off and comes back with the seats of the head: the socket slips on it.
    BM_FINDING_KIND_SOCKET_SLIP = 16,
    // The bolt turns in jerks: the torque is read from its lower envelope.
    BM_FINDING_KIND_STICK_SLIP = 17,
    // The run ended below its torque window.
    BM_FINDING_KIND_UNDER_TORQUE = 18,
    // The torque is above its window.
    BM_FINDING_KIND_OVER_TORQUE = 19,
    // The bolt has turned further beyond snug than its window allows.
    BM_FINDING_KIND_OVER_ANGLE = 20,
    // The held bolt has lost torque since it stopped.
    BM_FINDING_KIND_RELAXATION = 21,
    // The tool is coming off the head.
    BM_FINDING_KIND_TOOL_LIFTING = 22,
    // The bolt has broken loose.
    BM_FINDING_KIND_BREAKAWAY = 23,
    // The bolt drags on without coming loose or advancing: it most likely turns with its nut or insert.
    BM_FINDING_KIND_TURNING_TOGETHER = 24,
    // The torque has reached its limit and the bolt does not move.
    BM_FINDING_KIND_SEIZED = 25,
    // The last thread has left: the bolt is loose in the socket and may drop.
    BM_FINDING_KIND_THREAD_FREE = 26,
    // A joint torque stands at the end of its range.
    BM_FINDING_KIND_SENSOR_SATURATED = 27,
    // A joint torque has not changed at all while the arm moved.
    BM_FINDING_KIND_SENSOR_FROZEN = 28,
    // The joint torques no longer agree with the tare, without contact.
    BM_FINDING_KIND_SENSOR_DRIFT = 29,
    // Samples are missing.
    BM_FINDING_KIND_SAMPLES_STALE = 30,
    // The tool levers: the moment across the bolt axis is too high.
    BM_FINDING_KIND_SIDE_LOAD = 31,
    // The socket turns on a head that does not grip: the drive is most likely worn out.
    BM_FINDING_KIND_DRIVE_STRIPPED = 32,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_finding_kind bm_finding_kind;
#else
typedef uint8_t bm_finding_kind;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// What may stand behind a finding: `bm_finding.likely`, `.runner_up`; 0: not told.
enum bm_cause
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Thread started crossed.
    BM_CAUSE_CROSSED_THREAD = 1,
    // Thread shearing.
    BM_CAUSE_STRIPPING_THREAD = 2,
    // Bolt yielding.
    BM_CAUSE_YIELDING_BOLT = 3,
    // Bolt broken.
    BM_CAUSE_BROKEN_BOLT = 4,
    // Socket slipping on the head.
    BM_CAUSE_SLIPPING_SOCKET = 5,
    // Debris or a burr between the parts.
    BM_CAUSE_DEBRIS = 6,
    // Bolt bottoming in its hole, or too long for it.
    BM_CAUSE_BOTTOMING = 7,
    // Washer or part missing, or bolt too long.
    BM_CAUSE_MISSING_PART = 8,
    // Thread galling or seizing.
    BM_CAUSE_GALLING_THREAD = 9,
    // Locking feature wrong, worn or missing.
    BM_CAUSE_LOCKING_FEATURE = 10,
    // Bolt tight already.
    BM_CAUSE_ALREADY_TIGHT = 11,
    // Bolt turning together with its nut or insert.
    BM_CAUSE_TURNING_TOGETHER = 12,
    // Wrong part or wrong thread.
    BM_CAUSE_WRONG_PART = 13,
    // Softer joint than described.
    BM_CAUSE_SOFT_JOINT = 14,
    // Faulty sensor.
    BM_CAUSE_SENSOR_FAULT = 15,
    // Contact elsewhere on the arm.
    BM_CAUSE_CONTACT_ELSEWHERE = 16,
    // Tool coming off the head.
    BM_CAUSE_TOOL_LIFTING = 17,
    // Sensor drifted since the tare.
    BM_CAUSE_DRIFTING_SENSOR = 18,
    // Drive of the head worn out.
    BM_CAUSE_WORN_DRIVE = 19,
    // Thread not caught.
    BM_CAUSE_NOT_CAUGHT = 20,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_cause bm_cause;
#else
typedef uint8_t bm_cause;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// The quantity that crossed its limit: `bm_finding.quantity`.
enum bm_quantity
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Bolt torque above a ceiling, N m.
    BM_QUANTITY_TORQUE_NM = 1,
    // Fall of torque below the highest carried so far, N m.
    BM_QUANTITY_DROP_NM = 2,
    // Standard uncertainty of the bolt torque, N m.
    BM_QUANTITY_UNCERTAINTY_NM = 3,
    // Weighted sum of squares of what the wrench leaves unexplained, in units of its expectation.
    BM_QUANTITY_RESIDUAL_RATIO = 4,
    // Bolt angle, rad.
    BM_QUANTITY_ANGLE_RAD = 5,
    // Torque as a part of a recorded or stated one.
    BM_QUANTITY_TORQUE_RATIO = 6,
    // Slope as a part of the steepest so far, or of the expected one.
    BM_QUANTITY_SLOPE_RATIO = 7,
    // Amplitude of a swinging torque, N m.
    BM_QUANTITY_AMPLITUDE_NM = 8,
    // Moment across the bolt axis, or at a joint, N m.
    BM_QUANTITY_MOMENT_NM = 9,
    // Axial advance per turn as a part of the pitch.
    BM_QUANTITY_ADVANCE_RATIO = 10,
    // Distance along the bolt axis, m.
    BM_QUANTITY_DISTANCE_M = 11,
    // Duration, s.
    BM_QUANTITY_DURATION_S = 12,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_quantity bm_quantity;
#else
typedef uint8_t bm_quantity;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// The answer for a run: `bm_summary.verdict`. Never a bare pass: see `bm_summary.reasons`.
enum bm_verdict
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Everything asked for was seen and met.
    BM_VERDICT_ACCEPTED = 1,
    // Something asked for was seen not to be met, or a finding stands against the bolt.
    BM_VERDICT_REJECTED = 2,
    // The data cannot tell.
    BM_VERDICT_NOT_ASSESSABLE = 3,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_verdict bm_verdict;
#else
typedef uint8_t bm_verdict;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// Why a verdict is what it is: `bm_summary.reasons`.
enum bm_reason
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // Final torque inside the window around the target, uncertainty small against the window.
    BM_REASON_TORQUE_IN_WINDOW = 1,
    // Final torque below the window.
    BM_REASON_TORQUE_BELOW_WINDOW = 2,
    // Final torque above the window.
    BM_REASON_TORQUE_ABOVE_WINDOW = 3,
    // The uncertainty is too large against the window.
    BM_REASON_UNCERTAINTY_TOO_LARGE = 4,
    // The bolt torque was not observable when it mattered.
    BM_REASON_TORQUE_NOT_OBSERVABLE = 5,
    // A stopping finding stands.
    BM_REASON_FINDING_STANDS = 6,
    // The joint torques contradicted each other.
    BM_REASON_JOINTS_DISAGREE = 7,
    // No target torque was given.
    BM_REASON_NO_TARGET = 8,
    // No snug point was seen.
    BM_REASON_NO_SNUG = 9,
    // Snug came outside the expected turns.
    BM_REASON_SNUG_OUTSIDE_WINDOW = 10,
    // The angle from snug to the end lies outside the expected window.
    BM_REASON_ELASTIC_ANGLE_OUTSIDE_WINDOW = 11,
    // Too many samples were missing or unusable.
    BM_REASON_SAMPLES_MISSING = 12,
    // Undone without a window to hold it against.
    BM_REASON_UNDOING_NOT_JUDGED = 13,
    // The angle beyond the start torque lies in its window.
    BM_REASON_FURTHER_ANGLE_IN_WINDOW = 14,
    // The angle beyond the start torque lies below its window.
    BM_REASON_FURTHER_ANGLE_BELOW_WINDOW = 15,
    // The angle beyond the start torque lies above its window.
    BM_REASON_FURTHER_ANGLE_ABOVE_WINDOW = 16,
    // The torque from which the further angle counts was not reached.
    BM_REASON_START_TORQUE_NOT_REACHED = 17,
    // The uncertainty of an angle is too large against its window.
    BM_REASON_ANGLE_UNCERTAINTY_TOO_LARGE = 18,
    // Yield began inside its window.
    BM_REASON_YIELD_IN_WINDOW = 19,
    // Yield began below its window.
    BM_REASON_YIELD_BELOW_WINDOW = 20,
    // Yield began above its window.
    BM_REASON_YIELD_ABOVE_WINDOW = 21,
    // Yield was not reached.
    BM_REASON_NO_YIELD = 22,
    // The bolt carried the check torque without moving.
    BM_REASON_HELD_STILL = 23,
    // The bolt moved while it was checked.
    BM_REASON_MOVED_BEFORE_TORQUE = 24,
    // The check torque was not reached.
    BM_REASON_CHECK_TORQUE_NOT_REACHED = 25,
    // The bolt came loose inside its window.
    BM_REASON_BREAKAWAY_IN_WINDOW = 26,
    // The bolt came loose below its window.
    BM_REASON_BREAKAWAY_BELOW_WINDOW = 27,
    // The bolt came loose above its window.
    BM_REASON_BREAKAWAY_ABOVE_WINDOW = 28,
    // The bolt was not seen to come loose.
    BM_REASON_NO_BREAKAWAY = 29,
    // The last thread was free where it was expected.
    BM_REASON_THREAD_FREE = 30,
    // The thread was free before it was due.
    BM_REASON_FREE_TOO_SOON = 31,
    // The thread was free later than it was due.
    BM_REASON_FREE_TOO_LATE = 32,
    // The thread was not seen to be free.
    BM_REASON_THREAD_NOT_FREE = 33,
    // The bolt did not turn.
    BM_REASON_NEVER_TURNED = 34,
    // Snug came inside the expected turns.
    BM_REASON_SNUG_IN_WINDOW = 35,
    // The angle from snug to the target lies inside its window.
    BM_REASON_ELASTIC_ANGLE_IN_WINDOW = 36,
    // A finding that did not stop the run speaks against the bolt.
    BM_REASON_FINDING_AGAINST = 37,
    // A joint torque was drifting, frozen or clipped.
    BM_REASON_SENSING_IN_DOUBT = 38,
    // At the end the slope lay below that of a yielding bolt, too little or too briefly for a finding.
    BM_REASON_YIELD_IN_DOUBT = 39,
    // While it was held, the bolt lost torque to below its window.
    BM_REASON_TORQUE_LOST_WHILE_HELD = 40,
    // Whether the running torque lies in its stated band cannot be told.
    BM_REASON_RUNNING_TORQUE_IN_DOUBT = 41,
    // Turned on at more than its thread may take, not seen to come out: it may turn with its nut.
    BM_REASON_RUN_OUT_IN_DOUBT = 42,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_reason bm_reason;
#else
typedef uint8_t bm_reason;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// Where the work stands: `bm_update.phase`; 0: none of these.
enum bm_phase
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : uint8_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    // The tool has not turned or loaded the bolt yet.
    BM_PHASE_APPROACH = 1,
    // Done up: the first turn, in which a thread catches or crosses.
    BM_PHASE_THREAD_START = 2,
    // Done up: the bolt runs down to its seat.
    BM_PHASE_RUNDOWN = 3,
    // Done up: the parts come together.
    BM_PHASE_SNUGGING = 4,
    // Done up: torque rises with the elastic joint.
    BM_PHASE_CLAMPING = 5,
    // Done up: the slope has gone, bolt or thread yields.
    BM_PHASE_YIELDING = 6,
    // Undone: the bolt resists and has not broken loose.
    BM_PHASE_BREAKAWAY = 7,
    // Undone: broken loose, the clamp force goes.
    BM_PHASE_LOOSENING = 8,
    // Undone: only the prevailing torque is left.
    BM_PHASE_RUN_OUT = 9,
    // Undone: the last thread has left, the bolt is loose in the socket.
    BM_PHASE_FREE = 10,
    // Thread or bolt gave way.
    BM_PHASE_FAILED = 11,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum bm_phase bm_phase;
#else
typedef uint8_t bm_phase;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

// A monitor of one bolt, in memory that the caller owns: opaque.
typedef struct bm_monitor bm_monitor;

// One reading of the arm. Any bits are taken: a sample with a figure that is no number or absurd,
// or whose time runs backwards, is counted and otherwise ignored.
typedef struct {
    // `sizeof(bm_sample)`.
    uint32_t struct_size;
    // `BM_SAMPLE_…`, added up.
    uint32_t flags;
    // Time since any fixed origin, us.
    uint64_t time_us;
    // Joints of the arm, base first; 0 where a spindle is read alone. Beyond them arrays are unread.
    uint32_t joints;
    // Joint positions, rad.
    float position_rad[8];
    // Joint velocities, rad/s.
    float velocity_rad_s[8];
    // Joint torques, N m, as the joint exerts them on the link it moves: a joint that carries a load
    // against gravity reads the sign that lifts it.
    float torque_nm[8];
    // Force that the arm exerts on the tool, tip frame, N.
    float wrist_force_n[3];
    // Moment likewise, about the tip frame's origin, N m.
    float wrist_moment_nm[3];
    // Spindle angle, rad, counted on over whole turns, tightening positive (right-hand thread).
    float spindle_angle_rad;
    // Spindle torque on the bolt, N m, tightening positive (right-hand thread).
    float spindle_torque_nm;
    // Ratio of the force at the tool to that at the operator's hand; for the record.
    float force_ratio;
} bm_sample;

// What a monitor is made of. Read only while `bm_monitor_create` runs.
typedef struct {
    // `sizeof(bm_setup)`.
    uint32_t struct_size;
    // `BM_ABI_VERSION`.
    uint32_t abi_version;
    // The blob that `bolting-host plan` wrote.
    const uint8_t *plan;
    // Its length, bytes.
    size_t plan_length;
    // Where to put what is wrong with the plan, and where, as text; may be null.
    char *why;
    // Room there, bytes; 160 is enough for most.
    size_t why_room;
    // The pass, from 0.
    uint8_t pass;
    // The bolt, from 0.
    uint8_t bolt;
    // 0: what is not known is refused.
    uint8_t reserved[6];
} bm_setup;

// A finding, made once, at the sample at which its limit was crossed.
typedef struct {
    // `sizeof(bm_finding)`; set by the caller for `bm_monitor_silence`, else by the library.
    uint32_t struct_size;
    // What it is, `BM_FINDING_…`; 0: there is none.
    uint8_t kind;
    // The quantity that decided, `BM_QUANTITY_…`.
    uint8_t quantity;
    // What most likely stands behind it, `BM_CAUSE_…`; 0: not told, ...
    uint8_t likely;
    // ... and what else the evidence would fit.
    uint8_t runner_up;
    // Mean time of the block of samples in which it was made, us.
    uint64_t time_us;
    // Bolt angle since the start of the run, rad.
    float angle_rad;
    // Bolt torque, N m.
    float torque_nm;
    // Its standard uncertainty, N m.
    float torque_u_nm;
    // Local slope of the curve, N m/rad.
    float slope_nm_per_rad;
    // Its standard error, N m/rad.
    float slope_u_nm_per_rad;
    // Axial advance per turn as a part of the pitch, if `has_advance`, ...
    float advance_ratio;
    // ... and its standard uncertainty.
    float advance_u;
    // Value of the deciding quantity, ...
    float value;
    // ... and the limit that it crossed.
    float limit;
    // Whether turning on would do harm.
    bool stops;
    // Whether the arm tells the advance.
    bool has_advance;
    // Joint that it points at, counted from the base, the first is 1; 0: none. What a side load points
    // at is in `bm_update.side_moment_nm`.
    uint8_t joint;
    // 0.
    uint8_t reserved;
} bm_finding;

// What the newest block of samples changed that has come to its end: up to 1.5 kHz the sample itself, else
// about a millisecond of them, up to 2 ms back. Events are told once. Tightening positive.
typedef struct {
    // `sizeof(bm_update)`; set by the caller.
    uint32_t struct_size;
    // Where the work stands, `BM_PHASE_…`.
    uint8_t phase;
    // Whether turning is permitted: from the first usable sample to the first stopping finding, save while
    // samples that cannot be used are all that comes.
    bool permitted;
    // Whether the torque can be told in this pose; where false, it must not be shown.
    bool torque_observable;
    // Whether the bolt was turning.
    bool turning;
    // Mean time of the block, us.
    uint64_t time_us;
    // Bolt torque, N m.
    float torque_nm;
    // Its standard uncertainty, N m.
    float torque_u_nm;
    // Bolt angle since the start of the run, rad.
    float angle_rad;
    // Its standard uncertainty, rad.
    float angle_u_rad;
    // Moment across the bolt axis at the socket, if `has_side_moment`, tip frame, N m.
    float side_moment_nm[3];
    // The larger standard uncertainty of its two components, N m.
    float side_moment_u_nm;
    // Whether that moment can be told.
    bool has_side_moment;
    // Set at the sample at which the snug event was seen; again after it was withdrawn.
    bool snug_seen;
    // Set where an angle step of the curve was closed: a point worth keeping.
    bool curve_point;
    // Whether there is a new `finding`.
    bool has_finding;
    // Whether a stopping finding was made in this run: unlike `permitted`, it stays.
    bool stopped;
    // 0.
    uint8_t reserved[3];
    // The finding.
    bm_finding finding;
} bm_update;

// What is known of a run. Tightening positive.
typedef struct {
    // `sizeof(bm_summary)`; set by the caller.
    uint32_t struct_size;
    // The answer, `BM_VERDICT_…`.
    uint8_t verdict;
    // How many `reasons` there are.
    uint8_t reason_count;
    // Whether there is a snug point.
    bool has_snug;
    // 0.
    uint8_t reserved;
    // Why, `BM_REASON_…`; 0 beyond `reason_count`.
    uint8_t reasons[8];
    // Torque that the bolt carried where it last turned, N m.
    float final_torque_nm;
    // Its standard uncertainty (coverage factor 1), N m.
    float final_torque_u_nm;
    // Bolt angle since the start of the run, rad.
    float final_angle_rad;
    // Its standard uncertainty, rad.
    float final_angle_u_rad;
    // Bolt angle at the snug point, if `has_snug`, rad.
    float snug_angle_rad;
    // Its standard uncertainty, rad.
    float snug_angle_u_rad;
    // Torque at the snug point, N m.
    float snug_torque_nm;
    // Samples offered, usable or not.
    uint32_t samples;
    // Gaps between samples longer than 2.5 usual steps.
    uint32_t gaps;
    // Samples not used: a figure that is no number or absurd, or time running backwards.
    uint32_t unusable_samples;
} bm_summary;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

// Writes the name of a finding in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
// a longer name is cut. Null or no room: only the number is checked.
//
// # Safety
// `out` is null or has `room` bytes.
bm_status bm_finding_name(uint8_t kind,
                          char *out,
                          size_t room);

// Writes the name of a verdict in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
// a longer name is cut. Null or no room: only the number is checked.
//
// # Safety
// `out` is null or has `room` bytes.
bm_status bm_verdict_name(uint8_t verdict,
                          char *out,
                          size_t room);

// Writes the name of a reason in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
// a longer name is cut. Null or no room: only the number is checked.
//
// # Safety
// `out` is null or has `room` bytes.
bm_status bm_reason_name(uint8_t reason,
                         char *out,
                         size_t room);

// Writes the name of a phase in snake case, e.g. for a log, to `out`; `BM_NAME_ROOM` bytes are enough,
// a longer name is cut. Null or no room: only the number is checked.
//
// # Safety
// `out` is null or has `room` bytes.
bm_status bm_phase_name(uint8_t phase,
                        char *out,
                        size_t room);

// Version of the library's interface, to be compared with `BM_ABI_VERSION` of the header.
uint32_t bm_abi_version(void);

// What a status means and how to mend it, English, for ever valid; never null.
const char *bm_error_text(int32_t code);

// Memory that a monitor of an arm of `joints` joints takes, bytes (0: a spindle alone); 0 if the
// library was not built for it.
size_t bm_monitor_size(uint8_t joints);

// Alignment of that memory, bytes.
size_t bm_monitor_align(void);

// Sets a sample to `joints` joints of zeros, arm enabled, tool powered and held.
//
// # Safety
// `sample` is null or points to a `bm_sample`.
bm_status bm_sample_init(bm_sample *sample, uint32_t joints);

// Makes a monitor of one bolt in one pass in `memory`, and sets `*monitor` to it. Whatever was in the
// memory is lost. Also says in `setup->why` what is wrong with a plan, and where.
//
// The memory must stay where it is, and be left alone, until `bm_monitor_destroy`. The plan need not
// stay.
//
// # Safety
// `memory` has `memory_size` bytes that nothing else uses; `setup` and what it points to are sound;
// `monitor` can be written.
bm_status bm_monitor_create(void *memory,
                            size_t memory_size,
                            const bm_setup *setup,
                            bm_monitor **monitor);

// Takes in one sample and says what it changed. Takes every sample; bounded in time.
//
// # Safety
// `monitor` is null or a monitor's memory; `sample` and `update` are null or point to structs whose
// `struct_size` is set.
bm_status bm_monitor_update(bm_monitor *monitor, const bm_sample *sample, bm_update *update);

// To be asked when no sample has come: says once per silence, in `finding`, that samples are stale.
// `finding->kind` is 0 where there is nothing to say. `now_us` is in the samples' own time.
//
// # Safety
// As [`bm_monitor_update`].
bm_status bm_monitor_silence(bm_monitor *monitor, uint64_t now_us, bm_finding *finding);

// Says what is known of the run so far; final when the run has ended.
//
// # Safety
// As [`bm_monitor_update`].
bm_status bm_monitor_summary(bm_monitor *monitor, bm_summary *summary);

// Ends a monitor; its memory is the caller's again.
//
// # Safety
// `monitor` is null or a monitor's memory.
bm_status bm_monitor_destroy(bm_monitor *monitor);

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  /* BOLTING_MONITOR_H */

#ifdef __cplusplus
#define BM_STATIC_ASSERT(holds, text) static_assert(holds, text)
#else
#define BM_STATIC_ASSERT(holds, text) _Static_assert(holds, text)
#endif
BM_STATIC_ASSERT(sizeof(bm_setup) == 16 + 4 * sizeof(void *), "bm_setup");
BM_STATIC_ASSERT(sizeof(bm_sample) == BM_SAMPLE_SIZE, "bm_sample");
BM_STATIC_ASSERT(sizeof(bm_finding) == BM_FINDING_SIZE, "bm_finding");
BM_STATIC_ASSERT(sizeof(bm_update) == BM_UPDATE_SIZE, "bm_update");
BM_STATIC_ASSERT(sizeof(bm_summary) == BM_SUMMARY_SIZE, "bm_summary");
#undef BM_STATIC_ASSERT
