//! Verdicts and findings in plain words, the same wherever they are shown.

mod advice;
mod finding;
mod verdict;

pub use advice::{DEFERENCE, advice, cause, next_step};
use bolting_monitor::fastener::Fault;
pub use finding::{
    finding_label, observable_nm, quantity_name, seen, seen_with, shown_torque_nm, torque_words,
};
pub use verdict::{goal_words, reason_label, reason_name, reason_sentence, wanting};

/// Coverage factor of every ± shown (about 95 %, JCGM 100, 6.3.3).
pub const K: f32 = 2.0;

/// What is impossible or unusual of a fastener, its figures with no more digits than they are known to.
pub fn fault_words(fault: &Fault) -> String {
    [fault.value, fault.limit]
        .iter()
        .fold(fault.to_string(), |words, figure| {
            words.replacen(&format!(" {figure}"), &format!(" {}", number(*figure)), 1)
        })
}

/// Four digits: more than any computed figure is known to.
pub fn number(x: f32) -> String {
    if x == 0.0 || !x.is_finite() {
        return x.to_string();
    }
    let digits = (3 - x.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{x:.digits$}");
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use bolting_monitor::detect::{Cause, Finding, FindingKind, Place, Quantity};
    use bolting_monitor::procedure::Reason;

    use super::*;

    fn kinds() -> Vec<FindingKind> {
        (0..=u8::MAX)
            .filter_map(FindingKind::from_wire_code)
            .collect()
    }

    #[test]
    fn nothing_known_is_left_without_words() {
        assert!(kinds().len() >= 32);
        for kind in kinds() {
            assert!(!finding_label(kind).contains('_'), "{kind:?}");
            assert!(
                !advice::usual_step(kind).contains("look at the curve before"),
                "{kind:?}"
            );
        }
        for code in 0..=u8::MAX {
            if let Some(c) = Cause::from_wire_code(code) {
                assert!(!cause(c).contains("no words"), "{c:?}");
            }
            if let Some(r) = Reason::from_wire_code(code) {
                assert_ne!(reason_name(r), "other", "{r:?}");
                assert!(!reason_label(r).contains("no words"), "{r:?}");
            }
            if let Some(q) = Quantity::from_wire_code(code) {
                assert_ne!(quantity_name(q), "other", "{q:?}");
            }
        }
    }

    #[test]
    fn a_finding_is_told_with_its_figures_its_cause_and_what_to_do() {
        let finding = Finding {
            kind: FindingKind::Strip,
            time_us: 1,
            angle_rad: 1.0,
            torque_nm: 41.0,
            torque_u_nm: 0.5,
            slope_nm_per_rad: -6.5,
            slope_u_nm_per_rad: 0.25,
            advance_ratio: None,
            quantity: Quantity::DropNm,
            value: 5.5,
            limit: 3.0,
            place: None,
            likely: Some(Cause::StrippingThread),
            runner_up: Some(Cause::YieldingBolt),
        };
        assert_eq!(
            seen(&finding),
            "the torque fell while the bolt turned on: it fell by 5.50 N·m, limit 3.00 N·m; torque 41.00 ± 1.00 N·m; slope -6.50 ± 0.50 N·m/rad"
        );
        let placed = |kind, place| {
            let place = Some(place);
            seen(&Finding {
                kind,
                place,
                ..finding
            })
        };
        let frozen = placed(FindingKind::SensorFrozen, Place::Joint(4));
        assert!(frozen.contains("; joint 4, counted from the base; torque"));
        let levers = placed(FindingKind::SideLoad, Place::Relief([0.6, -0.8, 0.0]));
        assert!(levers.contains("by (0.60, -0.80, 0.00) in its own frame"));
        let advice = advice(&finding, &[]);
        assert!(advice.starts_with("most likely a thread shearing, could also be a bolt yielding"));
        assert!(advice.contains("do not retorque") && advice.ends_with(&format!("({DEFERENCE})")));
        let loose = |runner_up| Finding {
            kind: FindingKind::Breakaway,
            likely: None,
            runner_up,
            ..finding
        };
        let in_doubt = super::advice(&loose(Some(Cause::BrokenBolt)), &[]);
        assert!(in_doubt.starts_with("could also be a broken bolt; "));
        assert!(in_doubt.contains("see that the bolt comes out"));
        assert!(super::advice(&loose(None), &[]).starts_with("usual next step: go on; compare"));
    }

    #[test]
    fn what_a_ruined_bolt_does_next_is_not_given_a_cause_of_its_own() {
        let found = |kind, angle_rad| Finding {
            kind,
            time_us: 1,
            angle_rad,
            torque_nm: 14.0,
            torque_u_nm: 0.5,
            slope_nm_per_rad: -6.5,
            slope_u_nm_per_rad: 0.25,
            advance_ratio: None,
            quantity: Quantity::AngleRad,
            value: 1.6,
            limit: 1.5,
            place: None,
            likely: Some(Cause::YieldingBolt),
            runner_up: None,
        };
        let strip = found(FindingKind::Strip, 1.0);
        let side = found(FindingKind::SideLoad, 0.5);
        let far = found(FindingKind::OverAngle, 1.5);
        let after = advice(&far, &[side, strip]);
        assert!(after.starts_with("most likely what follows from “stripping” at 57.3°; "));
        assert!(after.contains("do not retorque"));
        assert!(advice(&far, &[side]).starts_with("most likely a bolt yielding"));
        // A break is told by what it is, whatever gave way before.
        let broken = found(FindingKind::Fracture, 1.5);
        assert!(advice(&broken, &[strip]).starts_with("most likely a bolt yielding"));
    }
}
