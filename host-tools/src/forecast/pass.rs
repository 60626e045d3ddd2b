//! Figures of one pass: what this torque makes of the bolt, or what undoing it takes.

use std::f32::consts::TAU;

use bolting_monitor::fastener::{Band, Forecast, Joint, Locking};
use bolting_monitor::procedure::{BoltJob, Direction, Expected, Goal};

use super::figure::{Figure, Untold};
use crate::description::Stated;
use crate::description::origin::{self, STATED};

/// What detectors and judge go by in this pass: stated figures before computed ones.
pub fn forecast(job: &BoltJob) -> Forecast {
    let run = job.expected_run();
    let rate = run
        .most_rate_nm_per_rad
        .map(|most| Band::new(run.least_rate_nm_per_rad, most));
    // What an undone bolt was done up with tells what it takes to undo it.
    let computed = Forecast::of(&job.fastener, done_up_nm(job));
    Forecast {
        snug_rad: run
            .earliest_snug_rad
            .zip(run.latest_snug_rad)
            .map(|(earliest, latest)| Band::new(earliest, latest)),
        elastic_rate_nm_per_rad: rate,
        elastic_rad: run.elastic_rad.or(computed.elastic_rad),
        ..computed
    }
}

/// Torque that clamps the joint at the end of the pass, or before it where it undoes, N·m.
fn done_up_nm(job: &BoltJob) -> Option<f32> {
    match job.goal.direction() {
        Direction::Tighten => job.goal.target_nm(),
        Direction::Undo => match job.goal {
            Goal::Loosen { recorded_nm, .. } => recorded_nm.or(job.carried_nm),
            _ => job.carried_nm,
        },
    }
}

/// Every figure of the pass that the description tells.
pub fn figures(job: &BoltJob, stated: &Stated) -> Vec<Figure> {
    let forecast = forecast(job);
    let mut figures = goal(job);
    if let Some(carried_nm) = job.carried_nm {
        figures.push(
            Figure::exact(
                ["carried_torque", "torque carried already"],
                carried_nm,
                "N·m",
            )
            .from(if stated.has("run.carried_torque_nm") {
                STATED
            } else {
                "the passes before"
            }),
        );
    }
    let middle = matches!(job.goal, Goal::TorqueThenAngle { .. } | Goal::Yield { .. });
    figures.extend(job.goal.target_nm().filter(|_| middle).map(|nm| {
        let name = ["reckoned_torque", "torque reckoned with below"];
        Figure::exact(name, nm, "N·m")
            .by("middle of the torque at the end")
            .from("this library's own choice")
    }));
    figures.extend(forecast.prevailing_nm.map(|band| {
        Figure::band(["prevailing_torque", "prevailing torque"], band, "N·m")
            .from(origin::prevailing(job.fastener.locking))
    }));
    let undone = job.goal.direction() == Direction::Undo;
    // Run off, a locking nut tells whether it may be used again.
    let locks = match job.fastener.locking {
        Some(Locking::Standard { .. }) => true,
        Some(Locking::Stated(band)) => band.min > 0.0,
        Some(Locking::Free) | None => false,
    };
    let reuse_nm = (job.fastener.thread.reuse_min_nm()).filter(|_| undone && locks);
    figures.extend(reuse_nm.map(|nm| {
        let name = [
            "reuse_torque",
            "least torque that the nut must take to be used again",
        ];
        Figure::exact(name, nm, "N·m").from(origin::REUSE)
    }));
    if !undone && job.carried_nm.is_none() {
        figures.extend(rundown(&forecast, stated));
    }
    if !undone {
        figures.extend(elastic(job, &forecast));
    }
    figures.extend(forecast.breakaway_nm.map(|band| {
        Figure::band(
            ["breakaway_torque", "torque that breaks it loose again"],
            band,
            "N·m",
        )
        .by("T·(k − P/π)/k, prevailing torque both ways")
        .from("long form of VDI 2230 turned back: same friction, no relaxation, no seizure")
    }));
    if undone
        && !matches!(
            job.goal,
            Goal::Loosen {
                run_out_rad: Some(_),
                ..
            }
        )
    {
        figures.extend(forecast.run_out_turns.map(|turns| {
            Figure::exact(
                ["run_out", "turns until the last thread is free"],
                turns,
                "turns",
            )
            .by("length in mesh/P")
            .from("geometry, no source")
        }));
    }
    figures
}

