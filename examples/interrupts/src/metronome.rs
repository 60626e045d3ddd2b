//! The beat of the control loop, and how well it is kept.

use bolting_monitor::wire::Cycle;
use cortex_m::peripheral::{SYST, syst::SystClkSource};

use bolting_board::board::CORE_CLOCK_HZ;

/// Cycles of control in a second.
const RATE_HZ: u32 = 1_000;
const PERIOD_TICKS: u32 = CORE_CLOCK_HZ / RATE_HZ;
const TICKS_PER_US: u32 = CORE_CLOCK_HZ / 1_000_000;
/// Cycles between two looks at whether samples still come: 100 ms.
const CYCLES_PER_LOOK: u32 = RATE_HZ / 10;

/// SysTick as the control loop's clock.
pub struct Metronome {
    timer: SYST,
    told: Cycle,
}

impl Metronome {
    /// Starts it.
    pub fn start(mut timer: SYST) -> Self {
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(PERIOD_TICKS - 1);
        timer.clear_current();
        timer.enable_interrupt();
        timer.enable_counter();
        Self {
            timer,
            told: Cycle {
                period_us: 1_000_000 / RATE_HZ,
                ..Cycle::default()
            },
        }
    }

    /// To be called first in a cycle: the wrap that began it is not one of the cycle's own.
    pub fn open(&mut self) {
        let _ = self.timer.has_wrapped();
    }

    /// Closes a cycle that took in a sample or not, and left out so many updates in all.
    pub fn close(&mut self, idle: bool, left_out: u32) {
        // If the timer wrapped since this cycle began, the cycle outlasted its period.
        let whole = if self.timer.has_wrapped() {
            PERIOD_TICKS
        } else {
            0
        };
        let ticks = whole + (PERIOD_TICKS - 1).saturating_sub(SYST::get_current());
        let told = &mut self.told;
        told.cycles = told.cycles.wrapping_add(1);
        told.idle = told.idle.wrapping_add(u32::from(idle));
        told.worst_us = told.worst_us.max(ticks.div_ceil(TICKS_PER_US));
        told.left_out = left_out;
    }

    /// Whether it is time to look if samples still come.
    pub const fn is_time_to_look(&self) -> bool {
        self.told.cycles.is_multiple_of(CYCLES_PER_LOOK)
    }

    /// How the loop fares.
    pub const fn cycle(&self) -> Cycle {
        self.told
    }
}
