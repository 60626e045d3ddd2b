//! What the run of this fastener should look like, before it is turned.
//!
//! Every figure is computed from the description and published standards. It is an aid: the
//! joint's approved procedure and licensed practice decide.

use super::{Band, Fastener, Fault, Joint, Preload, Thread};
use crate::math::TAU;

/// Slope past yield onset, as a part of the elastic one, that the upper limit of the corridor is
/// drawn with: a half, the drop by which yield-controlled tightening commonly stops (common
/// practice, no source).
const PLASTIC_PART: f32 = 0.5;

/// Figures of the run. A figure is `None` where the description does not tell it. All of them hold
/// for bolts and parts of the least guaranteed strength, and for a description that
/// [`Fastener::faults`] does not refuse.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Forecast {
    /// Turns from the first thread to snug: length to run down over pitch.
    pub rundown_turns: Option<f32>,
    /// Turns until the last thread is free, over pitch: thread in mesh, or the length to run down where
    /// that is more, as of a nut on a long bolt.
    pub run_out_turns: Option<f32>,
    /// Bolt angle from the start of turning to snug, rad: the rundown and a turn either way. The
    /// start of the thread may have to be sought for up to a turn, chamfer and countersink may
    /// save up to one (geometry, no source).
    pub snug_rad: Option<Band>,
    /// Torque of the run before snug, N·m.
    pub prevailing_nm: Option<Band>,
    /// Slope of the elastic part, N·m/rad: `(T/F)·(P/2π)/(δS + δP)` over the friction intervals,
    /// or target over angle of the joint class.
    pub elastic_rate_nm_per_rad: Option<Band>,
    /// Preload at the target torque.
    pub preload: Option<Preload>,
    /// Bolt angle from snug to the target torque, rad: `F·(δS + δP)·2π/P`, counted from where the
    /// elastic line meets the prevailing torque.
    pub elastic_rad: Option<Band>,
    /// Torque at yield onset, tension and torsion together, N·m; prevailing torque is added, its own
    /// torsion of the shank left out (it lowers the onset by some 8 % where it is a fifth of it).
    pub yield_nm: Option<Band>,
    /// Torque at which the bolt breaks, tension and torsion together, N·m; prevailing torque
    /// included.
    pub breaking_nm: Option<Band>,
    /// Torque that yields the shank in pure torsion, N·m: what a bolt seized in its thread bears.
    pub torsion_yield_nm: Option<f32>,
    /// Torque that breaks the shank in pure torsion, N·m (ISO 898-7).
    pub torsion_breaking_nm: Option<f32>,
    /// Torque at which the weaker thread of bolt and mating part strips, N·m; prevailing torque
    /// included. Between the plain shear strength and Alexander's reduced one (from memory).
    pub strip_nm: Option<Band>,
    /// Engagement at which the bolt breaks before a thread strips, mm.
    pub engagement_needed_mm: Option<f32>,
    /// Torque that breaks the bolt loose after the target torque, N·m.
    pub breakaway_nm: Option<Band>,
    /// Torque per preload and diameter, `K = T/(F·d)`.
    pub nut_factor: Band,
}

impl Forecast {
    /// The forecast for a target torque in N·m, as far as the description carries it. Where
    /// neither description nor standard tell the prevailing torque, none is reckoned with.
    pub fn of(fastener: &Fastener, target_nm: Option<f32>) -> Self {
        let geometry = fastener.torque_preload();
        let thread = &fastener.thread;
        let bolt = fastener.bolt.as_ref();
        let friction = fastener.friction.unwrap_or_default();
        let prevailing_nm = fastener.prevailing_nm();
        let resisting = prevailing_nm.unwrap_or(Band::ZERO);
        let clamping = target_nm
            .map(|t| Band::new((t - resisting.max).max(0.0), (t - resisting.min).max(0.0)));
        let preload = target_nm.map(|t| geometry.preload(t, 0.0, &resisting, &friction));
        let joint = fastener.joint;
        let elastic_rad =
            joint.and_then(|j| j.angle_rad(&geometry, bolt, preload.map(|p| p.band_n)));
        let rundown_turns = fastener.rundown_mm.map(|mm| mm / thread.pitch_mm);
        let core_mm = least_core_mm(thread);
        Self {
            rundown_turns,
            run_out_turns: [
                fastener.mating.map(|m| m.engagement_mm),
                fastener.rundown_mm,
            ]
            .into_iter()
            .flatten()
            .reduce(f32::max)
            .map(|mm| mm / thread.pitch_mm),
            snug_rad: rundown_turns
                .map(|turns| Band::new((turns - 1.0).max(0.0), turns + 1.0).times(TAU)),
            prevailing_nm,
            elastic_rate_nm_per_rad: joint
                .and_then(|j| j.rate_nm_per_rad(&geometry, &friction, bolt, clamping)),
            preload,
            elastic_rad,
            yield_nm: bolt.map(|m| geometry.yield_torque_nm(m, &friction).plus(&resisting)),
            breaking_nm: bolt.map(|m| geometry.breaking_torque_nm(m, &friction).plus(&resisting)),
            torsion_yield_nm: bolt.map(|m| m.yielding_torsion_nm(core_mm)),
            torsion_breaking_nm: bolt.map(|m| m.breaking_torsion_nm(core_mm)),
            strip_nm: strip_load_n(fastener).map(|load| {
                let lever = geometry.lever_band_mm(&friction);
                Band::new(load.min * lever.min * 1e-3, load.max * lever.max * 1e-3).plus(&resisting)
            }),
            engagement_needed_mm: bolt
                .zip(fastener.mating.as_ref())
                .and_then(|(bolt, mating)| thread.engagement_needed_mm(bolt, &mating.material)),
            breakaway_nm: target_nm.map(|t| geometry.breakaway_nm(t, &resisting, &friction)),
            nut_factor: geometry.nut_factor(&friction),
        }
    }

