//! What a run is meant to reach.

use bolting_monitor::fastener::Band;
use bolting_monitor::procedure::{Direction, Goal};
use toml::Spanned;

use super::judge::{Allowed, Judge, MORE_THAN_ZERO, ZERO_AND_MORE};
use super::schema::{self, GoalKeys, GoalName};

/// Half width of the torque window where none is stated (common practice, no source).
const TOLERANCE_PERCENT: f32 = 10.0;
/// Slope at which yield counts as begun where none is stated, as the core takes it.
const YIELD_SLOPE_PERCENT: f32 = 50.0;

impl Judge<'_> {
    /// The goal of the table `[run]`.
    pub fn run_goal(&mut self, run: &schema::Run) -> Option<Goal> {
        let undone = run
            .direction
            .as_ref()
            .is_some_and(|d| *d.get_ref() == schema::Direction::Undo);
        let keys = run.goal_keys();
        let name = match (keys.goal, undone) {
            (Some(name), _) => *name.get_ref(),
            (None, true) => GoalName::Loosen,
            (None, false) if keys.target_torque_nm.is_some() => GoalName::Torque,
            (None, false) => GoalName::Watch,
        };
        let goal = match name {
            GoalName::Watch if undone => Some(Goal::Watch(Direction::Undo)),
            // What an undone bolt was to get is what it was done up with.
            GoalName::Loosen if keys.recorded_torque_nm.is_none() => self.goal(
                "run",
                name,
                GoalKeys {
                    recorded_torque_nm: keys.target_torque_nm,
                    target_torque_nm: &None,
                    torque_tolerance_percent: &None,
                    ..keys
                },
                None,
                run.mode.span(),
            ),
            _ => self.goal("run", name, keys, None, run.mode.span()),
        };
        if let (Some(direction), Some(goal)) = (&run.direction, goal)
            && undone != (goal.direction() == Direction::Undo)
        {
            let problem = "contradicts run.goal: leave it out, the goal tells it";
            self.mistake("run.direction", direction.span(), problem);
        }
        goal
    }

    /// A goal from its keys in `table`, which stands at `place`. `whole` gives the target where a pass
    /// leaves it out.
    pub fn goal(
        &mut self,
        table: &str,
        name: GoalName,
        keys: GoalKeys<'_>,
        whole: Option<&Goal>,
        place: std::ops::Range<usize>,
    ) -> Option<Goal> {
        self.refuse_strangers(table, name, &keys);
        let key = |key: &str| format!("{table}.{key}");
        let place = keys.goal.map_or(place, Spanned::span);
        let target_nm = self
            .figure(
                &key("target_torque_nm"),
                keys.target_torque_nm,
                MORE_THAN_ZERO,
            )
            .or(whole.and_then(Goal::target_nm));
        let needed = |judge: &mut Self, what: &str, value: Option<f32>, stated: bool| {
            if value.is_none() && !stated {
                let problem = format!("is missing: the goal \"{}\" needs it", name.word());
                judge.mistake(&format!("{table}.{what}"), place.clone(), problem);
            }
            value
        };
        match name {
            GoalName::Watch => Some(Goal::Watch(Direction::Tighten)),
            GoalName::Torque => {
                let stated = keys.target_torque_nm.is_some();
                let target_nm = needed(self, "target_torque_nm", target_nm, stated);
                let percent = self
                    .figure(
                        &key("torque_tolerance_percent"),
                        keys.torque_tolerance_percent,
                        Allowed::AboveZero(50.0),
                    )
                    .or(match whole {
                        Some(Goal::Torque { tolerance, .. }) => Some(100.0 * tolerance),
                        _ => None,
                    })
                    .unwrap_or(TOLERANCE_PERCENT);
                Some(Goal::Torque {
                    target_nm: target_nm?,
                    tolerance: percent / 100.0,
                })
            }
            GoalName::TorqueThenAngle => {
                let start = self.figure(
                    &key("start_torque_nm"),
                    keys.start_torque_nm,
                    MORE_THAN_ZERO,
                );
                let start_nm = needed(
                    self,
                    "start_torque_nm",
                    start,
                    keys.start_torque_nm.is_some(),
                );
                let angle_rad = self.expected(
                    [&key("further_angle_deg"), &key("further_tolerance_deg")],
                    [keys.further_angle_deg, keys.further_tolerance_deg],
                    1.0_f64.to_radians(),
                    |degrees| degrees / 6.0,
                );
                needed(
                    self,
                    "further_angle_deg",
                    angle_rad.map(|e| e.value),
                    keys.further_angle_deg.is_some(),
                );
                let end_nm = self.end_band(table, keys.end_torque_nm, &place);
                Some(Goal::TorqueThenAngle {
                    start_nm: start_nm?,
                    angle_rad: angle_rad?,
                    end_nm: end_nm?,
                })
            }
            GoalName::Yield => {
                let slope_part = self
                    .figure(
                        &key("yield_slope_percent"),
                        keys.yield_slope_percent,
                        Allowed::AboveZero(99.0),
                    )
                    .unwrap_or(YIELD_SLOPE_PERCENT)
                    / 100.0;
                Some(Goal::Yield {
                    slope_part,
                    onset_nm: self.end_band(table, keys.end_torque_nm, &place)?,
                })
            }
            GoalName::Recheck => {
                let stated = keys.target_torque_nm.is_some();
                let torque_nm = needed(self, "target_torque_nm", target_nm, stated);
                let most = self.figure(
                    &key("most_angle_deg"),
                    keys.most_angle_deg,
                    Allowed::AboveZero(360.0),
                );
                let most_deg = needed(self, "most_angle_deg", most, keys.most_angle_deg.is_some());
                Some(Goal::Recheck {
                    torque_nm: torque_nm?,
                    most_rad: most_deg?.to_radians(),
                })
            }
            GoalName::Loosen => Some(Goal::Loosen {
                recorded_nm: self.figure(
                    &key("recorded_torque_nm"),
                    keys.recorded_torque_nm,
                    MORE_THAN_ZERO,
                ),
                breakaway_nm: keys
                    .breakaway_torque_nm
                    .as_ref()
                    .and_then(|band| self.band(&key("breakaway_torque_nm"), band)),
                run_out_rad: self.expected(
                    [&key("run_out_turns"), &key("run_out_tolerance_turns")],
                    [keys.run_out_turns, keys.run_out_tolerance_turns],
                    std::f64::consts::TAU,
                    |turns| (turns / 10.0).max(0.5).min(turns),
                ),
            }),
        }
    }

    fn end_band(
        &mut self,
        table: &str,
        band: &Option<Spanned<schema::Band>>,
        place: &std::ops::Range<usize>,
    ) -> Option<Band> {
        let key = &format!("{table}.end_torque_nm");
        match band {
            Some(band) => self.band(key, band),
            None => {
                let problem = "is missing: this goal needs it, as { min = …, max = … }";
                self.mistake(key, place.clone(), problem);
                None
            }
        }
    }

    /// A stated band of torque.
    pub fn band(&mut self, key: &str, spanned: &Spanned<schema::Band>) -> Option<Band> {
        let (min, max) = (spanned.get_ref().min, spanned.get_ref().max);
        let problem = [min, max]
            .iter()
            .find_map(|x| ZERO_AND_MORE.problem(*x))
            .or_else(|| (min > max).then(|| format!("has min {min} above max {max}: put the smaller first, or correct the one that is wrong")));
        if let Some(problem) = problem {
            self.mistake(key, spanned.span(), problem);
            return None;
        }
        Some(Band {
            min: min as f32,
            max: max as f32,
        })
    }

    /// A figure that the goal does not use would be believed to count.
    fn refuse_strangers(&mut self, table: &str, name: GoalName, keys: &GoalKeys<'_>) {
        use GoalName::{Loosen, Recheck, Torque, TorqueThenAngle, Yield};
        let figures: [(&str, &schema::Figure, &[GoalName]); 10] = [
            (
                "target_torque_nm",
                keys.target_torque_nm,
                &[Torque, Recheck],
            ),
            (
                "torque_tolerance_percent",
                keys.torque_tolerance_percent,
                &[Torque],
            ),
            ("start_torque_nm", keys.start_torque_nm, &[TorqueThenAngle]),
            (
                "further_angle_deg",
                keys.further_angle_deg,
                &[TorqueThenAngle],
            ),
            (
                "further_tolerance_deg",
                keys.further_tolerance_deg,
                &[TorqueThenAngle],
            ),
            ("yield_slope_percent", keys.yield_slope_percent, &[Yield]),
            ("most_angle_deg", keys.most_angle_deg, &[Recheck]),
            ("recorded_torque_nm", keys.recorded_torque_nm, &[Loosen]),
            ("run_out_turns", keys.run_out_turns, &[Loosen]),
            (
                "run_out_tolerance_turns",
                keys.run_out_tolerance_turns,
                &[Loosen],
            ),
        ];
        let bands: [(&str, &schema::StatedBand, &[GoalName]); 2] = [
            (
                "end_torque_nm",
                keys.end_torque_nm,
                &[TorqueThenAngle, Yield],
            ),
            ("breakaway_torque_nm", keys.breakaway_torque_nm, &[Loosen]),
        ];
        let stated = figures
            .iter()
            .filter_map(|(key, figure, goals)| Some((key, figure.as_ref()?.span(), goals)))
            .chain(
                bands
                    .iter()
                    .filter_map(|(key, band, goals)| Some((key, band.as_ref()?.span(), goals))),
            );
        for (key, span, goals) in stated {
            // An old description may state a tolerance without a target.
            let harmless = name == GoalName::Watch && *key == "torque_tolerance_percent";
            if !goals.contains(&name) && !harmless {
                let problem = format!(
                    "has no meaning for the goal \"{}\": leave it out, or change the goal",
                    name.word()
                );
                self.mistake(&format!("{table}.{key}"), span, problem);
            }
        }
    }
}
