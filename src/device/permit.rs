//! The output that permits turning.

use embedded_hal::digital::OutputPin;

use crate::monitor::Update;

/// A pin that is high while turning is permitted, and low in every other case: before the first
/// good sample, between runs, after a stopping finding, after a pin error, without power.
///
/// This is not a safety function. Nothing here is redundant, diagnosed or certified; it may spare a
/// thread, not a person. A safe stop belongs to a safety-rated circuit that works without it.
#[derive(Debug)]
pub struct PermitOutput<P> {
    pin: P,
    permitted: bool,
    latched: bool,
}

impl<P: OutputPin> PermitOutput<P> {
    /// Takes the pin and drives it low.
    ///
    /// # Errors
    /// The pin's own error: the output is then not under control and must not be used.
    pub fn new(mut pin: P) -> Result<Self, P::Error> {
        pin.set_low()?;
        Ok(Self {
            pin,
            permitted: false,
            latched: false,
        })
    }

    /// Whether turning is permitted at this moment.
    pub const fn is_permitted(&self) -> bool {
        self.permitted
    }

    /// Whether the permit was withdrawn for good: only [`PermitOutput::reset`] lifts that.
    pub const fn is_latched(&self) -> bool {
        self.latched
    }

    /// Follows the monitor: permits while the update does, and latches when the run was stopped. Returns
    /// whether turning is permitted.
    ///
    /// # Errors
    /// The pin's own error; the permit is then withdrawn and latched, and the pin driven low with each
    /// further call.
    pub fn follow(&mut self, update: &Update) -> Result<bool, P::Error> {
        if update.stopped {
            self.withdraw()?;
        } else if self.latched || !update.permitted {
            // Also a latched one: a pin that did not obey may by now.
            self.rest()?;
        } else {
            // Driven at every sample, so that a pin that was disturbed is set right again.
            self.permitted = true;
            if let Err(e) = self.pin.set_high() {
                // The first error says more than a second one would.
                let _ = self.withdraw();
                return Err(e);
            }
        }
        Ok(self.permitted)
    }

    /// Withdraws the permit and latches.
    ///
    /// # Errors
    /// The pin's own error; the permit counts as withdrawn all the same.
    pub fn withdraw(&mut self) -> Result<(), P::Error> {
        self.latched = true;
        self.rest()
    }

    /// Withdraws the permit between runs, without latching.
    ///
    /// # Errors
    /// The pin's own error; the permit is then latched.
    pub fn rest(&mut self) -> Result<(), P::Error> {
        self.permitted = false;
        let result = self.pin.set_low();
        self.latched |= result.is_err();
        result
    }

    /// Lifts the latch, on someone's explicit word. The output stays low until the next update
    /// that permits.
    pub fn reset(&mut self) {
        self.latched = false;
    }
}

#[cfg(feature = "defmt")]
impl<P> defmt::Format for PermitOutput<P> {
    fn format(&self, to: defmt::Formatter<'_>) {
        defmt::write!(
            to,
            "permit {=str}",
            match (self.permitted, self.latched) {
                (true, _) => "given",
                (false, false) => "not given",
                (false, true) => "withdrawn until lifted",
            }
        );
    }
}