    /// Lowest and highest torque in N·m to be expected at a bolt angle from snug in rad, negative
    /// before it; `None` where the description tells no slope.
    ///
    /// Before snug the prevailing band. After it the lower limit rises with the lower rate and
    /// stays level at the least yield onset; the upper one rises with the upper rate, from the
    /// largest yield onset with half of it, and ends level at the largest breaking torque.
    /// A bolt stronger than its class guarantees keeps to the elastic slope for longer than that.
    pub fn corridor_nm(&self, angle_from_snug_rad: f32) -> Option<Band> {
        let resisting = self.prevailing_nm.unwrap_or(Band::ZERO);
        if angle_from_snug_rad < 0.0 {
            return Some(resisting);
        }
        let rate = self.elastic_rate_nm_per_rad?;
        let low = resisting.min + rate.min * angle_from_snug_rad;
        let high = resisting.max + rate.max * angle_from_snug_rad;
        let (Some(yielding), Some(breaking)) = (self.yield_nm, self.breaking_nm) else {
            return Some(Band::new(low, high));
        };
        let past = (high - yielding.max).max(0.0);
        Some(Band::new(
            low.min(yielding.min),
            (high - (1.0 - PLASTIC_PART) * past).min(breaking.max),
        ))
    }

    /// What forbids a torque window in N·m that reaches up to `most_nm`.
    pub(crate) fn window_faults(&self, most_nm: f32) -> impl Iterator<Item = Fault> + use<> {
        let reaches = |limit: Option<Band>, must_be| {
            limit
                .map(|band| band.max)
                .filter(|l| l.is_finite())
                .and_then(|l| Fault::above("window", "torque_nm", most_nm, l))
                .map(|f| f.worded(must_be))
        };
        [
            reaches(
                self.breaking_nm,
                "a window that ends below what breaks the bolt,",
            ),
            reaches(
                self.strip_nm,
                "a window that ends below what strips the thread,",
            ),
        ]
        .into_iter()
        .flatten()
    }

    /// What forbids this target torque in N·m, or speaks against it.
    pub(super) fn target_faults(&self, target_nm: f32) -> impl Iterator<Item = Fault> + use<> {
        let most = |limit: Option<f32>, must_be| {
            limit
                .filter(|l| l.is_finite())
                .and_then(|l| Fault::above("target", "torque_nm", target_nm, l))
                .map(|f| f.worded(must_be))
        };
        let strip = self.strip_nm;
        // The gravest limit that is passed speaks for the others.
        let bolt = most(
            self.breaking_nm.map(|b| b.max),
            "below what breaks the bolt at any friction stated,",
        )
        .or_else(|| {
            most(self.breaking_nm.map(|b| b.min), "")
                .map(|f| f.warned("below what breaks the bolt at the least friction stated,"))
        })
        .or_else(|| {
            most(self.yield_nm.map(|b| b.min), "")
                .map(|f| f.warned("below yield onset at the least friction stated,"))
        });
        let thread = most(
            strip.map(|b| b.max),
            "below what strips the thread at any friction stated,",
        )
        .or_else(|| {
            most(strip.map(|b| b.min), "")
                .map(|f| f.warned("below what strips the thread at the least friction stated,"))
        });
        let resisting = self.prevailing_nm.and_then(|band| {
            Fault::below("target", "torque_nm", target_nm, band.min)
                .map(|f| f.worded("above the least prevailing torque,"))
                .or_else(|| {
                    Fault::below("target", "torque_nm", target_nm, band.max)
                        .map(|f| f.warned("above the largest prevailing torque,"))
                })
        });
        let positive = Fault::not_positive("target", "torque_nm", target_nm);
        let rest = if positive.is_some() {
            [None; 3]
        } else {
            [bolt, thread, resisting]
        };
        [positive].into_iter().chain(rest).flatten()
    }
}

/// Least diameter of the core in mm: what the limits of size leave, with the root rounded as the
/// printed minor diameters of 6g have it (0.616·P below the least pitch diameter); the basic `d3`
/// for a thread whose limits are not known.
fn least_core_mm(thread: &Thread) -> f32 {
    thread.limits().map_or(thread.root_diameter_mm(), |l| {
        l.external_pitch_min_mm - 0.616 * thread.pitch_mm
    })
}

/// Axial load that strips the weaker thread, N. What may be a nut counts as narrow as hexagon
/// nuts come (1.5·d across flats), a tapped hole as one in solid material.
fn strip_load_n(fastener: &Fastener) -> Option<Band> {
    const NARROWEST_NUT: f32 = 1.5;
    let mating = fastener.mating?;
    // Only a described tapped hole is surely no nut.
    let nut = !matches!(fastener.joint, Some(Joint::Clamp(clamp)) if !clamp.nut);
    let plain = fastener.thread.strip_load(
        mating.engagement_mm,
        fastener.bolt.as_ref()?,
        &mating.material,
    )?;
    let bent = plain.with_bending(nut.then_some(NARROWEST_NUT));
    Some(Band::between(plain.least_n(), bent.least_n()))
}
