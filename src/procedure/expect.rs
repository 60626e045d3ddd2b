//! From the description of a bolt to what its run should look like.

use crate::fastener::{Band, ExpectedRun, Forecast, Locking};
use crate::math::TAU;

use super::{BoltJob, Expected, Goal};

/// Part of the target that a prevailing torque may reach where neither band nor size tell it
/// (the largest ratio of ISO 2320 maximum to a usual 8.8 target, M5 and M6, rounded up).
const UNKNOWN_PREVAILING_PART: f32 = 0.35;
/// Part of the target that a thread without locking feature may take to run down (common practice,
/// no source: a tightening that has taken less has not begun to clamp).
const FREE_RUNNING_PART: f32 = 0.03;
/// Elastic angle of the softest joint reckoned with where none is stated, rad (ISO 5393: 720°).
const SOFTEST_RAD: f32 = 2.0 * TAU;
/// Slope at which yield counts as begun (common practice; a quarter to 70 % is in use, no source).
const YIELD_SLOPE_PART: f32 = 0.5;
/// Part of the target that the moment across the bolt axis may reach where none is stated (common
/// practice, no source: as much bending as torque, and the socket no longer sits square).
const SIDE_PART: f32 = 1.0;

impl BoltJob {
    /// Moment across the bolt axis above which the tool levers, N·m: as stated, else the torque by
    /// which the run is measured. `None` where neither is known: nothing is then said.
    pub fn side_moment_limit_nm(&self) -> Option<f32> {
        self.tool
            .side_moment_limit_nm
            .or(self.goal.scale_nm().map(|t| t * SIDE_PART))
    }

    /// What the standards say of the fastener at the torque that is aimed at, or that it was done up
    /// with.
    pub fn forecast(&self) -> Forecast {
        let recorded = match self.goal {
            Goal::Loosen { recorded_nm, .. } => recorded_nm,
            _ => None,
        };
        Forecast::of(&self.fastener, self.goal.target_nm().or(recorded))
    }

