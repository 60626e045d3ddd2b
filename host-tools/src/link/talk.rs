//! What the host says of its own accord: numbered frames, and acknowledgements where they are due.

use std::collections::HashSet;

use bolting_monitor::wire::{Ack, EncodeError, FromController, MAX_WIRE, Payload, encode};

/// Numbers the frames that go to one controller.
#[derive(Debug, Default)]
pub struct Sequence(u32);

impl Sequence {
    /// `message` as the next frame.
    ///
    /// # Errors
    /// [`EncodeError`] if it is too long.
    pub fn frame<T: Payload>(&mut self, message: &T) -> Result<Vec<u8>, EncodeError> {
        let mut out = [0; MAX_WIRE];
        let length = encode(self.0, message, &mut out)?;
        self.0 = self.0.wrapping_add(1);
        Ok(out[..length].to_vec())
    }
}

/// Decides what may be acknowledged: an alarm only with its evidence, and nothing before the
/// controller has said who it is.
#[derive(Debug, Default)]
pub struct Acknowledger {
    boot_id: Option<u32>,
    alarms: HashSet<(u8, u8)>,
}

impl Acknowledger {
    /// The acknowledgement that `message` earns.
    pub fn answer(&mut self, message: &FromController) -> Option<Ack> {
        let id = match message {
            FromController::Hello(hello) => {
                if self.boot_id.replace(hello.boot_id) != Some(hello.boot_id) {
                    self.alarms.clear();
                }
                return None;
            }
            FromController::Alarm(alarm) => {
                self.alarms.insert((alarm.run, alarm.id));
                return None;
            }
            FromController::Evidence(e) if self.alarms.remove(&(e.run, e.id)) => e.id,
            FromController::SnugSeen(message) => message.id,
            FromController::SnugAngle(message) => message.id,
            FromController::Summary(message) => message.id,
            _ => return None,
        };
        let boot_id = self.boot_id?;
        Some(Ack { boot_id, id })
    }
}
