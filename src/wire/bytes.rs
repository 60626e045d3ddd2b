//! Bytes in postcard's format, read and written by calls: postcard's own flavours are unrolled into every
//! field of every message, which takes several kB of flash.

use postcard::{Deserializer, Error, Result, Serializer, de_flavors, ser_flavors};
use serde::{Deserialize, Serialize};

/// Writes `message` to the front of `room`; returns the bytes used.
///
/// # Errors
/// Where it does not fit.
pub fn write<T: Serialize + ?Sized>(message: &T, room: &mut [u8]) -> Result<usize> {
    let mut serializer = Serializer {
        output: Writer { room, used: 0 },
    };
    message.serialize(&mut serializer)?;
    Ok(serializer.output.used)
}

/// Reads a message from the front of `bytes`; returns what is left over, too.
///
/// # Errors
/// Where the bytes are no such message.
pub fn read<'de, T: Deserialize<'de>>(bytes: &'de [u8]) -> Result<(T, &'de [u8])> {
    let mut deserializer = Deserializer::from_flavor(Reader(bytes));
    let message = T::deserialize(&mut deserializer)?;
    Ok((message, deserializer.finalize()?))
}

struct Writer<'a> {
    room: &'a mut [u8],
    used: usize,
}

impl ser_flavors::Flavor for Writer<'_> {
    type Output = usize;

    #[inline(never)]
    fn try_extend(&mut self, data: &[u8]) -> Result<()> {
        let end = self.used.saturating_add(data.len());
        let room = (self.room.get_mut(self.used..end)).ok_or(Error::SerializeBufferFull)?;
        for (to, from) in room.iter_mut().zip(data) {
            *to = *from;
        }
        self.used = end;
        Ok(())
    }

    #[inline(never)]
    fn try_push(&mut self, data: u8) -> Result<()> {
        let place = (self.room.get_mut(self.used)).ok_or(Error::SerializeBufferFull)?;
        *place = data;
        self.used = self.used.saturating_add(1);
        Ok(())
    }

    fn finalize(self) -> Result<usize> {
        Ok(self.used)
    }
}

struct Reader<'de>(&'de [u8]);

impl<'de> Reader<'de> {
    #[inline(never)]
    fn take(&mut self, count: usize) -> Result<&'de [u8]> {
        let (taken, rest) =
            (self.0.split_at_checked(count)).ok_or(Error::DeserializeUnexpectedEnd)?;
        self.0 = rest;
        Ok(taken)
    }
}

impl<'de> de_flavors::Flavor<'de> for Reader<'de> {
    type Remainder = &'de [u8];
    type Source = &'de [u8];

    #[inline(never)]
    fn pop(&mut self) -> Result<u8> {
        let (first, rest) = (self.0.split_first()).ok_or(Error::DeserializeUnexpectedEnd)?;
        self.0 = rest;
        Ok(*first)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.0.len())
    }

    // Shows the caller's compiler that the length is right: postcard copies from it as an array, and a
    // panic would be reachable.
    #[inline(always)]
    fn try_take_n(&mut self, count: usize) -> Result<&'de [u8]> {
        let taken = self.take(count)?.get(..count);
        taken.ok_or(Error::DeserializeUnexpectedEnd)
    }

    fn finalize(self) -> Result<&'de [u8]> {
        Ok(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::Plan;
    use crate::wire::plan::tests_plan as plan;

    #[test]
    fn bytes_are_those_of_postcard() {
        let (mut ours, mut theirs) = ([0; 1024], [0; 1024]);
        let used = write(&plan(), &mut ours).unwrap();
        assert_eq!(
            &ours[..used],
            postcard::to_slice(&plan(), &mut theirs).unwrap()
        );
        let (read_back, rest) = read::<Plan>(&ours[..used + 3]).unwrap();
        assert_eq!((read_back, rest), (plan(), &[0; 3][..]));
    }

    #[test]
    fn what_is_cut_short_or_does_not_fit_is_told() {
        let mut bytes = [0; 1024];
        let used = write(&plan(), &mut bytes).unwrap();
        for short in 0..used {
            assert_eq!(
                read::<Plan>(&bytes[..short]).err(),
                Some(Error::DeserializeUnexpectedEnd)
            );
            let mut room = [0; 1024];
            assert_eq!(
                write(&plan(), &mut room[..short]),
                Err(Error::SerializeBufferFull)
            );
        }
    }
}
