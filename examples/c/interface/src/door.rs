//! The functions that C calls.

use core::ffi::c_char;

use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{Plan, PlanError};

use crate::slot::{self, Borrowed, for_joints, size};
use crate::status::Status;
use crate::structs::*;
use crate::text::Text;
use crate::why;

/// A monitor of one bolt, in memory that the caller owns: opaque.
pub struct Handle {
    _private: [u8; 0],
}

/// Version of the library's interface, to be compared with `BM_ABI_VERSION` of the header.
#[unsafe(no_mangle)]
pub extern "C" fn bm_abi_version() -> u32 {
    BM_ABI_VERSION
}

/// What a status means and how to mend it, English, for ever valid; never null.
#[unsafe(no_mangle)]
pub extern "C" fn bm_error_text(code: i32) -> *const c_char {
    Status::from_number(code)
        .map_or(c"no status of this version", Status::text)
        .as_ptr()
}

/// Memory that a monitor of an arm of `joints` joints takes, bytes (0: a spindle alone); 0 if the
/// library was not built for it.
#[unsafe(no_mangle)]
pub extern "C" fn bm_monitor_size(joints: u8) -> usize {
    for_joints!(joints, size(), 0)
}

/// Alignment of that memory, bytes.
#[unsafe(no_mangle)]
pub extern "C" fn bm_monitor_align() -> usize {
    slot::ALIGN
}

/// Sets a sample to `joints` joints of zeros, arm enabled, tool powered and held.
///
/// # Safety
/// `sample` is null or points to a `bm_sample`.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_sample_init(sample: *mut Sample, joints: u32) -> Status {
    let Err(status) = aligned(sample) else {
        // SAFETY: not null, aligned, and a sample by the caller's promise.
        unsafe { sample.write(Sample::of_joints(joints)) };
        return Status::Ok;
    };
    status
}

/// Makes a monitor of one bolt in one pass in `memory`, and sets `*monitor` to it. Whatever was in the
/// memory is lost. Also says in `setup->why` what is wrong with a plan, and where.
///
/// The memory must stay where it is, and be left alone, until `bm_monitor_destroy`. The plan need not
/// stay.
///
/// # Safety
/// `memory` has `memory_size` bytes that nothing else uses; `setup` and what it points to are sound;
/// `monitor` can be written.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_monitor_create(
    memory: *mut core::ffi::c_void,
    memory_size: usize,
    setup: *const Setup,
    monitor: *mut *mut Handle,
) -> Status {
    // SAFETY: promised by the caller.
    match unsafe { create(memory.cast(), memory_size, setup, monitor) } {
        Ok(()) => Status::Ok,
        Err(status) => status,
    }
}

/// # Safety
/// See [`bm_monitor_create`].
unsafe fn create(
    memory: *mut u8,
    memory_size: usize,
    setup: *const Setup,
    monitor: *mut *mut Handle,
) -> Result<(), Status> {
    aligned(monitor)?;
    // SAFETY: a setup by the caller's promise.
    let setup = unsafe { read_sized(setup) }?;
    if setup.abi_version != BM_ABI_VERSION {
        return Err(Status::AbiVersion);
    }
    if memory.is_null() || setup.plan.is_null() {
        return Err(Status::NullPointer);
    }
    if !memory.addr().is_multiple_of(slot::ALIGN) {
        return Err(Status::Misaligned);
    }
    if setup.reserved != [0; 6] {
        return Err(Status::UnknownFlag);
    }
    // No plan comes near it; beyond it no slice is sound.
    if setup.plan_length == 0 || isize::try_from(setup.plan_length).is_err() {
        return Err(Status::BadLength);
    }
    if memory_size < size::<0>() {
        return Err(Status::MemoryTooSmall);
    }
    // SAFETY: aligned and large enough, see above.
    unsafe { slot::forget(memory) };
    // SAFETY: promised by the caller.
    let mut out = unsafe { Text::new(setup.why, setup.why_room) };
    // SAFETY: not null, a length that can be, and the caller's promise.
    let blob = unsafe { core::slice::from_raw_parts(setup.plan, setup.plan_length) };
    let plan = Plan::from_blob(blob).map_err(|error| plan_status(&error, &mut out))?;
    let turn = Turn {
        pass: setup.pass,
        bolt: setup.bolt,
    };
    let job = plan
        .procedure
        .job(&plan.job, turn)
        .ok_or(Status::NoSuchTurn)?;
    let joints = plan.arm.as_ref().map_or(0, |arm| arm.joints.len() as u8);
    match bm_monitor_size(joints) {
        0 => return Err(Status::JointsNotBuilt),
        needed if needed > memory_size => return Err(Status::MemoryTooSmall),
        _ => {}
    }
    use slot::create;
    // SAFETY: aligned, and as large as this number of joints takes.
    unsafe {
        for_joints!(
            joints,
            create(memory, &job, plan.arm.as_ref()),
            return Err(Status::JointsNotBuilt)
        )
    }
    .map_err(|error| {
        let _ = why::monitor(&mut out, &error);
        Status::PlanUnsound
    })?;
    // SAFETY: not null, aligned, and the caller's promise.
    unsafe { monitor.write(memory.cast()) };
    Ok(())
}

fn plan_status(error: &PlanError, out: &mut Text) -> Status {
    // What does not fit is cut, as the header says.
    let _ = why::plan(out, error);
    match error {
        PlanError::Damaged => Status::PlanDamaged,
        PlanError::Version(_) => Status::PlanVersion,
        _ => Status::PlanUnsound,
    }
}

