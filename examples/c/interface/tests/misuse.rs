//! Every status is reached by the misuse that it names.
#![allow(
    clippy::multiple_unsafe_ops_per_block,
    reason = "calls that are alike, made wrong on purpose"
)]

mod common;

use core::mem::MaybeUninit;
use core::ptr::null_mut;
use std::collections::BTreeSet;
use std::ffi::CStr;

use bolting_monitor::procedure::Turn;
use bolting_monitor_c::*;
use common::{Memory, blob, create, plan, sample, setup, summary, update};

fn statuses() -> impl Iterator<Item = Status> {
    (0..).map_while(Status::from_number)
}

#[test]
fn every_status_has_its_number_and_its_own_text() {
    let texts: BTreeSet<_> = statuses().map(Status::text).collect();
    assert_eq!(texts.len(), statuses().count());
    assert_eq!(statuses().last(), Some(Status::UnknownNumber));
    for (number, status) in statuses().enumerate() {
        assert_eq!(status as usize, number);
        // SAFETY: a static text.
        let told = unsafe { CStr::from_ptr(bm_error_text(number as i32)) };
        assert_eq!(told, status.text());
    }
    for other in [-1, statuses().count() as i32, i32::MIN, i32::MAX] {
        // SAFETY: a static text.
        let told = unsafe { CStr::from_ptr(bm_error_text(other)) };
        assert_eq!(told, c"no status of this version");
    }
}

#[test]
fn null_is_answered_everywhere() {
    let blob = blob(&plan(0));
    let good = setup(&blob);
    let mut memory = Memory::new();
    let room = size_of::<Memory>();
    let mut monitor = null_mut();
    // SAFETY: null is allowed everywhere; the rest is sound.
    unsafe {
        assert_eq!(
            bm_monitor_create(null_mut(), room, &good, &raw mut monitor),
            Status::NullPointer
        );
        assert_eq!(
            bm_monitor_create(memory.at(), room, null_mut(), &raw mut monitor),
            Status::NullPointer
        );
        assert_eq!(
            bm_monitor_create(memory.at(), room, &good, null_mut()),
            Status::NullPointer
        );
        assert_eq!(bm_sample_init(null_mut(), 0), Status::NullPointer);
        assert_eq!(bm_monitor_destroy(null_mut()), Status::NullPointer);
    }
    let bad = Setup {
        plan: core::ptr::null(),
        ..good
    };
    assert_eq!(create(&mut memory, &bad), Err(Status::NullPointer));
    let monitor = create(&mut memory, &good).expect("sound");
    assert_eq!(update(null_mut(), &sample(0)), Err(Status::NullPointer));
    assert_eq!(summary(null_mut()), Err(Status::NullPointer));
    // SAFETY: null is allowed everywhere.
    unsafe {
        assert_eq!(
            bm_monitor_update(monitor, &sample(0), null_mut()),
            Status::NullPointer
        );
        assert_eq!(
            bm_monitor_update(monitor, null_mut(), null_mut()),
            Status::NullPointer
        );
        assert_eq!(
            bm_monitor_silence(monitor, 0, null_mut()),
            Status::NullPointer
        );
        assert_eq!(bm_finding_name(1, null_mut(), 7), Status::Ok);
    }
}

#[test]
fn misaligned_pointers_are_answered() {
    let blob = blob(&plan(0));
    let good = setup(&blob);
    let mut memory = Memory::new();
    let odd = memory.at().wrapping_byte_add(1);
    let mut monitor = core::ptr::null_mut();
    // SAFETY: misaligned, which is answered before anything is read.
    unsafe {
        assert_eq!(
            bm_monitor_create(odd, BM_MONITOR_ROOM, &good, &raw mut monitor),
            Status::Misaligned
        );
        assert_eq!(
            bm_monitor_create(memory.at(), BM_MONITOR_ROOM, odd.cast(), &raw mut monitor),
            Status::Misaligned
        );
        assert_eq!(
            bm_monitor_create(memory.at(), BM_MONITOR_ROOM, &good, odd.cast()),
            Status::Misaligned
        );
        assert_eq!(bm_sample_init(odd.cast(), 0), Status::Misaligned);
        assert_eq!(bm_monitor_destroy(odd.cast()), Status::Misaligned);
        assert_eq!(
            bm_monitor_update(odd.cast(), odd.cast(), odd.cast()),
            Status::Misaligned
        );
    }
}

