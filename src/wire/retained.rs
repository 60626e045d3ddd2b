//! Messages that are kept until the host says it has them.

use core::fmt;

use heapless::Vec;

use super::{Ack, Alarm, Evidence, SnugAngle, SnugSeen, Summary};

/// Every place for retained messages is taken by one that was never sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RetainedFull;

impl fmt::Display for RetainedFull {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "no place for another retained message: the link is down or the outbox too small (R)"
        )
    }
}

impl core::error::Error for RetainedFull {}

#[derive(Clone, Debug)]
#[allow(clippy::large_enum_variant, reason = "no heap to box on")]
pub(super) enum Message {
    Finding(Alarm, Evidence),
    SnugSeen(SnugSeen),
    SnugAngle(SnugAngle),
    Summary(Summary),
}

#[derive(Debug)]
struct Slot {
    id: u8,
    message: Message,
    alarm_due: bool,
    rest_due: bool,
    sent: bool,
    sent_us: u64,
}

impl Slot {
    const fn is_finding(&self) -> bool {
        matches!(self.message, Message::Finding(..))
    }

    const fn is_summary(&self) -> bool {
        matches!(self.message, Message::Summary(_))
    }
}

/// Up to `R` retained messages, oldest first.
#[derive(Debug)]
pub(super) struct Retained<const R: usize> {
    slots: Vec<Slot, R>,
    next_id: u8,
    displaced: u32,
}

impl<const R: usize> Retained<R> {
    pub(super) const fn new() -> Self {
        Self {
            slots: Vec::new(),
            next_id: 0,
            displaced: 0,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.slots.len()
    }

    pub(super) const fn displaced(&self) -> u32 {
        self.displaced
    }

    /// Keeps the message made for the id that is free next.
    pub(super) fn keep(&mut self, message: impl FnOnce(u8) -> Message) -> Result<u8, RetainedFull> {
        let id = self.make_room()?;
        let mut slot = Slot {
            id,
            message: message(id),
            alarm_due: false,
            rest_due: true,
            sent: false,
            sent_us: 0,
        };
        slot.alarm_due = slot.is_finding();
        self.slots.push(slot).map_err(|_| RetainedFull)?;
        self.next_id = id.wrapping_add(1);
        Ok(id)
    }

    /// Makes sure of a place; the id that is free next.
    // Apart from `keep`, which is there once for each kind of message.
    #[inline(never)]
    fn make_room(&mut self) -> Result<u8, RetainedFull> {
        if self.slots.is_full() {
            self.displace()?;
        }
        (0..=u8::MAX)
            .map(|i| self.next_id.wrapping_add(i))
            .find(|id| self.slots.iter().all(|slot| slot.id != *id))
            .ok_or(RetainedFull)
    }

    // The oldest that was sent makes room, a finding only if nothing else can.
    fn displace(&mut self) -> Result<(), RetainedFull> {
        let oldest = |finding: bool| {
            self.slots
                .iter()
                .find(|slot| slot.sent && slot.is_finding() == finding)
                .map(|slot| slot.id)
        };
        let id = oldest(false).or_else(|| oldest(true)).ok_or(RetainedFull)?;
        self.slots.retain(|slot| slot.id != id);
        self.displaced = self.displaced.saturating_add(1);
        Ok(())
    }

    pub(super) fn release(&mut self, ack: &Ack) -> bool {
        let before = self.slots.len();
        self.slots.retain(|slot| slot.id != ack.id);
        self.slots.len() < before
    }

    /// Makes everything due again that was sent `age_us` or more ago.
    pub(super) fn resend(&mut self, now_us: u64, age_us: u64) {
        for slot in self.slots.iter_mut().filter(|slot| slot.sent) {
            // Time running backwards means a new recording: the age is then unknown, so send.
            if now_us
                .checked_sub(slot.sent_us)
                .is_none_or(|age| age >= age_us)
            {
                slot.alarm_due = slot.is_finding();
                slot.rest_due = true;
                slot.sent_us = now_us;
            }
        }
    }

    pub(super) fn next_alarm(&mut self) -> Option<Alarm> {
        let slot = self.slots.iter_mut().find(|slot| slot.alarm_due)?;
        slot.alarm_due = false;
        match slot.message {
            Message::Finding(alarm, _) => Some(alarm),
            _ => None,
        }
    }

    /// What is due beside alarms; a summary only when `summaries` says so.
    pub(super) fn next_rest(&mut self, now_us: u64, summaries: bool) -> Option<Message> {
        let slot = self
            .slots
            .iter_mut()
            .find(|slot| slot.rest_due && (summaries || !slot.is_summary()))?;
        slot.rest_due = false;
        slot.sent = true;
        slot.sent_us = now_us;
        Some(slot.message.clone())
    }
}
