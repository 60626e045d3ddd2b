//! Everything that is known of one fastener, and what is impossible in it.

use serde::{Deserialize, Serialize};

use super::{Band, Fault, Forecast, Friction, Joint, Material, Reuse, Thread, TorquePreload};

/// Engagement below which no thread is caught, in pitches. This library's own limit.
const LEAST_ENGAGED_PITCHES: f32 = 0.5;
/// Engagement above which a figure is likely a slip of the pen, in diameters: half as much again
/// as the 2·d usual in aluminium (common practice, no source).
const MOST_ENGAGED_DIAMETERS: f32 = 3.0;
/// Widest mean bearing ring, in diameters. This library's own limit.
const WIDEST_BEARING_DIAMETERS: f32 = 4.0;

/// A bolt, what it is screwed into and what it clamps. Whatever is `None` is unknown: it widens the
/// intervals of the forecast or leaves a figure out.
///
/// ```
/// use bolting_monitor::fastener::{
///     Fastener, Forecast, FrictionClass, Locking, PropertyClass, Thread,
/// };
///
/// let mut bolt = Fastener::new(Thread::metric(10.0, 1.5));
/// bolt.bolt = Some("8.8".parse::<PropertyClass>()?.material(10.0));
/// bolt.friction = Some(FrictionClass::B.into());
/// bolt.locking = Some(Locking::Free);
/// assert_eq!(bolt.faults(Some(35.0)).count(), 0);
/// let forecast = Forecast::of(&bolt, Some(35.0));
/// assert!(forecast.yield_nm.is_some_and(|onset| onset.min > 35.0));
/// # Ok::<(), bolting_monitor::fastener::ClassError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fastener {
    /// The thread.
    pub thread: Thread,
    /// Whether the thread is left-handed.
    pub left_hand: bool,
    /// What the bolt is made of.
    pub bolt: Option<Material>,
    /// The part with the internal thread.
    pub mating: Option<Mating>,
    /// Friction; [`Friction::default`] where unknown.
    pub friction: Option<Friction>,
    /// Mean diameter of the ring under the head or nut, mm; [`super::mean_bearing_mm`] where
    /// unknown.
    pub bearing_mm: Option<f32>,
    /// Stiffness of the joint.
    pub joint: Option<Joint>,
    /// Whether a locking feature resists the run.
    pub locking: Option<Locking>,
    /// Length of thread to run down to snug, mm. The engagement does not tell it: a bolt may be started
    /// by hand, and a nut run over more thread than it holds.
    pub rundown_mm: Option<f32>,
}

/// The part with the internal thread.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mating {
    /// What it is made of.
    pub material: Material,
    /// Length of thread in mesh when the bolt is tight, mm.
    pub engagement_mm: f32,
}

/// What resists the run before snug.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Locking {
    /// No locking feature.
    Free,
    /// A locking nut or insert within the standard of its size.
    Standard {
        /// Whether it was screwed on before.
        reused: bool,
    },
    /// A stated band of torque, N·m.
    Stated(Band),
}

impl Fastener {
    /// A thread of which nothing else is known.
    pub const fn new(thread: Thread) -> Self {
        Self {
            thread,
            left_hand: false,
            bolt: None,
            mating: None,
            friction: None,
            bearing_mm: None,
            joint: None,
            locking: None,
            rundown_mm: None,
        }
    }

    /// What ties torque to preload here.
    pub fn torque_preload(&self) -> TorquePreload {
        let standard = TorquePreload::of(self.thread);
        TorquePreload {
            bearing_mm: self.bearing_mm.unwrap_or(standard.bearing_mm),
            ..standard
        }
    }

    /// Torque band of the run before snug, N·m. Where nothing is said of locking it may be
    /// anything up to the standard's largest; `None` where the standard has no figure either.
    pub fn prevailing_nm(&self) -> Option<Band> {
        let standard = self.thread.prevailing_torque();
        match self.locking {
            Some(Locking::Free) => Some(Band::ZERO),
            Some(Locking::Stated(band)) => Some(band),
            Some(Locking::Standard { reused }) => {
                let reuse = if reused { Reuse::Reused } else { Reuse::First };
                standard.map(|limits| limits.band(reuse))
            }
            None => standard.map(|limits| Band::new(0.0, limits.first_assembly_max_nm)),
        }
    }