    /// Expectations of the run: what was stated, else what the standards say of the fastener.
    pub fn expected_run(&self) -> ExpectedRun {
        let target_nm = self.goal.target_nm();
        let forecast = self.forecast();
        // What running freely takes is measured by what the bolt is to get, got, or bears at least.
        let scale_nm = self.goal.scale_nm();
        let scale_nm = scale_nm.or(forecast.yield_nm.map(|band| band.min));
        let free_nm = scale_nm.map_or(0.0, |t| t * FREE_RUNNING_PART);
        let is_free = self.fastener.locking == Some(Locking::Free);
        let ceiling_nm = forecast
            .prevailing_nm
            .map(|band| band.max)
            .or(target_nm.map(|t| t * UNKNOWN_PREVAILING_PART))
            .unwrap_or(0.0);
        let standard_nm = (self.fastener.thread.prevailing_torque())
            .map_or(0.0, |limits| limits.first_assembly_max_nm);
        let ceiling_nm = if is_free && scale_nm.is_none() {
            standard_nm
        } else {
            ceiling_nm.max(free_nm)
        };
        let ceiling_stated = self.fastener.locking.is_some() && forecast.prevailing_nm.is_some();
        let elastic_rad = self.elastic_rad.map(|e| e.band());
        // From the meeting with what the thread takes to run, as of a joint by its stiffness.
        let running = forecast.prevailing_nm.unwrap_or(Band::ZERO);
        let rate = elastic_rad
            .zip(target_nm)
            .map(|(angle, t)| {
                let least_nm = (t - running.max).max(t * FREE_RUNNING_PART);
                let most_nm = (t - running.min).max(least_nm);
                Band::new(least_nm / angle.max.max(0.1), most_nm / angle.min.max(0.02))
            })
            .or(forecast.elastic_rate_nm_per_rad);
        let snug_rad = self
            .rundown_rad
            .as_ref()
            .map(Expected::band)
            .or(forecast.snug_rad);
        ExpectedRun {
            target_nm,
            carried_nm: self.carried_nm,
            end_nm: self.goal.end_nm(),
            yield_slope_part: match self.goal {
                Goal::Yield { slope_part, .. } => slope_part,
                _ => YIELD_SLOPE_PART,
            },
            floor_nm: forecast
                .prevailing_nm
                .filter(|_| ceiling_stated)
                .map_or(0.0, |band| band.min),
            ceiling_nm,
            // A thread that is stated to run freely takes what free ones do.
            band_max_nm: forecast
                .prevailing_nm
                .filter(|_| ceiling_stated)
                .map(|band| if is_free { ceiling_nm } else { band.max }),
            ceiling_stated,
            least_rate_nm_per_rad: rate
                .map(|r| r.min)
                .or(target_nm.map(|t| t / SOFTEST_RAD))
                .unwrap_or(0.0),
            most_rate_nm_per_rad: rate.map(|r| r.max),
            elastic_rad: elastic_rad.or(forecast.elastic_rad),
            elastic_computed: elastic_rad.is_none(),
            yield_nm: forecast.yield_nm,
            strip_nm: forecast.strip_nm,
            breakaway_nm: forecast.breakaway_nm,
            earliest_snug_rad: snug_rad.map(|s| s.min),
            latest_snug_rad: snug_rad.map(|s| s.max),
            pitch_m: self.fastener.thread.pitch_mm * 1e-3,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::job::tests::job;
    use super::super::{BoltJob, Direction, Goal};
    use crate::fastener::{
        Band, Fastener, Friction, Joint, JointClass, Locking, Mating, PropertyClass,
    };
    use crate::math::TAU;

    #[test]
    fn what_is_stated_goes_before_what_is_computed() {
        let stated = job().expected_run();
        assert_eq!((stated.floor_nm, stated.ceiling_stated), (0.0, true));
        assert!((stated.earliest_snug_rad.unwrap() - 28.4).abs() < 1e-3);
        // What clamps, 48 N·m less up to 0.8 that the thread takes, over at most 1.55 rad.
        assert!((stated.least_rate_nm_per_rad - 47.2 / 1.55).abs() < 1e-2);
        assert!((stated.most_rate_nm_per_rad.unwrap() - 48.0 / 0.55).abs() < 1e-2);
    }

    /// A stated angle and the joint's own stiffness that gives it mean the same rate: both count from
    /// where the rise meets the torque of the rundown.
    #[test]
    fn a_stated_angle_and_a_stated_stiffness_agree_on_the_rate() {
        let mut by_joint = job();
        (by_joint.rundown_rad, by_joint.elastic_rad) = (None, None);
        by_joint.fastener = Fastener {
            joint: Some(Joint::Stiffness {
                bolt_n_per_m: 4e8,
                parts_n_per_m: 8e8,
            }),
            locking: Some(Locking::Stated(Band::new(9.0, 9.0))),
            friction: Some(Friction {
                thread: Band::new(0.12, 0.12),
                head: Band::new(0.12, 0.12),
            }),
            ..Fastener::new(by_joint.fastener.thread)
        };
        let own = by_joint.expected_run();
        let mut by_angle = by_joint.clone();
        by_angle.elastic_rad = own.elastic_rad.map(super::Expected::of);
        by_angle.fastener.joint = None;
        let stated = by_angle.expected_run();
        assert_eq!(
            (own.elastic_computed, stated.elastic_computed),
            (true, false)
        );
        let own_rate = own.most_rate_nm_per_rad.unwrap();
        let stated_rate = stated.most_rate_nm_per_rad.unwrap();
        assert!(
            (stated_rate / own_rate - 1.0).abs() < 0.01,
            "{stated_rate} {own_rate}"
        );
    }

    #[test]
    fn what_is_not_stated_is_computed_from_the_fastener() {
        let mut j = job();
        (j.rundown_rad, j.elastic_rad) = (None, None);
        let steel = "8.8".parse::<PropertyClass>().unwrap().material(10.0);
        j.fastener = Fastener {
            bolt: Some(steel),
            mating: Some(Mating {
                material: steel,
                engagement_mm: 15.0,
            }),
            joint: Some(Joint::Class(JointClass::Medium)),
            locking: Some(Locking::Standard { reused: false }),
            ..Fastener::new(j.fastener.thread)
        };
        let run = j.expected_run();
        // Thread in mesh when tight is not what the bolt is run down by.
        assert_eq!((run.earliest_snug_rad, run.latest_snug_rad), (None, None));
        j.fastener.rundown_mm = Some(15.0);
        let by_length = j.expected_run();
        // 15 mm at 1.5 mm a turn, a turn either way.
        assert!((by_length.earliest_snug_rad.unwrap() - 9.0 * TAU).abs() < 1e-3);
        assert!((by_length.latest_snug_rad.unwrap() - 11.0 * TAU).abs() < 1e-3);
        // ISO 2320 of M10, first assembly and first removal.
        assert_eq!((run.floor_nm, run.ceiling_nm), (1.5, 10.5));
        assert!(run.yield_nm.unwrap().min > 40.0);
        assert!(run.strip_nm.is_some() && run.most_rate_nm_per_rad.is_some());
    }
    /// A plain thread takes some torque to run, whether it is done up to a torque, undone or watched.
    #[test]
    fn a_thread_that_runs_freely_may_take_what_free_ones_do() {
        let mut j = job();
        let steel = "8.8".parse::<PropertyClass>().unwrap().material(10.0);
        j.fastener.locking = Some(Locking::Free);
        let limits = |j: &BoltJob| {
            let run = j.expected_run();
            (run.ceiling_nm, run.band_max_nm.unwrap(), run.floor_nm)
        };
        assert_eq!(limits(&j), (0.03 * 48.0, 0.03 * 48.0, 0.0));
        j.goal = Goal::Loosen {
            recorded_nm: Some(40.0),
            breakaway_nm: None,
            run_out_rad: None,
        };
        assert_eq!(limits(&j), (0.03 * 40.0, 0.03 * 40.0, 0.0));
        j.goal = Goal::Watch(Direction::Tighten);
        // Nothing tells what it bears: the standard's most for a thread with a feature.
        assert_eq!(limits(&j), (10.5, 10.5, 0.0));
        j.fastener.bolt = Some(steel);
        let (ceiling_nm, ..) = limits(&j);
        assert!((1.0..3.0).contains(&ceiling_nm), "{ceiling_nm}");
    }
}
