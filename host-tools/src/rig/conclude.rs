//! What the counts say, in the trade's words: what in the description to change.
//!
//! Nothing is concluded that was not counted, and nothing of a single run where a difference is claimed.

use bolting_monitor::detect::FindingKind;
use bolting_monitor::procedure::{Direction as Way, Goal, Mode, Reason, Verdict};

use super::Options;
use super::draw::Rehearsed;
use super::faults::Ill;
use super::missing::Missing;
use super::report::{Part, Sound};
use super::trial::{Brief, Trial};
use crate::campaign::figures::quantile;
use crate::words::{finding_label, reason_label, wanting};

/// From the least to the largest of some figures.
fn span(figures: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    figures.fold(None, |span, x| {
        let [low, high] = span.unwrap_or([x; 2]);
        Some([low.min(x), high.max(x)])
    })
}

/// Conclusions of a pass.
pub fn conclusions(
    at: &Rehearsed<'_>,
    trials: &[Trial],
    sound: &Sound,
    ills: &[Ill],
    options: &Options,
) -> Vec<String> {
    let of_sound: Vec<&Trial> = trials.iter().filter(|t| t.ill.is_none()).collect();
    let mut told = Vec::new();
    told.extend(window(sound));
    let mut reasons: Vec<Reason> = Vec::new();
    for t in of_sound.iter().filter(|t| t.verdict != Verdict::Accepted) {
        for reason in &t.reasons {
            if !reasons.contains(reason) {
                reasons.push(*reason);
            }
        }
    }
    for reason in reasons {
        let with = |t: &&&Trial| t.verdict != Verdict::Accepted && t.reasons.contains(&reason);
        let part = Part::of(&of_sound, with);
        told.extend(of_reason(at, reason, part, &of_sound, sound));
    }
    for stops in [true, false] {
        let list = if stops { &sound.stops } else { &sound.said };
        for counted in list {
            let has = |t: &&&Trial| {
                (t.findings.iter()).any(|f| f.1 == stops && f.0.name() == counted.name)
                    && t.verdict != Verdict::Accepted
            };
            let part = Part::of(&of_sound, has);
            let kind =
                (of_sound.iter().flat_map(|t| &t.findings)).find(|f| f.0.name() == counted.name);
            if let (Some((kind, _)), false) = (kind, part.none()) {
                told.push(of_finding(at, *kind, stops, part, &of_sound));
            }
        }
    }
    for missing in at.missing() {
        told.extend(of_missing(missing, trials, ills));
    }
    for ill in ills {
        let with: Vec<&Trial> = (trials.iter())
            .filter(|t| t.ill == Some(*ill) && t.began && !t.scored.sound)
            .collect();
        told.extend(of_ill(at, *ill, &with, options));
    }
    told
}

fn window(sound: &Sound) -> Option<String> {
    let (window, u, ratio) = (sound.window_nm?, sound.torque_u_nm?, sound.window_over_u?);
    (ratio < 1.0).then(|| {
        format!(
            "the torque window of ±{window:.2} N·m is narrower than the uncertainty of ±{u:.2} N·m (k = 2) that the description leaves"
        )
    })
}

/// The key that says how wide the torque window is.
fn window_key(goal: &Goal) -> &'static str {
    match goal {
        Goal::Torque { .. } => "torque_tolerance_percent",
        Goal::Loosen { .. } => "breakaway_torque_nm",
        Goal::Recheck { .. } => "target_torque_nm (of the check)",
        _ => "end_torque_nm",
    }
}

