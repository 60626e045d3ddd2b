//! Between torque and preload, in both directions.
//!
//! The long form of ISO 16047 and VDI 2230: `T = F·(P/2π + μt·d2/(2·cos 30°) + μh·DKm/2)`. It is
//! the linear part of the exact wedge `d2/2·tan(λ + ρ')`; what it leaves out is 0.7 % of the thread
//! part for M10 at μ = 0.12 and below 3 % of it up to μ = 0.3, always on the low side, far inside
//! what friction leaves open. It is kept because the published assembly tables are made with it.
//!
//! Bolts yield under tension and torsion together. The torsion counts as fully plastic (factor 1.5
//! in `3·[1.5·(d2/ds)·(P/(π·d2) + 1.155·μt)]²`), as in VDI 2230:2003 and later; with the elastic
//! factor 2 the published stainless table is missed by 5 to 17 %.
//!
//! A short form `T = K·F·d` is served by [`TorquePreload::nut_factor`]. Tabulated `K` depend on the
//! size of sample and coating; the long form decides here, and `K` is told beside it.

use super::{Band, Friction, Material, Thread, mean_bearing_mm};
use crate::math::{PI, TAN_30, TAU, sqrt};

/// `1/(2·cos 30°)`: from the pitch diameter to the lever of thread friction on a 60° profile. The same
/// number as tan 30°.
const FLANK: f32 = TAN_30;
/// `1/cos 30°`.
const WEDGE: f32 = 1.154_700_5;

/// Geometry that ties torque to preload.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TorquePreload {
    /// The thread.
    pub thread: Thread,
    /// Mean diameter of the bearing ring under the head or nut, mm.
    pub bearing_mm: f32,
}

/// A preload that is known only as well as friction is.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Preload {
    /// Between the ends of the friction intervals, N.
    pub band_n: Band,
    /// Expected value, N.
    pub estimate_n: f32,
    /// Standard uncertainty, N.
    pub u_n: f32,
}

impl TorquePreload {
    /// A thread under a hexagon head on a medium hole.
    pub fn of(thread: Thread) -> Self {
        Self {
            thread,
            bearing_mm: mean_bearing_mm(&thread),
        }
    }

    /// `P/2π`, mm: the lever that stretches the bolt.
    fn lead_mm(&self) -> f32 {
        self.thread.pitch_mm / TAU
    }

    /// Torque per preload at known friction in mm (N·mm per N):
    /// `P/2π + μt·d2/(2·cos 30°) + μh·DKm/2`.
    pub fn lever_mm(&self, thread_friction: f32, head_friction: f32) -> f32 {
        self.lead_mm() + self.rubbing_mm(thread_friction, head_friction)
    }

    /// Torque per preload that undoes the bolt, mm: the lead helps, friction is the same. Below
    /// zero the bolt does not hold itself.
    pub fn loosening_lever_mm(&self, thread_friction: f32, head_friction: f32) -> f32 {
        self.rubbing_mm(thread_friction, head_friction) - self.lead_mm()
    }

    fn rubbing_mm(&self, thread_friction: f32, head_friction: f32) -> f32 {
        thread_friction * FLANK * self.thread.pitch_diameter_mm()
            + head_friction * 0.5 * self.bearing_mm
    }

    /// Torque per preload over the friction intervals, mm.
    pub fn lever_band_mm(&self, friction: &Friction) -> Band {
        Band::new(
            self.lever_mm(friction.thread.min, friction.head.min),
            self.lever_mm(friction.thread.max, friction.head.max),
        )
    }

    /// Nut factor `K = T/(F·d)` over the friction intervals.
    pub fn nut_factor(&self, friction: &Friction) -> Band {
        self.lever_band_mm(friction)
            .times(1.0 / self.thread.diameter_mm)
    }

    /// Torque in N·m that brings `preload_n` newtons, over the friction intervals.
    pub fn torque_nm(&self, preload_n: f32, friction: &Friction) -> Band {
        self.lever_band_mm(friction).times(1e-3 * preload_n)
    }

    /// Preload of `torque_nm` N·m of which `prevailing_nm` turn the locking feature, `torque_u_nm`
    /// being the standard uncertainty of the torque, N·m.
    ///
    /// The interval takes every input at its ends. Estimate and uncertainty are those of
    /// `F = (T − Tp)/k` (JCGM 100, 5.1.2 with its note on higher orders): every input is equally
    /// likely anywhere in its interval. With `r = [d2/(2·cos 30°)·u(μt) + DKm/2·u(μh)]/k` the
    /// estimate is `F·(1 + r²)` and `u(F)² = F²·r²·(1 + 4.4·r²) + (u(T)² + u(Tp)²)/k²`.
    ///
    /// Thread and head share the lubricant, so their coefficients count as fully correlated
    /// (JCGM 100, 5.2.2): as independent ones they would give 10 % for dry bolts where Blake and
    /// Kurtz measured 14.3 %, correlated they give 14 %. The ±35 % that NASA and Machinery's
    /// Handbook state for dry bolts are not reached (classes D and E: ±30 % at k = 2, without the
    /// torque's own share): where that rule binds, state a wider interval. No negative preload:
    /// where the locking feature may eat all the torque, the interval starts at 0.
    pub fn preload(
        &self,
        torque_nm: f32,
        torque_u_nm: f32,
        prevailing_nm: &Band,
        friction: &Friction,
    ) -> Preload {
        let lever = self.lever_band_mm(friction);
        let clamping = |prevailing: f32| 1e3 * (torque_nm - prevailing).max(0.0);
        let k = self.lever_mm(friction.thread.middle(), friction.head.middle());
        let r = self.rubbing_mm(
            friction.thread.standard_uncertainty(),
            friction.head.standard_uncertainty(),
        ) / k;
        let r2 = r * r;
        let first = clamping(prevailing_nm.middle()) / k;
        let u_prevailing = prevailing_nm.standard_uncertainty();
        let u_torque = 1e3 * sqrt(torque_u_nm * torque_u_nm + u_prevailing * u_prevailing) / k;
        Preload {
            band_n: Band::new(
                clamping(prevailing_nm.max) / lever.max,
                clamping(prevailing_nm.min) / lever.min,
            ),
            estimate_n: first * (1.0 + r2),
            u_n: sqrt(first * first * r2 * (1.0 + 4.4 * r2) + u_torque * u_torque),
        }
    }