/// What the goal states.
fn goal(job: &BoltJob) -> Vec<Figure> {
    let stated = |figure: Figure| figure.from(STATED);
    let end = |band| {
        stated(Figure::band(
            ["end_torque", "torque at the end"],
            band,
            "N·m",
        ))
    };
    match job.goal {
        Goal::Watch(_) => Vec::new(),
        Goal::Torque { target_nm, .. } => {
            let window = job.goal.end_nm().map(|band| {
                stated(Figure::band(
                    ["target_window", "target window"],
                    band,
                    "N·m",
                ))
                .from("stated in the file, or ±10 % (common practice, no source)")
            });
            [
                Some(stated(Figure::exact(
                    ["target_torque", "target torque"],
                    target_nm,
                    "N·m",
                ))),
                window,
            ]
            .into_iter()
            .flatten()
            .collect()
        }
        Goal::TorqueThenAngle {
            start_nm,
            angle_rad,
            end_nm,
        } => vec![
            stated(Figure::exact(
                ["start_torque", "torque from which the angle counts"],
                start_nm,
                "N·m",
            )),
            stated(degrees(
                ["further_angle", "further angle"],
                angle_rad.band(),
            )),
            end(end_nm),
        ],
        Goal::Yield { onset_nm, .. } => vec![end(onset_nm)],
        Goal::Recheck {
            torque_nm,
            most_rad,
        } => vec![
            stated(Figure::exact(
                ["check_torque", "check torque"],
                torque_nm,
                "N·m",
            )),
            stated(degrees(
                ["most_angle", "angle that still counts as not moved"],
                Band::new(0.0, most_rad),
            )),
        ],
        Goal::Loosen {
            recorded_nm,
            breakaway_nm,
            run_out_rad,
        } => [
            recorded_nm.map(|nm| {
                stated(Figure::exact(
                    ["recorded_torque", "torque on record"],
                    nm,
                    "N·m",
                ))
            }),
            breakaway_nm.map(|band| {
                stated(Figure::band(
                    ["breakaway_window", "may break loose at"],
                    band,
                    "N·m",
                ))
            }),
            run_out_rad.map(|e| {
                stated(turns(
                    ["run_out", "turns until the last thread is free"],
                    e.band(),
                ))
            }),
        ]
        .into_iter()
        .flatten()
        .collect(),
    }
}

fn rundown(forecast: &Forecast, stated: &Stated) -> Vec<Figure> {
    let by_turns = stated.has("run.rundown_turns");
    let turns_told = forecast.rundown_turns.filter(|_| !by_turns).map(|turns| {
        Figure::exact(
            ["rundown", "turns from the first thread to snug"],
            turns,
            "turns",
        )
        .by("bolt.rundown_mm/P")
        .from(STATED)
    });
    let window = forecast.snug_rad.map(|band| {
        let window = turns(["snug_window", "snug after the start of turning"], band);
        if by_turns {
            window.from(STATED)
        } else {
            window.by("rundown ± 1 turn").from("geometry, no source")
        }
    });
    turns_told.into_iter().chain(window).collect()
}

fn elastic(job: &BoltJob, forecast: &Forecast) -> Vec<Figure> {
    let by_angle = job.elastic_rad.is_some();
    let source = match job.fastener.joint {
        _ if by_angle => STATED,
        Some(joint) => origin::joint(&joint),
        None => "",
    };
    let is_class = matches!(job.fastener.joint, Some(Joint::Class(_)));
    let [rate_formula, angle_formula] = if by_angle || is_class {
        ["torque/angle", ""]
    } else {
        ["(T/F)·(P/2π)/(δS + δP)", "F·(δS + δP)·2π/P"]
    };
    let preload = forecast.preload.map(|preload| Figure {
        value: Some(1e-3 * preload.estimate_n),
        u: Some(1e-3 * preload.u_n),
        ..Figure::band(
            ["preload", "preload at this torque"],
            preload.band_n.times(1e-3),
            "kN",
        )
        .by("F = (T − Tp)/k, k = P/2π + μt·d2/(2·cos 30°) + μh·DKm/2")
        .from("ISO 16047 and VDI 2230; uncertainty after JCGM 100, 5.1.2")
    });
    let rate = forecast.elastic_rate_nm_per_rad.map(|band| {
        Figure::band(
            ["elastic_rate", "torque per degree after snug"],
            band.times(1_f32.to_radians()),
            "N·m/°",
        )
        .by(rate_formula)
        .from(source)
    });
    let angle = forecast
        .elastic_rad
        .filter(|_| job.carried_nm.is_none())
        .map(|band| {
            degrees(["elastic_angle", "angle from snug to this torque"], band)
                .by(angle_formula)
                .from(source)
        });
    [preload, rate, angle].into_iter().flatten().collect()
}

fn degrees(name: [&'static str; 2], band: Band) -> Figure {
    Figure::band(name, band.times(1_f32.to_degrees()), "°")
}

fn turns(name: [&'static str; 2], band: Band) -> Figure {
    Figure::band(name, band.times(1.0 / TAU), "turns")
}

/// What the description does not tell of the pass.
pub fn untold(job: &BoltJob) -> Vec<Untold> {
    let forecast = forecast(job);
    let undone = job.goal.direction() == Direction::Undo;
    let loose = job.carried_nm.is_none();
    let stated_run_out = matches!(
        job.goal,
        Goal::Loosen {
            run_out_rad: Some(Expected { .. }),
            ..
        }
    );
    [
        (
            !undone && job.goal.target_nm().is_none(),
            "preload, angle and breakaway at a target",
            "run.target_torque_nm",
        ),
        (
            undone && done_up_nm(job).is_none(),
            "torque that breaks it loose",
            "run.recorded_torque_nm, or recorded_torque_nm in the pass",
        ),
        (
            undone && forecast.run_out_turns.is_none() && !stated_run_out,
            "turns until the last thread is free",
            "mating.engagement_mm, bolt.rundown_mm, or run_out_turns in the pass",
        ),
        (
            !undone && loose && forecast.snug_rad.is_none(),
            "turns to snug",
            "bolt.rundown_mm or run.rundown_turns",
        ),
        (
            !undone && forecast.elastic_rate_nm_per_rad.is_none(),
            "rise of torque with angle, and with it the corridor",
            if job.fastener.joint.is_some() {
                "run.target_torque_nm: a joint class alone tells no rate"
            } else {
                "the table joint (class, stiffnesses or clamped length), or run.elastic_angle_deg"
            },
        ),
    ]
    .into_iter()
    .filter(|(missing, ..)| *missing)
    .map(|(_, figures, state)| Untold { figures, state })
    .collect()
}
