//! What the counts say, in the trade's words: what in the description to change.
//!
//! Nothing is concluded that was not counted, and nothing of a single run where a difference is claimed.

use bolting_monitor::detect::FindingKind;
use bolting_monitor::procedure::{Goal, Mode, Reason, Verdict};

use super::Options;
use super::draw::Rehearsed;
use super::faults::Ill;
use super::report::{Part, Sound};
use super::trial::Trial;
use crate::words::{finding_label, reason_label, wanting};

/// From the least to the largest of some figures.
fn span(figures: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    figures.fold(None, |span, x| {
        let [low, high] = span.unwrap_or([x; 2]);
        Some([low.min(x), high.max(x)])
    })
}

/// How many, and the interval of their part.
fn sound_bolts(part: Part) -> String {
    let [from, to] = [part.from_percent, part.to_percent].map(|x| x.unwrap_or(0.0));
    format!(
        "{} of {} sound bolts ({from:.0} to {to:.0} %)",
        part.count, part.of
    )
}

/// From one figure to another, or one where they read alike.
fn range([low, high]: [f64; 2], digits: usize) -> String {
    let [low, high] = [low, high].map(|x| format!("{x:.digits$}"));
    if low == high {
        return low;
    }
    format!("{low} to {high}")
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
        told.extend(super::gain::of_missing(missing, trials, ills));
    }
    for ill in ills {
        let with: Vec<&Trial> = (trials.iter())
            .filter(|t| t.ill == Some(*ill) && t.began && !t.scored.sound)
            .collect();
        told.extend(super::through::of_ill(at, *ill, &with, options));
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
pub(super) fn window_key(goal: &Goal) -> &'static str {
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
    let bolts = sound_bolts(part);
    let hit = || (sound.iter()).filter(|t| t.reasons.contains(&reason));
    let between = |of: Option<[f64; 2]>, unit: &str| {
        of.map_or(String::new(), |of| format!(" ({} {unit})", range(of, 2)))
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
            // Further off than any stroke is joined wrong: another rise was taken for snug.
            if off > 0.5 {
                return Some(format!(
                    "{bolts} are found snug outside the window of {first:.2} to {last:.2} turns{}, off by up to {off:.2} turns: what the thread takes before snug is taken for the joint; state run.prevailing_torque_nm",
                    between(told, "turns")
                ));
            }
            format!(
                "{bolts} are found snug outside the window of {first:.2} to {last:.2} turns{}, though they seated within it{}: the angle is off by up to {off:.2} turns; widen run.rundown_tolerance_turns to {:.2}, or state tool.socket_play_deg, tool.ratchet_tooth_deg and tool.windup_nm_per_rad",
                between(told, "turns"),
                between(was, "turns"),
                0.05 * (needed / 0.05).ceil()
            )
        }
        Reason::ElasticAngleOutsideWindow => {
            let was = span(hit().map(|t| t.scenario.bolt.elastic_deg)).unwrap_or([0.0; 2]);
            match (at.holds_elastic(was), job.elastic_rad.map(|e| e.band())) {
                (false, Some(window)) => format!(
                    "{bolts} take {}° from snug to target with friction and joint as stated, the window is {:.0} to {:.0}°: widen run.elastic_tolerance_deg, or state bolt.thread_friction and bolt.head_friction narrower if they are known so",
                    range(was, 0),
                    window.min.to_degrees(),
                    window.max.to_degrees()
                ),
                _ => format!(
                    "{bolts} are found to take another angle from snug to target than the window has, though they truly take {}°: {}",
                    range(was, 0),
                    at.snug_is_off()
                ),
            }
        }
        Reason::NoSnug => format!(
            "{bolts} show no snug point: check run.prevailing_torque_nm against the target torque, and the joint"
        ),
        Reason::TorqueBelowWindow | Reason::TorqueAboveWindow => {
            let was = span(hit().filter_map(|t| Some(t.torque_nm?[1])));
            let window = job
                .goal
                .end_nm()
                .map(|w| [f64::from(w.min), f64::from(w.max)]);
            let truly = was
                .zip(window)
                .is_some_and(|(was, w)| was[0] < w[0] || was[1] > w[1]);
            let what = reason_label(reason);
            let was = between(was, "N·m");
            if truly {
                format!(
                    "{bolts}: {what}; they truly ended there{was}: the hand did not get them to their torque with this tool and stroke, or stops less well than the window asks"
                )
            } else {
                format!(
                    "{bolts}: {what}, though they truly ended in it{was}; the torque is told to ±{:.1} % of the target: widen {}, or state {} as large as they are",
                    figures.torque_u_nm.unwrap_or(0.0) / at.scale_nm().0 * 100.0,
                    window_key(&job.goal),
                    torque_keys(at)
                )
            }
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
        Reason::ThreadNotFree if at.site.is_none() => format!(
            "{bolts}: only an arm that follows the bolt sees its last thread leave: describe the arm, or leave run_out_turns out and judge by breakaway_torque_nm alone"
        ),
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
    let found = format!(
        "{} are {how} for \u{201c}{}\u{201d}: ",
        sound_bolts(part),
        finding_label(kind)
    );
    let key = match kind {
        K::EarlyYield | K::YieldOnset | K::OverAngle | K::Strip => {
            let yields = span(hit().filter_map(|t| t.scenario.bolt.yield_nm));
            let below = yields.filter(|y| y[0] < target);
            let elastic = span(hit().map(|t| t.scenario.bolt.elastic_deg));
            match (below, elastic) {
                (Some([low, _]), _) => format!(
                    "at the low end of the stated friction they yield from {low:.1} N·m on, below the target of {target:.1} N·m: a lower run.target_torque_nm, or bolt.thread_friction and bolt.head_friction no wider than they are"
                ),
                (None, Some(angle)) if at.holds_elastic(angle) => format!(
                    "they truly take {}° from snug to target, within what the description tells: {}",
                    range(angle, 0),
                    at.snug_is_off()
                ),
                (None, Some(angle)) => format!(
                    "they take {}° from snug to target: state the joint or run.elastic_angle_deg with run.elastic_tolerance_deg so that it holds them", range(angle, 0)
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
            format!("their threads run at {} N·m before snug: state run.prevailing_torque_nm so that it holds them", range(level.unwrap_or([0.0; 2]), 2))
        }
        K::EarlySnug | K::LateSnug => {
            let turns = span(hit().map(|t| t.scenario.bolt.rundown_turns)).unwrap_or([0.0; 2]);
            let ([first, last], told) = at.rundown_turns();
            let seat = format!("they seat after {} turns", range(turns, 2));
            let inside = format!("{found}{seat}, within the window of {first:.2} to {last:.2}");
            if told && at.job.fastener.locking.is_none() {
                return format!("{inside}: what the thread takes before snug is taken for the joint, state run.prevailing_torque_nm");
            }
            if told {
                return format!("{inside}: leave room for what the angle is off by, a wider run.rundown_tolerance_turns");
            }
            format!("{seat}: state run.rundown_turns with run.rundown_tolerance_turns so that it holds them")
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
    format!("{found}{key}")
}

impl Rehearsed<'_> {
    /// Whether what the description tells of the angle from snug to target holds these, degrees.
    fn holds_elastic(&self, [low, high]: [f64; 2]) -> bool {
        let told = self.job.expected_run().elastic_rad;
        told.is_some_and(|band| {
            f64::from(band.min.to_degrees()) <= low && high <= f64::from(band.max.to_degrees())
        })
    }

    /// What to state where snug is found in another place than it is.
    fn snug_is_off(&self) -> &'static str {
        if self.job.fastener.locking.is_none() {
            "what the thread takes before snug is not told from the joint; state run.prevailing_torque_nm"
        } else {
            "the angle is off; state tool.windup_nm_per_rad, tool.socket_play_deg and tool.ratchet_tooth_deg, or widen run.elastic_tolerance_deg"
        }
    }
}