/// What the torque's uncertainty is made of, as keys.
fn torque_keys(at: &Rehearsed<'_>) -> &'static str {
    match at.job.mode {
        Mode::PoweredSpindle => {
            "spindle.torque_u_percent, spindle.torque_zero_u_nm and spindle.torque_noise_nm"
        }
        Mode::WristStrokes => {
            "arm.coulomb_friction_u_nm, arm.torque_zero_u_nm and arm.joint_torque_noise_nm"
        }
    }
}

fn of_reason(
    at: &Rehearsed<'_>,
    reason: Reason,
    part: Part,
    sound: &[&Trial],
    figures: &Sound,
) -> Option<String> {
    let job = at.job;
    let bolts = format!("{part} sound bolts");
    let hit = || (sound.iter()).filter(|t| t.reasons.contains(&reason));
    let between = |of: Option<[f64; 2]>, unit: &str| {
        of.map_or(String::new(), |[a, b]| {
            format!(" ({a:.2} to {b:.2} {unit})")
        })
    };
    let text = match reason {
        // Told with the finding.
        Reason::FindingStands | Reason::FindingAgainst => return None,
        Reason::UncertaintyTooLarge => format!(
            "{bolts} cannot be assessed, the torque is too unsure against its window: widen {}, or state {} as small as they are known",
            window_key(&job.goal),
            torque_keys(at)
        ),
        Reason::TorqueNotObservable => format!(
            "{bolts}: the torque cannot be told from the joints where the arm stands: another bolt_axis or tool.axis (a tool along the last joint), or a spindle that reads it"
        ),
        Reason::AngleUncertaintyTooLarge => {
            let key = wanting(reason, job)
                .map_or_else(|| "widen the window of the angle".to_owned(), str::to_owned);
            format!("{bolts} cannot be assessed, the angle is too unsure against its window: {key}")
        }
        Reason::SnugOutsideWindow => {
            let ([first, last], _) = at.rundown_turns();
            let told = span(hit().filter_map(|t| t.snug_turns));
            let was = span(hit().map(|t| t.scenario.bolt.rundown_turns));
            let off =
                hit().filter_map(|t| Some((t.snug_turns? - t.scenario.bolt.rundown_turns).abs()));
            let off = span(off).map_or(0.0, |[_, most]| most);
            let needed = 0.5 * (last - first) + off;
            format!(
                "{bolts} are found snug outside the window of {first:.2} to {last:.2} turns{}, though they seated within it{}: the angle is off by up to {off:.2} turns; widen run.rundown_tolerance_turns to {:.2}, or state tool.socket_play_deg, tool.ratchet_tooth_deg and tool.windup_nm_per_rad",
                between(told, "turns"),
                between(was, "turns"),
                0.05 * (needed / 0.05).ceil()
            )
        }
        Reason::ElasticAngleOutsideWindow => {
            let window = job.elastic_rad.map(|e| e.band());
            let window = window.map_or(String::new(), |w| {
                format!(
                    " of {:.0} to {:.0}°",
                    w.min.to_degrees(),
                    w.max.to_degrees()
                )
            });
            let was = span(sound.iter().map(|t| t.scenario.bolt.elastic_deg));
            let was = was.map_or(String::new(), |[a, b]| format!("{a:.0} to {b:.0}°"));
            format!(
                "{bolts} take another angle from snug to target than the window{window}: with friction and joint as stated it is {was}; widen run.elastic_tolerance_deg, or state bolt.thread_friction and bolt.head_friction narrower if they are known so"
            )
        }
        Reason::NoSnug => format!(
            "{bolts} show no snug point: check run.prevailing_torque_nm against the target torque, and the joint"
        ),
        Reason::TorqueBelowWindow | Reason::TorqueAboveWindow => {
            let was = span(sound.iter().map(|t| {
                100.0
                    * (t.scored.target_nm - t.torque_nm.map_or(t.scored.target_nm, |x| x[1])).abs()
                    / t.scored.target_nm
            }));
            format!(
                "{bolts}: {}; they truly ended within {:.1} % of the target, the torque is told to ±{:.1} % of it: widen {}, or hold it against a steadier tool",
                reason_label(reason),
                was.map_or(0.0, |w| w[1]),
                figures.torque_u_nm.unwrap_or(0.0) / at.scale_nm().0 * 100.0,
                window_key(&job.goal)
            )
        }
        Reason::NoTarget => {
            format!("{bolts} are watched only: state run.target_torque_nm to have them judged")
        }
        Reason::UndoingNotJudged => format!(
            "{bolts} are undone with nothing to hold them against: state breakaway_torque_nm or run_out_turns, and recorded_torque_nm"
        ),
        Reason::BreakawayBelowWindow | Reason::BreakawayAboveWindow | Reason::NoBreakaway => {
            let loose = span(
                sound
                    .iter()
                    .filter_map(|t| Some(t.scenario.bolt.target_nm * t.scored.breakaway_part?)),
            );
            format!(
                "{bolts}: {}; with the stated friction they break loose{}: state breakaway_torque_nm so",
                reason_label(reason),
                between(loose, "N·m")
            )
        }
        Reason::FreeTooSoon | Reason::FreeTooLate | Reason::ThreadNotFree => {
            let free = span(hit().filter_map(|t| Some(t.scored.free_deg? / 360.0)));
            format!(
                "{bolts}: {}; the last thread truly leaves{}: widen run_out_tolerance_turns, or state what the angle over strokes needs (tool.socket_play_deg, tool.ratchet_tooth_deg)",
                reason_label(reason),
                between(free, "turns")
            )
        }
        Reason::MovedBeforeTorque => {
            let moved = span(sound.iter().map(|t| t.end_deg[1]));
            format!(
                "{bolts} move while they are checked, by up to {:.1}°: a joint that has embedded since turns on a little; widen most_angle_deg, or check at a lower target_torque_nm",
                moved.map_or(0.0, |m| m[1])
            )
        }
        Reason::JointsDisagree | Reason::SensingInDoubt => format!(
            "{bolts}: {}; the arm is further off than a monitor made from its figures allows: state arm.coulomb_friction_u_nm, arm.torque_zero_u_nm and arm.mass_u_percent as large as they are",
            reason_label(reason)
        ),
        _ => format!("{bolts}: {}", reason_label(reason)),
    };
    Some(text)
}

fn of_finding(
    at: &Rehearsed<'_>,
    kind: FindingKind,
    stops: bool,
    part: Part,
    sound: &[&Trial],
) -> String {
    use FindingKind as K;
    let hit = || {
        sound
            .iter()
            .filter(|t| t.findings.iter().any(|f| f.0 == kind))
    };
    let target = at.scale_nm().0;
    let how = if stops { "stopped" } else { "held against" };
    let key = match kind {
        K::EarlyYield | K::YieldOnset | K::OverAngle | K::Strip => {
            let yields = span(hit().filter_map(|t| t.scenario.bolt.yield_nm));
            let below = yields.filter(|y| y[0] < target);
            let elastic = span(hit().map(|t| t.scenario.bolt.elastic_deg));
            match (below, elastic) {
                (Some([low, _]), _) => format!(
                    "at the low end of the stated friction they yield from {low:.1} N·m on, below the target of {target:.1} N·m: a lower run.target_torque_nm, or bolt.thread_friction and bolt.head_friction no wider than they are"
                ),
                (None, Some([a, b])) => format!(
                    "they take {a:.0} to {b:.0}° from snug to target: state the joint or run.elastic_angle_deg with run.elastic_tolerance_deg so that it holds them"
                ),
                (None, None) => "see the forecast".to_owned(),
            }
        }
        K::CrossThread | K::Galling | K::PrevailingHigh | K::PrevailingLow | K::FalseSnug
        | K::NotStarted | K::AlreadyTight | K::StickSlip => {
            let level = span(hit().map(|t| {
                let bolt = &t.scenario.bolt;
                bolt.running_nm + bolt.locking.as_ref().map_or(0.0, |l| l.torque_nm)
            }));
            let [a, b] = level.unwrap_or([0.0; 2]);
            format!("their threads run at {a:.2} to {b:.2} N·m before snug: state run.prevailing_torque_nm so that it holds them")
        }
        K::EarlySnug | K::LateSnug => {
            let [a, b] = span(hit().map(|t| t.scenario.bolt.rundown_turns)).unwrap_or([0.0; 2]);
            format!("they seat after {a:.2} to {b:.2} turns: state run.rundown_turns with run.rundown_tolerance_turns so that it holds them")
        }
        K::SideLoad => "the hand's own tilt is held for levering: state tool.side_moment_limit_nm and tool.length_m".to_owned(),
        K::SensorSaturated => "a joint torque stands at the end of arm.joint_torque_range_nm: another pose, or an arm that can carry it".to_owned(),
        K::TorqueNotObservable => "another bolt_axis or tool.axis, or a spindle that reads the torque".to_owned(),
        K::JointsDisagree | K::SensorDrift | K::SensorFrozen => {
            "the arm is further off than its figures say: state arm.coulomb_friction_u_nm, arm.torque_zero_u_nm and arm.mass_u_percent as large as they are".to_owned()
        }
        K::OverTorque | K::UnderTorque => format!(
            "the torque is told to one side of its window: widen {}",
            window_key(&at.job.goal)
        ),
        _ => "look at these runs (--out)".to_owned(),
    };
    format!(
        "{part} sound bolts are {how} for \u{201c}{}\u{201d}: {key}",
        finding_label(kind)
    )
}

/// More went right with the key than without, beyond chance: the sign test on runs that differ, 95 %.
fn clearly(better: usize, worse: usize) -> bool {
    let (b, w) = (better as f64, worse as f64);
    b - w > 1.96 * (b + w).sqrt()
}

/// What stating one more key would change, on the same runs.
fn of_missing(missing: Missing, trials: &[Trial], ills: &[Ill]) -> Option<String> {
    let pairs = |of: &dyn Fn(&Trial) -> bool| -> Vec<(Brief, Brief)> {
        (trials.iter().filter(|t| of(t)))
            .filter_map(|t| Some((t.brief(), t.with.iter().find(|w| w.0 == missing)?.1)))
            .collect()
    };
    let changed = |pairs: &[(Brief, Brief)], is: fn(&Brief) -> bool| {
        let count = |a: bool| {
            pairs
                .iter()
                .filter(|(old, new)| is(old) != a && is(new) == a)
                .count()
        };
        [count(true), count(false)]
    };
    let mut gains = Vec::new();
    let sound = pairs(&|t| t.ill.is_none());
    let [more, fewer] = changed(&sound, |b| b.accepted);
    if clearly(more, fewer) {
        gains.push(format!(
            "{} more of {} sound bolts would be accepted",
            more - fewer,
            sound.len()
        ));
    }
    let faulty = pairs(&|t| t.ill.is_some() && t.began && !t.scored.sound);
    let [more, fewer] = changed(&faulty, |b| b.let_through);
    if clearly(fewer, more) {
        gains.push(format!(
            "{} fewer of {} faulty ones would go through",
            fewer - more,
            faulty.len()
        ));
    }
    for ill in ills {
        let of_ill = pairs(&|t| t.ill == Some(*ill) && t.began && t.scored.needs_stop);
        let both: Vec<[f64; 2]> = (of_ill.iter())
            .filter_map(|(old, new)| Some([old.stopped_at?, new.stopped_at?]))
            .collect();
        let sooner = both.iter().filter(|[old, new]| new + 0.01 < *old).count();
        let later = both.iter().filter(|[old, new]| old + 0.01 < *new).count();
        if clearly(sooner, later) {
            let median = |i: usize| 100.0 * quantile(both.iter().map(|b| b[i]).collect(), 0.5);
            gains.push(format!(
                "a {} would be stopped at {:.0} % of the target instead of {:.0} % (median)",
                ill.words(),
                median(1),
                median(0)
            ));
        }
    }
    (!gains.is_empty()).then(|| {
        format!(
            "{} is not stated: with the figure of these bolts {}",
            missing.key(),
            gains.join(", ")
        )
    })
}

fn of_ill(at: &Rehearsed<'_>, ill: Ill, with: &[&Trial], options: &Options) -> Option<String> {
    let through = Part::of(with, |t| t.let_through());
    // One alone may be chance.
    if through.count < 2 || through.share_percent() <= options.allow_percent {
        return None;
    }
    let accepted = Part::of(with, |t| t.verdict == Verdict::Accepted);
    let unstopped = with
        .iter()
        .filter(|t| t.scored.needs_stop && t.stopped_at.is_none());
    let how = match (accepted.count, unstopped.count()) {
        (0, n) => format!("{n} were turned on until the hand stopped by itself"),
        (n, 0) => format!("{n} were accepted"),
        (n, m) => format!("{n} were accepted, {m} turned on until the hand stopped by itself"),
    };
    Some(format!(
        "{}: {through} went through, {how}; {}",
        ill.words(),
        remedy(at, ill)
    ))
}

/// What in the description lets a fault pass.
fn remedy(at: &Rehearsed<'_>, ill: Ill) -> String {
    use crate::simulate::FaultKind as F;
    let job = at.job;
    let Ill::Fault(kind) = ill else {
        return "check at a torque nearer to what the bolt was given, or allow less angle"
            .to_owned();
    };
    let by_eye = "nothing in the description tells it: see to it by other means";
    let ([first, last], told) = at.rundown_turns();
    let no_arm = at.site.is_none();
    match kind {
        F::CrossThread | F::Galling | F::NotStarted | F::PrevailingHigh | F::PrevailingLow
            if job.fastener.locking.is_none() =>
        {
            "run.prevailing_torque_nm is not stated".to_owned()
        }
        F::CrossThread | F::NotStarted | F::ToolLifting if no_arm => {
            "without an arm the advance along the thread is not seen".to_owned()
        }
        F::Debris | F::Bottoming | F::MissingPart | F::FalseSnug if told => format!(
            "snug may come between {first:.2} and {last:.2} turns: state run.rundown_tolerance_turns no wider than it is"
        ),
        F::Strip | F::Yield | F::Fracture | F::OverAngle => match job.expected_run().elastic_rad {
            Some(band) => format!(
                "the angle from snug to target may be {:.0} to {:.0}°: state the joint, or run.elastic_tolerance_deg no wider than it is",
                band.min.to_degrees(),
                band.max.to_degrees()
            ),
            None => {
                "no angle from snug to target is told: state the joint or run.elastic_angle_deg"
                    .to_owned()
            }
        },
        F::UnderTorque | F::OverTorque => format!("{} is wide", window_key(&job.goal)),
        _ if job.goal.direction() == Way::Undo
            && matches!(
                job.goal,
                Goal::Loosen {
                    breakaway_nm: None,
                    ..
                }
            ) =>
        {
            "breakaway_torque_nm is not stated".to_owned()
        }
        _ => by_eye.to_owned(),
    }
}