    /// Everything that is impossible or doubtful, the target torque in N·m included, so that it
    /// can be mended at once. A description with a refused fault has no forecast worth reading.
    pub fn faults(&self, target_nm: Option<f32>) -> impl Iterator<Item = Fault> + use<> {
        let friction = self.friction.unwrap_or_default();
        let bolt = self.bolt.map(|m| m.faults("bolt"));
        let mating = self.mating.map(|m| m.material.faults("mating"));
        let target = target_nm.map(|t| Forecast::of(self, Some(t)).target_faults(t));
        self.faults_of_size()
            .chain(friction.faults())
            .chain(bolt.into_iter().flatten())
            .chain(mating.into_iter().flatten())
            .chain(self.joint.into_iter().flat_map(|joint| joint.faults()))
            .chain(target.into_iter().flatten())
    }

    /// The first of [`Fastener::faults`] that forbids the run.
    pub fn refused(&self, target_nm: Option<f32>) -> Option<Fault> {
        let friction = self.friction.unwrap_or_default();
        let material = |of: Option<Material>, part| {
            of.and_then(|material| Fault::first_refused(|| material.faults(part)))
        };
        Fault::first_refused(|| self.faults_of_size())
            .or_else(|| Fault::first_refused(|| friction.faults()))
            .or_else(|| material(self.bolt, "bolt"))
            .or_else(|| material(self.mating.map(|m| m.material), "mating"))
            .or_else(|| (self.joint).and_then(|joint| Fault::first_refused(|| joint.faults())))
            .or_else(|| {
                let target = target_nm?;
                Fault::first_refused(|| Forecast::of(self, Some(target)).target_faults(target))
            })
    }

    fn faults_of_size(&self) -> impl Iterator<Item = Fault> + use<> {
        let part = "fastener";
        let d = self.thread.diameter_mm;
        let pitch = self.thread.pitch_mm;
        let stated = match self.locking {
            Some(Locking::Stated(band)) => Some(band),
            _ => None,
        };
        let engaged = self.mating.map(|m| m.engagement_mm);
        let bearing = Band::new(d, WIDEST_BEARING_DIAMETERS * d);
        let most = MOST_ENGAGED_DIAMETERS * d;
        let needed = engaged.zip(Forecast::of(self, None).engagement_needed_mm);
        [
            Fault::not_positive(part, "thread.diameter_mm", d),
            Fault::not_positive(part, "thread.pitch_mm", pitch),
            // Steeper than this there is no core left to speak of.
            Fault::above(part, "thread.pitch_mm", pitch, 0.5 * d),
            self.bearing_mm
                .and_then(|b| Fault::outside(part, "bearing_mm", b, &bearing)),
            self.rundown_mm
                .and_then(|l| Fault::not_positive(part, "rundown_mm", l)),
            stated.and_then(|b| Fault::below("locking", "torque_nm.min", b.min, 0.0)),
            stated.and_then(|b| Fault::above("locking", "torque_nm.min", b.min, b.max)),
            stated.and_then(|b| Fault::below("locking", "torque_nm.max", b.max, 0.0)),
            // Without a figure it would count as none.
            Fault::unless(
                !matches!(self.locking, Some(Locking::Standard { .. }))
                    || self.thread.prevailing_torque().is_some(),
                Fault {
                    part: "locking",
                    key: "thread.diameter_mm",
                    value: d,
                    must_be: "one of the metric sizes whose locking torque the standard gives (for another, state the band of torque): 3, 4, 5, 6, 8, 10, 12, 14, 16, 20, 24, 30 or",
                    limit: 36.0,
                    severity: super::Severity::Refused,
                },
            ),
            engaged.and_then(|l| {
                Fault::below("mating", "engagement_mm", l, LEAST_ENGAGED_PITCHES * pitch)
                    .map(|f| f.worded("at least half a pitch, so that the thread catches:"))
                    .or_else(|| {
                        Fault::above("mating", "engagement_mm", l, most)
                            .map(|f| f.warned("at most three diameters, unless it was measured:"))
                    })
            }),
            needed.and_then(|(l, least)| {
                Fault::below("mating", "engagement_mm", l, least)
                    .filter(|_| l >= LEAST_ENGAGED_PITCHES * pitch)
                    .map(|f| f.warned("long enough that the bolt breaks before a thread strips:"))
            }),
        ]
        .into_iter()
        .flatten()
    }
}
