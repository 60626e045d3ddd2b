//! The corridor of one pass as panels over the bolt angle, before anybody draws it.
//!
//! The rundown takes turns, the rest of the run degrees: each has a panel of its own, side by side
//! over one scale of torque.

use std::f32::consts::TAU;

use bolting_monitor::fastener::{Band, Forecast};
use bolting_monitor::procedure::{BoltJob, Direction, Goal};
use serde::Serialize;

/// Points of a corridor: its kinks are then off by less than a pixel or a dot.
const POINTS: u16 = 240;
/// How much further than the last figure of interest a panel goes.
const ROOM: f32 = 1.15;
/// A limit that begins further up than this many times the torque of interest is left to the
/// figures: it would flatten the corridor.
const FLATTENED: f32 = 2.0;

/// Lowest and highest torque to be expected at an angle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Angle in the unit of the panel.
    pub angle: f32,
    /// Lowest torque, N·m.
    pub min_nm: f32,
    /// Highest torque, N·m.
    pub max_nm: f32,
}

/// What happens between two angles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Window {
    /// What.
    pub what: &'static str,
    /// From, in the unit of the panel.
    pub from: f32,
    /// To.
    pub to: f32,
}

/// A part of the run with a scale of angle of its own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Panel {
    /// What the angle counts from.
    pub angle: &'static str,
    /// Unit of the angle.
    pub unit: &'static str,
    /// The expected torque, by angle.
    pub corridor: Vec<Point>,
    /// Windows of angle.
    pub windows: Vec<Window>,
}

impl Panel {
    /// First and last angle.
    pub fn span(&self) -> [f32; 2] {
        let angle = |p: Option<&Point>| p.map_or(0.0, |p| p.angle);
        [angle(self.corridor.first()), angle(self.corridor.last())]
    }
}

/// What a level of torque means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Meaning {
    /// The run is to end in here.
    Target,
    /// The bolts carry it already.
    Carried,
    /// It ruins the bolt, the thread or the joint, or begins to.
    Limit,
    /// The bolt breaks loose in here.
    Breakaway,
}

/// A band of torque across the whole picture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Level {
    /// What.
    pub what: &'static str,
    /// What it means.
    pub meaning: Meaning,
    /// Lower end, N·m.
    pub min_nm: f32,
    /// Upper end, N·m.
    pub max_nm: f32,
}

/// Panels side by side, and the levels across them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    /// In the order of the run.
    pub panels: Vec<Panel>,
    /// Bands of torque.
    pub levels: Vec<Level>,
    /// Top of the scale of torque, N·m.
    pub top_nm: f32,
}

impl Picture {
    /// The picture of a pass; `None` where the description tells no corridor.
    pub fn of(job: &BoltJob, forecast: &Forecast) -> Option<Self> {
        let (panels, levels) = match job.goal.direction() {
            Direction::Tighten => tightened(job, forecast),
            Direction::Undo => undone(job, forecast),
        };
        let panels: Vec<_> = panels.into_iter().flatten().collect();
        if panels.is_empty() {
            return None;
        }
        let highest = |torques: &mut dyn Iterator<Item = f32>| torques.fold(0.0_f32, f32::max);
        let curve = panels.iter().flat_map(|panel| &panel.corridor);
        let aims = levels
            .iter()
            .filter(|level| level.meaning != Meaning::Limit);
        let of_interest = highest(
            &mut curve
                .map(|p| p.max_nm)
                .chain(aims.map(|level| level.max_nm)),
        );
        let levels: Vec<_> = levels
            .into_iter()
            .filter(|level| level.min_nm < FLATTENED * of_interest)
            .collect();
        // Where a limit begins matters; where the strongest bolt gets to may be cut off.
        let top = highest(&mut levels.iter().map(|level| level.min_nm)).max(of_interest);
        Some(Self {
            panels,
            levels,
            // A free thread that is run down takes no torque at all.
            top_nm: 1.05 * top.max(0.1),
        })
    }
}

type Drawn = ([Option<Panel>; 2], Vec<Level>);

fn tightened(job: &BoltJob, forecast: &Forecast) -> Drawn {
    let end = job.goal.end_nm().or(match job.goal {
        Goal::Recheck { torque_nm, .. } => Some(Band::exact(torque_nm)),
        _ => None,
    });
    let levels = [
        level(
            if job.goal.end_nm().is_some() {
                "target window"
            } else {
                "check torque"
            },
            Meaning::Target,
            end,
        ),
        level(
            "carried already",
            Meaning::Carried,
            job.carried_nm.map(Band::exact),
        ),
        level("yield onset", Meaning::Limit, forecast.yield_nm),
        level("bolt breaks", Meaning::Limit, forecast.breaking_nm),
        level("thread strips", Meaning::Limit, forecast.strip_nm),
    ];
    let levels = levels.into_iter().flatten().collect();
    let rundown = forecast
        .snug_rad
        .filter(|_| job.carried_nm.is_none())
        .map(|snug| {
            let snug = snug.times(1.0 / TAU);
            turning(
                "turns from the start of turning",
                snug.max * ROOM,
                forecast,
                Window {
                    what: "snug",
                    from: snug.min,
                    to: snug.max,
                },
            )
        });
    let rise = match job.carried_nm {
        Some(carried_nm) => moved_on(job, carried_nm, end, forecast),
        None => clamped(end, forecast),
    };
    ([rundown, rise], levels)
}