    /// Torque in N·m at which the bolt breaks loose after `torque_nm` N·m of tightening, of which
    /// `prevailing_nm` turn the locking feature both ways: same friction at loosening as at
    /// tightening, no relaxation, no seizure. The two differ by `F·P/π`, whatever the friction.
    pub fn breakaway_nm(&self, torque_nm: f32, prevailing_nm: &Band, friction: &Friction) -> Band {
        let part = |thread: f32, head: f32| {
            self.loosening_lever_mm(thread, head).max(0.0) / self.lever_mm(thread, head)
        };
        // Rises with both: no part is above 1, so prevailing torque adds more than it takes off.
        let at = |prevailing: f32, part: f32| prevailing + (torque_nm - prevailing).max(0.0) * part;
        Band::new(
            at(
                prevailing_nm.min,
                part(friction.thread.min, friction.head.min),
            ),
            at(
                prevailing_nm.max,
                part(friction.thread.max, friction.head.max),
            ),
        )
    }

    /// Preload in N at which tension and the torsion of tightening together reach `stress_mpa`:
    /// `As·σ/√(1 + 3·[1.5·(d2/ds)·(P/(π·d2) + 1.155·μt)]²)`, `ds = (d2 + d3)/2` (VDI 2230). With
    /// 0.9 × yield it is the tabulated assembly preload, with the yield strength yield onset.
    pub fn assembly_preload_n(&self, stress_mpa: f32, thread_friction: f32) -> f32 {
        let (constant, slope) = self.torsion_ratio();
        let ratio = constant + slope * thread_friction;
        self.thread.stress_area_mm2() * stress_mpa / sqrt(1.0 + ratio * ratio)
    }

    /// `√3·τ/σ` of a bolt being tightened, as constant and slope over thread friction.
    fn torsion_ratio(&self) -> (f32, f32) {
        let d2 = self.thread.pitch_diameter_mm();
        let factor = 1.5 * 1.732_050_8 * d2 / (0.5 * (d2 + self.thread.root_diameter_mm()));
        (factor * self.thread.pitch_mm / (PI * d2), factor * WEDGE)
    }

    /// Torque in N·m at which tension and torsion together reach `stress_mpa`, at known friction.
    pub fn assembly_torque_nm(
        &self,
        stress_mpa: f32,
        thread_friction: f32,
        head_friction: f32,
    ) -> f32 {
        1e-3 * self.assembly_preload_n(stress_mpa, thread_friction)
            * self.lever_mm(thread_friction, head_friction)
    }

    /// Torque in N·m at which tension and torsion together reach `stress_mpa`, over the friction
    /// intervals.
    ///
    /// Thread friction costs preload while it costs torque, so the torque has a largest value over
    /// it, `μt = (d2/(2·cos 30°)/(b·μh·DKm/2) − a)/b` with `a + b·μt` the torsion ratio; it is
    /// taken where it lies inside the interval.
    pub fn limit_torque_nm(&self, stress_mpa: f32, friction: &Friction) -> Band {
        let (thread, head) = (friction.thread, friction.head);
        let (a, b) = self.torsion_ratio();
        let flank = FLANK * self.thread.pitch_diameter_mm();
        let peak = (flank / (b * head.max * 0.5 * self.bearing_mm) - a) / b;
        let at = |thread: f32, head: f32| self.assembly_torque_nm(stress_mpa, thread, head);
        Band::new(
            at(thread.min, head.min).min(at(thread.max, head.min)),
            at(peak.max(thread.min).min(thread.max), head.max),
        )
    }

    /// Torque in N·m at yield onset of a bolt of the least guaranteed strength.
    pub fn yield_torque_nm(&self, bolt: &Material, friction: &Friction) -> Band {
        self.limit_torque_nm(bolt.yield_mpa, friction)
    }

    /// Torque in N·m at which a bolt of the least guaranteed strength breaks while it is
    /// tightened: the yield form with the tensile strength.
    pub fn breaking_torque_nm(&self, bolt: &Material, friction: &Friction) -> Band {
        self.limit_torque_nm(bolt.tensile_mpa, friction)
    }
}
