//! The list of messages and their numbers.

use core::fmt;

use serde::{Serialize, de::DeserializeOwned};

use super::bytes;
use super::frame::{Frame, PROTO};
use super::{
    Ack, Alarm, Cycle, EarlierEvidence, EarlierHello, Evidence, EvidenceWithoutPlace, Finish,
    Heartbeat, Hello, JobChunk, JobReply, LiftStop, Points, Sample, SnugAngle, SnugSeen, Start,
    StartTurn, Summary, Thinned,
};

/// A message with the number that stands for it.
pub trait Payload: Serialize + DeserializeOwned {
    /// Its number; never reused.
    const KIND: u8;
}

/// Why a frame that arrived whole says nothing to this version. Keep its bytes: a newer one may
/// read them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum MessageError {
    /// The sender speaks another protocol version.
    UnknownProtocol(u8),
    /// No message of this number is known in this direction.
    UnknownKind(u8),
    /// The payload is not what its number promises.
    Malformed {
        /// Number of the message.
        kind: u8,
    },
    /// Bytes are left over behind the message.
    LeftOver {
        /// Number of the message.
        kind: u8,
        /// How many.
        bytes: usize,
    },
}

impl fmt::Display for MessageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownProtocol(proto) => write!(
                f,
                "frame of protocol {proto}, this version speaks {PROTO}: read the log with a newer version"
            ),
            Self::UnknownKind(kind) => write!(
                f,
                "message kind {kind} is not known in this direction: read the log with a newer version"
            ),
            Self::Malformed { kind } => write!(
                f,
                "message kind {kind} has a sound CRC but not its layout: the sender's software is at fault"
            ),
            Self::LeftOver { kind, bytes } => write!(
                f,
                "message kind {kind} is followed by {bytes} bytes: the sender's software is at fault"
            ),
        }
    }
}

impl core::error::Error for MessageError {}

fn take<T: Payload>(frame: &Frame<'_>) -> Result<T, MessageError> {
    let kind = T::KIND;
    match bytes::read(frame.payload) {
        Ok((message, [])) => Ok(message),
        Ok((_, rest)) => Err(MessageError::LeftOver {
            kind,
            bytes: rest.len(),
        }),
        Err(_) => Err(MessageError::Malformed { kind }),
    }
}

macro_rules! messages {
    ($(#[$doc:meta])* $name:ident { $($(#[$line:meta])* $message:ident = $kind:literal $(| $earlier_kind:literal $earlier:ident)*),+ $(,)? }) => {
        $(impl Payload for $message { const KIND: u8 = $kind; })+
        $($(impl Payload for $earlier { const KIND: u8 = $earlier_kind; })*)+

        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[non_exhaustive]
        #[allow(clippy::large_enum_variant, reason = "no heap to box on; lives for one call")]
        pub enum $name { $($(#[$line])* $message($message)),+ }

        impl $name {
            /// Reads the message in a frame.
            ///
            /// # Errors
            /// [`MessageError`] when the frame is for another version or its sender at fault.
            pub fn decode(frame: &Frame<'_>) -> Result<Self, MessageError> {
                if frame.proto != PROTO {
                    return Err(MessageError::UnknownProtocol(frame.proto));
                }
                match frame.kind {
                    $($kind => take(frame).map(Self::$message),)+
                    $($($earlier_kind => take::<$earlier>(frame).map(|m| Self::$message(m.into())),)*)+
                    kind => Err(MessageError::UnknownKind(kind)),
                }
            }
        }
    };
}

messages! {
    /// Everything a controller says.
    FromController {
        /// Who is speaking, and which run this is.
        Hello = 12 | 1 EarlierHello,
        /// Points of the torque–angle curve.
        Points = 2,
        /// A finding, in brief and at once.
        Alarm = 3,
        /// The rest of that finding.
        Evidence = 14 | 11 EvidenceWithoutPlace | 4 EarlierEvidence,
        /// The snug event.
        SnugSeen = 5,
        /// The refined snug angle.
        SnugAngle = 6,
        /// The answer for a run.
        Summary = 7,
        /// How many curve points were left out.
        Thinned = 8,
        /// Sign of life.
        Heartbeat = 9,
        /// Answer to a job transfer.
        JobReply = 10,
        /// How the control loop fares.
        Cycle = 13,
    }
}

messages! {
    /// Everything a host says.
    ToController {
        /// One reading of the arm.
        Sample = 64,
        /// A retained message arrived.
        Ack = 65,
        /// A piece of the job.
        JobChunk = 66,
        /// Begin a run.
        Start = 67,
        /// End the run.
        Finish = 68,
        /// Lift the latch of the permit output.
        LiftStop = 69,
        /// Begin a run of one bolt in one pass.
        StartTurn = 70,
    }
}
