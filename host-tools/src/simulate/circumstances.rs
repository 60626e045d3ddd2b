//! Switches, force ratio and payload as the run goes on.

use std::collections::VecDeque;

use bolting_monitor::sample::Context;

use super::operator::Operator;
use super::scenario::{Event, Scenario};

/// Time from the switch to the hand that turns again, s.
const REACTION_S: f64 = 0.2;

/// What is the case around the bolt, and what is still to come.
pub(super) struct Circumstances {
    /// As the controller would log it.
    pub context: Context,
    events: VecDeque<Event>,
    /// When the switch that is off comes back, s.
    back_s: Option<f64>,
}

impl Circumstances {
    pub fn new(scenario: &Scenario) -> Self {
        Self {
            context: Context::new(),
            events: scenario.events.iter().cloned().collect(),
            back_s: None,
        }
    }

    /// Moves on to a time and bolt angle. A switch is let go while the operator turns the bolt.
    pub fn step(&mut self, time: f64, bolt: f64, operator: &mut Operator) {
        if self.back_s.is_some_and(|back| time >= back) {
            self.back_s = None;
            self.context.arm_enabled = true;
            self.context.tool_powered = true;
        }
        let due = |e: &Event| bolt >= e.at_turns() * std::f64::consts::TAU;
        if self.back_s.is_some() || !operator.is_driving() || !self.events.front().is_some_and(due)
        {
            return;
        }
        match self.events.pop_front() {
            Some(Event::ForceRatio { ratio, .. }) => self.context.force_ratio = ratio as f32,
            Some(Event::Payload { .. }) => self.context.payload_held ^= true,
            Some(Event::FootSwitch { lasts_s, .. }) => {
                self.context.arm_enabled = false;
                self.pause(time, lasts_s, operator);
            }
            Some(Event::ToolPower { lasts_s, .. }) => {
                self.context.tool_powered = false;
                self.pause(time, lasts_s, operator);
            }
            None => {}
        }
    }

    fn pause(&mut self, time: f64, lasts: f64, operator: &mut Operator) {
        self.back_s = Some(time + lasts);
        operator.interrupt(lasts + REACTION_S);
    }
}