/// Takes in one sample and says what it changed. Takes every sample; bounded in time.
///
/// # Safety
/// `monitor` is null or a monitor's memory; `sample` and `update` are null or point to structs whose
/// `struct_size` is set.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_monitor_update(
    monitor: *mut Handle,
    sample: *const Sample,
    update: *mut Update,
) -> Status {
    // SAFETY: promised by the caller.
    let sample = match unsafe { read_sized(sample) } {
        Ok(sample) => sample,
        Err(status) => return status,
    };
    let call = |borrowed: &mut Borrowed| {
        let joints = borrowed.joints();
        sample.check(joints)?;
        for_joints!(joints, take(borrowed, &sample), Err(Status::NotAMonitor))
    };
    // SAFETY: promised by the caller.
    unsafe { answer(monitor, update, call) }
}

fn take<const N: usize>(borrowed: &mut Borrowed, sample: &Sample) -> Result<Update, Status> {
    // SAFETY: `for_joints` chose `N` by the joints.
    let monitor = unsafe { borrowed.monitor::<N>() }?;
    Ok(monitor.update(&sample.joints()).into())
}

/// To be asked when no sample has come: says once per silence, in `finding`, that samples are stale.
/// `finding->kind` is 0 where there is nothing to say. `now_us` is in the samples' own time.
///
/// # Safety
/// As [`bm_monitor_update`].
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_monitor_silence(
    monitor: *mut Handle,
    now_us: u64,
    finding: *mut Finding,
) -> Status {
    let call = |borrowed: &mut Borrowed| {
        let joints = borrowed.joints();
        for_joints!(joints, silence(borrowed, now_us), Err(Status::NotAMonitor))
    };
    // SAFETY: promised by the caller.
    unsafe { answer(monitor, finding, call) }
}

fn silence<const N: usize>(borrowed: &mut Borrowed, now_us: u64) -> Result<Finding, Status> {
    // SAFETY: `for_joints` chose `N` by the joints.
    let monitor = unsafe { borrowed.monitor::<N>() }?;
    Ok(monitor.silence(now_us).into())
}

/// Says what is known of the run so far; final when the run has ended.
///
/// # Safety
/// As [`bm_monitor_update`].
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_monitor_summary(monitor: *mut Handle, summary: *mut Summary) -> Status {
    let call = |borrowed: &mut Borrowed| {
        let joints = borrowed.joints();
        for_joints!(joints, sum_up(borrowed), Err(Status::NotAMonitor))
    };
    // SAFETY: promised by the caller.
    unsafe { answer(monitor, summary, call) }
}

fn sum_up<const N: usize>(borrowed: &mut Borrowed) -> Result<Summary, Status> {
    // SAFETY: `for_joints` chose `N` by the joints.
    let monitor = unsafe { borrowed.monitor::<N>() }?;
    Ok(monitor.summary().into())
}

/// Ends a monitor; its memory is the caller's again.
///
/// # Safety
/// `monitor` is null or a monitor's memory.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn bm_monitor_destroy(monitor: *mut Handle) -> Status {
    // SAFETY: promised by the caller.
    match unsafe { Borrowed::new(monitor.cast()) } {
        Ok(borrowed) => {
            borrowed.destroy();
            Status::Ok
        }
        Err(status) => status,
    }
}

/// A struct of the caller's that begins with its size.
///
/// # Safety
/// A `u32` stands at offset 0 of the type, and nowhere else is read before it is right.
unsafe trait Sized32 {}
// SAFETY: `repr(C)` with `struct_size: u32` as the first field.
unsafe impl Sized32 for Setup {}
// SAFETY: likewise.
unsafe impl Sized32 for Sample {}
// SAFETY: likewise.
unsafe impl Sized32 for Finding {}
// SAFETY: likewise.
unsafe impl Sized32 for Update {}
// SAFETY: likewise.
unsafe impl Sized32 for Summary {}

fn aligned<T>(at: *const T) -> Result<(), Status> {
    if at.is_null() {
        Err(Status::NullPointer)
    } else if !at.is_aligned() {
        Err(Status::Misaligned)
    } else {
        Ok(())
    }
}

/// # Safety
/// `at` is null, misaligned, or points to a `u32`, and to a whole `T` if that is the size of one.
unsafe fn check_size<T: Sized32>(at: *const T) -> Result<(), Status> {
    aligned(at)?;
    // SAFETY: not null, aligned, and promised by the caller.
    let size = unsafe { at.cast::<u32>().read() };
    if usize::try_from(size) == Ok(size_of::<T>()) {
        Ok(())
    } else {
        Err(Status::StructSize)
    }
}

/// # Safety
/// As [`check_size`]; `T` holds nothing of which some bits are unsound.
unsafe fn read_sized<T: Sized32 + Copy>(at: *const T) -> Result<T, Status> {
    // SAFETY: promised by the caller.
    unsafe { check_size(at) }?;
    // SAFETY: checked above and promised by the caller.
    Ok(unsafe { at.read() })
}

/// Writes what `call` says of the monitor to `out`, or nothing.
///
/// # Safety
/// As [`check_size`] for `out` and [`Borrowed::new`] for `monitor`.
unsafe fn answer<T: Sized32>(
    monitor: *mut Handle,
    out: *mut T,
    call: impl FnOnce(&mut Borrowed) -> Result<T, Status>,
) -> Status {
    // SAFETY: promised by the caller.
    if let Err(status) = unsafe { check_size(out.cast_const()) } {
        return status;
    }
    // SAFETY: promised by the caller.
    let answer = match unsafe { Borrowed::new(monitor.cast()) } {
        Ok(mut borrowed) => call(&mut borrowed),
        Err(status) => Err(status),
    };
    match answer {
        Ok(answer) => {
            // SAFETY: not null, aligned and of this size, see above.
            unsafe { out.write(answer) };
            Status::Ok
        }
        Err(status) => status,
    }
}