#[test]
fn a_wrong_size_or_version_is_answered() {
    let blob = blob(&plan(0));
    let good = setup(&blob);
    let mut memory = Memory::new();
    for struct_size in [0, good.struct_size - 1, good.struct_size + 8, u32::MAX] {
        let bad = Setup {
            struct_size,
            ..good
        };
        assert_eq!(create(&mut memory, &bad), Err(Status::StructSize));
    }
    let bad = Setup {
        abi_version: bm_abi_version() + 1,
        ..good
    };
    assert_eq!(create(&mut memory, &bad), Err(Status::AbiVersion));
    let monitor = create(&mut memory, &good).expect("sound");
    let bad = Sample {
        struct_size: 151,
        ..sample(0)
    };
    assert_eq!(update(monitor, &bad), Err(Status::StructSize));
    let mut unsized_out = [0_u64; BM_UPDATE_SIZE / 8];
    let out = unsized_out.as_mut_ptr();
    // SAFETY: room for either struct, zeros.
    unsafe {
        assert_eq!(
            bm_monitor_update(monitor, &sample(0), out.cast()),
            Status::StructSize
        );
        assert_eq!(
            bm_monitor_silence(monitor, 0, out.cast()),
            Status::StructSize
        );
        assert_eq!(bm_monitor_summary(monitor, out.cast()), Status::StructSize);
    }
    assert_eq!(
        unsized_out,
        [0; BM_UPDATE_SIZE / 8],
        "nothing may be written"
    );
}

#[test]
fn too_little_memory_is_answered() {
    let mut memory = Memory::new();
    for joints in [0, 6, 7] {
        let blob = blob(&plan(joints));
        let good = setup(&blob);
        let needed = bm_monitor_size(joints as u8);
        assert!(needed <= BM_MONITOR_ROOM);
        let mut monitor = core::ptr::null_mut();
        for room in [0, 1, needed - 1] {
            // SAFETY: that much memory and more.
            let status = unsafe { bm_monitor_create(memory.at(), room, &good, &raw mut monitor) };
            assert_eq!(
                status,
                Status::MemoryTooSmall,
                "{joints} joints, {room} bytes"
            );
        }
        // SAFETY: that much memory and more.
        let status = unsafe { bm_monitor_create(memory.at(), needed, &good, &raw mut monitor) };
        assert_eq!(status, Status::Ok);
    }
}

#[test]
fn joints_are_held_to_the_plan_and_the_build() {
    let mut memory = Memory::new();
    let built: Vec<u8> = (0..=u8::MAX).filter(|&n| bm_monitor_size(n) > 0).collect();
    let expected: &[u8] = if cfg!(feature = "any-joints") {
        &[0, 1, 2, 3, 4, 5, 6, 7, 8]
    } else {
        &[0, 6, 7]
    };
    assert_eq!(built, expected);
    for joints in 0..=8 {
        let blob = blob(&plan(joints));
        let made = create(&mut memory, &setup(&blob));
        if built.contains(&(joints as u8)) {
            let monitor = made.expect("built");
            assert_eq!(
                update(monitor, &sample(joints as u32)).map(|u| u.permitted),
                Ok(true)
            );
            for other in [joints as u32 + 1, 9, u32::MAX] {
                assert_eq!(update(monitor, &sample(other)), Err(Status::JointsDiffer));
            }
        } else {
            assert_eq!(made, Err(Status::JointsNotBuilt));
        }
    }
}

#[test]
fn memory_without_a_monitor_is_answered() {
    let blob = blob(&plan(0));
    let good = setup(&blob);
    let mut memory = Memory::new();
    let at = |memory: &mut Memory| memory.at().cast::<Handle>();
    for fill in [0x00, 0x55, 0xff] {
        memory.0.fill(MaybeUninit::new(fill));
        assert_eq!(
            update(at(&mut memory), &sample(0)),
            Err(Status::NotAMonitor)
        );
    }
    create(&mut memory, &good).expect("sound");
    // A copy of a monitor is none.
    let mut copy = Memory::new();
    copy.0 = memory.0;
    assert_eq!(update(at(&mut copy), &sample(0)), Err(Status::NotAMonitor));
    // A refused plan leaves none behind.
    let bad = Setup { bolt: 9, ..good };
    assert_eq!(create(&mut memory, &bad), Err(Status::NoSuchTurn));
    assert_eq!(
        update(at(&mut memory), &sample(0)),
        Err(Status::NotAMonitor)
    );
    // A destroyed one is none.
    let monitor = create(&mut memory, &good).expect("sound");
    // SAFETY: a monitor, and then its memory.
    unsafe {
        assert_eq!(bm_monitor_destroy(monitor), Status::Ok);
        assert_eq!(bm_monitor_destroy(monitor), Status::NotAMonitor);
    }
    assert_eq!(summary(monitor), Err(Status::NotAMonitor));
}

