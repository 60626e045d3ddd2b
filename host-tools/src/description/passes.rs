//! The passes over a group of bolts.

use bolting_monitor::procedure::{
    BoltJob, Goal, MAX_BOLTS, MAX_PASSES, Order, Pass, Procedure, ProcedureError,
};
use toml::Spanned;

use super::judge::{Allowed, Judge};
use super::schema::{self, File, GoalName};

impl Judge<'_> {
    /// The passes; those of `[group]` and `[[pass]]`, or the one of `[run]`.
    pub fn procedure(&mut self, file: &File, job: &BoltJob) -> Procedure {
        let run_goal = file.run.goal.as_ref().map(Spanned::span);
        let of_run = run_goal.unwrap_or_else(|| file.run.mode.span());
        let mut procedure = Procedure::single(job.goal);
        if let Some(group) = &file.group {
            self.group(group, &mut procedure);
        }
        let percents = file.group.as_ref().and_then(|g| g.passes_percent.as_ref());
        match (percents, file.pass.is_empty()) {
            (Some(percents), false) => {
                let problem = "stands beside [[pass]]: keep one of the two";
                self.mistake("group.passes_percent", percents.span(), problem);
            }
            (Some(percents), true) => {
                procedure.passes.clear();
                if !matches!(job.goal, Goal::Torque { .. }) {
                    let problem = "only a torque can be given in parts: set run.goal to \"torque\", or write [[pass]] tables";
                    self.mistake("group.passes_percent", percents.span(), problem);
                }
                for percent in percents.get_ref() {
                    let pass = pass(job.goal, *percent, Order::Cross);
                    self.push(&mut procedure, pass, percents.span());
                }
            }
            (None, false) => {
                procedure.passes.clear();
                for stated in &file.pass {
                    if let Some((pass, span)) = self.pass(stated, job) {
                        self.push(&mut procedure, pass, span);
                    }
                }
            }
            (None, true) if file.group.is_none() => {}
            (None, true) => {
                for pass in &mut procedure.passes {
                    pass.order = Order::Cross;
                }
            }
        }
        if let Some(group) = file.group.as_ref().filter(|g| g.closing_round) {
            match procedure.passes.last().copied() {
                Some(last) if matches!(last.goal, Goal::Torque { .. }) => {
                    let closing = Pass {
                        order: Order::Round,
                        ..last
                    };
                    self.push(&mut procedure, closing, group.bolts.span());
                }
                _ => {
                    let problem = "needs a last pass to a torque: any other goal would turn each bolt on a second time";
                    self.mistake("group.closing_round", group.bolts.span(), problem);
                }
            }
        }
        if self.mistakes.is_empty() {
            for fault in procedure.faults(job.carried_nm) {
                let of_pass = |pass: &u8| {
                    let table = file.pass.get(usize::from(*pass));
                    table.map_or_else(|| of_run.clone(), place_of)
                };
                let of_group = || {
                    file.group
                        .as_ref()
                        .map_or(of_run.clone(), |g| g.bolts.span())
                };
                let (key, place) = match &fault {
                    ProcedureError::Bolts(_) => ("group.bolts", of_group()),
                    ProcedureError::Cross => ("group.cross_order", of_group()),
                    ProcedureError::NoPass => ("group.passes_percent", of_group()),
                    ProcedureError::Part { pass, .. }
                    | ProcedureError::Falling { pass }
                    | ProcedureError::Goal { pass, .. } => match percents {
                        Some(percents) => ("group.passes_percent", percents.span()),
                        None if file.pass.is_empty() => ("run.goal", of_run.clone()),
                        None => ("pass", of_pass(pass)),
                    },
                };
                self.mistake(key, place, format!("cannot be followed: {fault}"));
            }
        }
        procedure
    }

    fn group(&mut self, group: &schema::Group, procedure: &mut Procedure) {
        let bolts = *group.bolts.get_ref();
        match u8::try_from(bolts) {
            Ok(n) if n > 0 && usize::from(n) <= MAX_BOLTS => procedure.bolts = n,
            _ => {
                let problem = format!("is {bolts}: give 1 to {MAX_BOLTS}");
                self.mistake("group.bolts", group.bolts.span(), problem);
                return;
            }
        }
        let Some(order) = &group.cross_order else {
            return;
        };
        let mut sorted = order.get_ref().clone();
        sorted.sort_unstable();
        if sorted.iter().copied().eq(1..=bolts) {
            procedure.cross = order.get_ref().iter().map(|b| (b - 1) as u8).collect();
        } else {
            let problem = format!("must name each bolt from 1 to {bolts} once");
            self.mistake("group.cross_order", order.span(), problem);
        }
    }

    fn pass(
        &mut self,
        stated: &Spanned<schema::Pass>,
        job: &BoltJob,
    ) -> Option<(Pass, std::ops::Range<usize>)> {
        let place = place_of(stated);
        let stated = stated.get_ref();
        let keys = stated.goal_keys();
        let name = keys.goal.map_or(GoalName::Torque, |name| *name.get_ref());
        let percent = match &stated.percent {
            None => 100.0,
            Some(percent) if name == GoalName::Torque => *percent.get_ref(),
            Some(percent) => {
                let problem = "only a torque can be given in parts: leave it out";
                self.mistake("pass.percent", percent.span(), problem);
                return None;
            }
        };
        self.figure("pass.percent", &stated.percent, Allowed::AboveZero(100.0));
        let goal = self.goal("pass", name, keys, Some(&job.goal), place.clone())?;
        let order = match stated.order {
            schema::Order::Cross => Order::Cross,
            schema::Order::Round => Order::Round,
        };
        Some((pass(goal, percent, order), place))
    }

    fn push(&mut self, procedure: &mut Procedure, pass: Pass, span: std::ops::Range<usize>) {
        if procedure.passes.push(pass).is_err() {
            let problem = format!("makes more than {MAX_PASSES} passes: join some");
            self.mistake("pass", span, problem);
        }
    }
}

/// The line that stands for a pass.
pub fn place_of(table: &Spanned<schema::Pass>) -> std::ops::Range<usize> {
    let stated = table.get_ref();
    let keys = stated.goal_keys();
    let figures = [
        &stated.percent,
        keys.target_torque_nm,
        keys.start_torque_nm,
        keys.most_angle_deg,
        keys.recorded_torque_nm,
    ];
    keys.goal
        .map(Spanned::span)
        .or_else(|| figures.iter().find_map(|f| f.as_ref().map(Spanned::span)))
        .unwrap_or_else(|| table.span())
}

fn pass(goal: Goal, percent: f64, order: Order) -> Pass {
    Pass {
        goal,
        part: (percent / 100.0) as f32,
        order,
    }
}
