//! Counting what became of the runs of a pass.

use std::collections::BTreeMap;

use bolting_monitor::procedure::{Reason, Verdict};

use super::draw::Rehearsed;
use super::faults::Ill;
use super::report::{Counted, Faulty, Part, Sound};
use super::trial::Trial;
use crate::campaign::figures::quantile;
use crate::words::{finding_label, reason_label, reason_name};

fn counted(names: impl Iterator<Item = (&'static str, &'static str)>) -> Vec<Counted> {
    let mut counts: BTreeMap<(&'static str, &'static str), usize> = BTreeMap::new();
    names.for_each(|name| *counts.entry(name).or_default() += 1);
    let mut counted: Vec<Counted> = counts
        .into_iter()
        .map(|((name, words), count)| Counted { name, words, count })
        .collect();
    counted.sort_by_key(|c| std::cmp::Reverse(c.count));
    counted
}

/// What became of the sound bolts.
pub fn sound(at: &Rehearsed<'_>, trials: &[&Trial]) -> Sound {
    let all = || trials.iter().copied();
    let stopped = |t: &&Trial| t.stop().is_some();
    let verdict = |v: Verdict| Part::of(all(), |t| t.verdict == v && !stopped(t));
    let why = all().filter(|t| t.verdict != Verdict::Accepted);
    let u: Vec<f64> = all().filter_map(|t| t.torque_u_nm).collect();
    let torque_u_nm = Some(quantile(u, 0.5)).filter(|u| u.is_finite());
    let window_nm = (at.job.goal.end_nm()).map(|w| 0.5 * f64::from(w.max - w.min));
    let against = |stops: bool| {
        counted(all().flat_map(move |t| {
            let of = t.findings.iter().filter(move |f| f.1 == stops);
            let mut names: Vec<_> = of.map(|f| (f.0.name(), finding_label(f.0))).collect();
            names.retain(|n| !matches!(n.0, "breakaway" | "thread_free"));
            names.sort_unstable();
            names.dedup();
            names
        }))
    };
    Sound {
        accepted: verdict(Verdict::Accepted),
        not_assessable: verdict(Verdict::NotAssessable),
        rejected: verdict(Verdict::Rejected),
        stopped: Part::of(all(), stopped),
        reasons: counted(why.flat_map(|t| {
            t.reasons
                .iter()
                .map(|r| (reason_name(*r), reason_label(*r)))
        })),
        stops: against(true),
        said: against(false),
        observable: Part::of(all(), |t| !t.reasons.contains(&Reason::TorqueNotObservable)),
        snug_found: Part::of(
            all().filter(|t| t.scored.snug_error_deg.is_some() || t.scored.snug_missed),
            |t| !t.scored.snug_missed,
        ),
        torque_u_nm,
        window_nm,
        window_over_u: (window_nm.zip(torque_u_nm)).map(|(w, u)| w / u),
        torque_within_u: Part::of(
            all().filter_map(|t| Some((t.torque_nm?, t.torque_u_nm?))),
            |([told, was], u)| (told - was).abs() <= *u,
        ),
    }
}

/// What became of the bolts with one fault.
pub fn faulty(ill: Ill, trials: &[&Trial]) -> Faulty {
    let began: Vec<&Trial> = trials.iter().copied().filter(|t| t.began).collect();
    let all = || began.iter().copied();
    let harmless = began.iter().all(|t| t.scored.sound) && !began.is_empty();
    let stops: Vec<f64> = (all().filter(|t| t.scored.needs_stop))
        .filter_map(|t| Some(100.0 * t.stopped_at?))
        .collect();
    let at = |p| Some(quantile(stops.clone(), p)).filter(|x: &f64| x.is_finite());
    Faulty {
        fault: ill.name(),
        words: ill.words(),
        harmless,
        began: Part::of(trials.iter(), |t| t.began),
        told: Part::of(all(), |t| t.told()),
        named: Part::of(all(), |t| match ill {
            Ill::Lost => t.reasons.contains(&Reason::MovedBeforeTorque),
            Ill::Fault(_) => t.scored.saying(&t.scored.fault).is_some(),
        }),
        stopped: Part::of(all().filter(|t| t.scored.needs_stop), |t| {
            t.stopped_at.is_some()
        }),
        stop_percent: at(0.5),
        stop_95_percent: at(0.95),
        accepted: Part::of(all(), |t| t.verdict == Verdict::Accepted),
        let_through: Part::of(all(), |t| match t.scored.sound {
            true => t.stop().is_some(),
            false => t.let_through(),
        }),
    }
}