#[test]
fn a_monitor_in_use_is_answered() {
    let blob = blob(&plan(0));
    let mut memory = Memory::new();
    let monitor = create(&mut memory, &setup(&blob)).expect("sound");
    // The byte behind the mark, as a call that was interrupted would leave it.
    memory.0[size_of::<usize>()] = MaybeUninit::new(1);
    let monitor_again = memory.at().cast::<Handle>();
    assert_eq!(monitor_again, monitor);
    assert_eq!(update(monitor_again, &sample(0)), Err(Status::Busy));
    // SAFETY: a monitor's memory.
    assert_eq!(unsafe { bm_monitor_destroy(monitor_again) }, Status::Busy);
    memory.0[size_of::<usize>()] = MaybeUninit::new(0);
    let monitor_again = memory.at().cast::<Handle>();
    assert!(update(monitor_again, &sample(0)).is_ok());
    assert!(
        update(monitor_again, &sample(0)).is_ok(),
        "a call must end its borrow"
    );
}

#[test]
fn unknown_flags_are_answered() {
    let blob = blob(&plan(0));
    let mut memory = Memory::new();
    let monitor = create(&mut memory, &setup(&blob)).expect("sound");
    for bit in 0..32 {
        let odd = Sample {
            flags: 1 << bit,
            ..sample(0)
        };
        let expected = if bit < 7 {
            Ok(())
        } else {
            Err(Status::UnknownFlag)
        };
        assert_eq!(update(monitor, &odd).map(|_| ()), expected, "bit {bit}");
    }
    let odd = Setup {
        reserved: [0, 0, 0, 0, 0, 1],
        ..setup(&blob)
    };
    assert_eq!(create(&mut memory, &odd), Err(Status::UnknownFlag));
}

#[test]
fn a_bad_plan_is_answered_in_words() {
    let mut memory = Memory::new();
    let mut why = [0x55_u8; 200];
    let mut refused = |bytes: &[u8], room: usize| {
        let mut bad = setup(bytes);
        bad.why = why.as_mut_ptr().cast();
        bad.why_room = room;
        let status = create(&mut memory, &bad).expect_err("unsound");
        let text = CStr::from_bytes_until_nul(&why)
            .expect("ended")
            .to_str()
            .expect("text");
        (status, text.to_owned())
    };
    let good = blob(&plan(7));
    let (status, text) = refused(&good[..good.len() - 1], 200);
    assert_eq!(
        (status, text.contains("CRC")),
        (Status::PlanDamaged, true),
        "{text}"
    );
    let sealed = |body: &[u8]| {
        let crc = bolting_monitor::wire::crc32(body);
        [body, &crc.to_le_bytes()].concat()
    };
    let mut other = good[..good.len() - 4].to_vec();
    other[0] = 9;
    let (status, text) = refused(&sealed(&other), 200);
    assert_eq!(
        (status, text.contains("version 9")),
        (Status::PlanVersion, true),
        "{text}"
    );
    // Sound but for one joint's axis, and as the host would never write it.
    let mut unsound = plan(7);
    unsound.arm.as_mut().expect("an arm").joints[3].axis = [0.0; 3];
    let mut body = vec![good[0]];
    body.extend(postcard_bytes(&unsound));
    let (status, text) = refused(&sealed(&body), 200);
    assert_eq!(status, Status::PlanUnsound);
    assert!(text.contains("joint 4 \"joint 4\": axis is zero"), "{text}");
    let (_, cut) = refused(&sealed(&body), 9);
    assert_eq!(cut, text[..8], "cut where the room ends");
    // An arm is asked for, none is there.
    let mut no_arm = plan(7);
    no_arm.arm = None;
    let mut body = vec![good[0]];
    body.extend(postcard_bytes(&no_arm));
    let (status, text) = refused(&sealed(&body), 200);
    assert_eq!(
        (status, text.contains("describes no arm")),
        (Status::PlanUnsound, true),
        "{text}"
    );
}

fn postcard_bytes(plan: &bolting_monitor::wire::Plan) -> Vec<u8> {
    let mut room = vec![0; 4096];
    postcard::to_slice(plan, &mut room).expect("room").to_vec()
}

#[test]
fn a_turn_or_a_length_that_is_none_is_answered() {
    let blob = blob(&plan(0));
    let good = setup(&blob);
    let mut memory = Memory::new();
    for (pass, bolt) in [(1, 0), (0, 1), (255, 255)] {
        let turn = Setup { pass, bolt, ..good };
        assert_eq!(create(&mut memory, &turn), Err(Status::NoSuchTurn));
    }
    assert_eq!(
        plan(0)
            .procedure
            .job(&plan(0).job, Turn { pass: 0, bolt: 1 }),
        None
    );
    for plan_length in [0, usize::MAX, isize::MAX as usize + 1] {
        let bad = Setup {
            plan_length,
            ..good
        };
        assert_eq!(create(&mut memory, &bad), Err(Status::BadLength));
    }
}
