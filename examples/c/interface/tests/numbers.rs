//! The numbers that C sees are those of the wire, and have the names that the host writes.

use std::ffi::CStr;

use bolting_monitor::{detect, procedure};
use bolting_monitor_c::*;

/// A name as `call` writes it into 32 bytes.
fn name(
    call: unsafe extern "C" fn(u8, *mut core::ffi::c_char, usize) -> Status,
    number: u8,
) -> Option<String> {
    let mut room = [0x55_u8; BM_NAME_ROOM];
    // SAFETY: a buffer of that size.
    match unsafe { call(number, room.as_mut_ptr().cast(), room.len()) } {
        Status::Ok => {
            let text = CStr::from_bytes_until_nul(&room).expect("ended");
            assert!(text.count_bytes() + 1 < room.len(), "{text:?} may be cut");
            Some(text.to_str().expect("text").to_owned())
        }
        Status::UnknownNumber => None,
        other => panic!("{other:?}"),
    }
}

#[test]
fn numbers_are_those_of_the_wire_and_have_names() {
    for number in 0..=u8::MAX {
        let finding = detect::FindingKind::from_wire_code(number).map(|k| k.name().to_owned());
        assert_eq!(name(bm_finding_name, number), finding);
        let verdict = procedure::Verdict::from_wire_code(number).map(|v| v.name().to_owned());
        assert_eq!(name(bm_verdict_name, number), verdict);
        let reason = procedure::Reason::from_wire_code(number);
        assert_eq!(name(bm_reason_name, number).is_some(), reason.is_some());
        let is_phase = (1..=11).contains(&number);
        assert_eq!(name(bm_phase_name, number).is_some(), is_phase);
    }
    assert_eq!(
        name(bm_phase_name, Phase::RunOut as u8).as_deref(),
        Some("run_out")
    );
    assert_eq!(
        name(bm_reason_name, Reason::NoSnug as u8).as_deref(),
        Some("no_snug")
    );
    // Wherever a number is written out for C, it is the wire's.
    let text = include_str!("../src/numbers.rs");
    let mut checked = 0;
    let mut of = "";
    for line in text.lines() {
        if let Some(rest) = line.strip_prefix("pub enum ") {
            of = rest.trim_end_matches(" {");
        }
        let Some((variant, number)) = line.trim().trim_end_matches(',').split_once(" = ") else {
            continue;
        };
        let Ok(number) = number.parse() else { continue };
        let wire = match of {
            "FindingKind" => detect::FindingKind::from_wire_code(number).map(|x| format!("{x:?}")),
            "Cause" => detect::Cause::from_wire_code(number).map(|x| format!("{x:?}")),
            "Quantity" => detect::Quantity::from_wire_code(number).map(|x| format!("{x:?}")),
            "Verdict" => procedure::Verdict::from_wire_code(number).map(|x| format!("{x:?}")),
            "Reason" => procedure::Reason::from_wire_code(number).map(|x| format!("{x:?}")),
            _ => continue,
        };
        assert_eq!(wire.as_deref(), Some(variant), "{of} {number}");
        checked += 1;
    }
    let on_the_wire = (0..=u8::MAX)
        .map(|n| {
            usize::from(detect::FindingKind::from_wire_code(n).is_some())
                + usize::from(detect::Cause::from_wire_code(n).is_some())
                + usize::from(detect::Quantity::from_wire_code(n).is_some())
                + usize::from(procedure::Verdict::from_wire_code(n).is_some())
                + usize::from(procedure::Reason::from_wire_code(n).is_some())
        })
        .sum::<usize>();
    assert_eq!(
        checked, on_the_wire,
        "a number of the wire is missing for C"
    );
}