/// From the torque that the bolt carries already: where it moves at all, it goes on from there.
fn moved_on(
    job: &BoltJob,
    carried_nm: f32,
    end: Option<Band>,
    forecast: &Forecast,
) -> Option<Panel> {
    let rate = forecast
        .elastic_rate_nm_per_rad
        .filter(|rate| rate.min > 0.0)?;
    let resisting = forecast.prevailing_nm.unwrap_or(Band::ZERO);
    let most_rad = match job.goal {
        Goal::Recheck { most_rad, .. } => Some(most_rad),
        _ => None,
    };
    let further = (reached(end, forecast)? - carried_nm) / rate.min;
    let last = ROOM * further.max(most_rad.unwrap_or(0.0));
    if !(last > 0.0 && last.is_finite()) {
        return None;
    }
    // Where the slowest and the fastest bolt stand on the corridor of a loose one.
    let [low_rad, high_rad] = [
        (carried_nm - resisting.min) / rate.min,
        (carried_nm - resisting.max) / rate.max,
    ];
    let corridor = (0..=POINTS)
        .filter_map(|i| {
            let angle = last * f32::from(i) / f32::from(POINTS);
            let low = forecast.corridor_nm(low_rad + angle)?.min.max(carried_nm);
            let high = forecast.corridor_nm(high_rad + angle)?.max.max(low);
            Some(point(angle.to_degrees(), Band::new(low, high)))
        })
        .collect();
    Some(Panel {
        angle: "degrees from where it moves on",
        unit: "°",
        corridor,
        windows: most_rad
            .map(|most| Window {
                what: "may move",
                from: 0.0,
                to: most.to_degrees(),
            })
            .into_iter()
            .collect(),
    })
}

/// Torque up to which a panel is drawn: as far as the slowest bolt takes to the target and to yield.
fn reached(end: Option<Band>, forecast: &Forecast) -> Option<f32> {
    match (end, forecast.yield_nm) {
        (Some(end), Some(onset)) => Some(end.max.max(onset.min)),
        (Some(end), None) => Some(end.max),
        (None, onset) => Some(onset?.min),
    }
}

/// From snug up to where the slowest bolt has reached what is of interest.
fn clamped(end: Option<Band>, forecast: &Forecast) -> Option<Panel> {
    let rate = forecast
        .elastic_rate_nm_per_rad
        .filter(|rate| rate.min > 0.0)?;
    let resisting = forecast.prevailing_nm.unwrap_or(Band::ZERO);
    let last = ROOM * (reached(end, forecast)? - resisting.min) / rate.min;
    if !(last > 0.0 && last.is_finite()) {
        return None;
    }
    let corridor = (0..=POINTS)
        .filter_map(|i| {
            // Somewhat before snug, so that it is seen where it begins.
            let angle = last * (f32::from(i) / f32::from(POINTS) * 1.08 - 0.08);
            let band = forecast.corridor_nm(angle)?;
            Some(point(angle.to_degrees(), band))
        })
        .collect();
    Some(Panel {
        angle: "degrees from snug",
        unit: "°",
        corridor,
        windows: forecast
            .elastic_rad
            .map(|band| Window {
                what: "target reached",
                from: band.min.to_degrees(),
                to: band.max.to_degrees(),
            })
            .into_iter()
            .collect(),
    })
}

fn undone(job: &BoltJob, forecast: &Forecast) -> Drawn {
    let (window, run_out) = match job.goal {
        Goal::Loosen {
            breakaway_nm,
            run_out_rad,
            ..
        } => (breakaway_nm, run_out_rad),
        _ => (None, None),
    };
    let levels = [
        level("may break loose (stated)", Meaning::Target, window),
        level(
            "breaks loose (expected)",
            Meaning::Breakaway,
            forecast.breakaway_nm,
        ),
    ];
    let free = run_out.map(|e| e.band().times(1.0 / TAU)).or(forecast
        .run_out_turns
        .map(|turns| Band::new((turns - 1.0).max(0.0), turns + 1.0)));
    let panel = free.map(|free| {
        let mut panel = turning(
            "turns of undoing",
            free.max * ROOM,
            forecast,
            Window {
                what: "thread free",
                from: free.min,
                to: free.max,
            },
        );
        // It falls over the angle that stretched the bolt, or at once where that is unknown.
        if let Some((loose, level)) = forecast.breakaway_nm.zip(panel.corridor.first_mut()) {
            level.angle = forecast.elastic_rad.map_or(0.0, |angle| angle.max / TAU);
            panel.corridor.insert(0, point(0.0, loose));
        }
        panel
    });
    ([panel, None], levels.into_iter().flatten().collect())
}

/// Turns with nothing but the prevailing torque.
fn turning(angle: &'static str, last: f32, forecast: &Forecast, window: Window) -> Panel {
    let band = forecast.prevailing_nm.unwrap_or(Band::ZERO);
    Panel {
        angle,
        unit: "turns",
        corridor: vec![point(0.0, band), point(last, band)],
        windows: vec![window],
    }
}

fn point(angle: f32, band: Band) -> Point {
    Point {
        angle,
        min_nm: band.min,
        max_nm: band.max,
    }
}

fn level(what: &'static str, meaning: Meaning, band: Option<Band>) -> Option<Level> {
    band.map(|band| Level {
        what,
        meaning,
        min_nm: band.min,
        max_nm: band.max,
    })
}
