//! Text into a caller's buffer.

use core::ffi::c_char;
use core::fmt::{self, Write};

/// A caller's buffer, written as C text: always ended by a NUL, cut where the room ends.
pub struct Text {
    at: *mut c_char,
    room: usize,
}

impl Text {
    /// Takes a buffer of `room` bytes; null or no room: what is written is dropped.
    ///
    /// # Safety
    /// `at` is null, or `room` bytes can be written there as long as this value lives.
    pub unsafe fn new(at: *mut c_char, room: usize) -> Self {
        let room = if at.is_null() { 0 } else { room };
        let text = Self { at, room };
        text.end();
        text
    }

    fn end(&self) {
        if self.room > 0 {
            // SAFETY: at least one byte is left, by the promise of `new`.
            unsafe { self.at.write(0) };
        }
    }
}

impl Write for Text {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        let left = self.room.saturating_sub(1);
        let mut fits = text.len().min(left);
        // A cut character would be no UTF-8.
        while !text.is_char_boundary(fits) {
            fits = fits.saturating_sub(1);
        }
        if fits > 0 {
            // SAFETY: `fits` bytes and a NUL are left; Rust text cannot overlap a caller's buffer.
            unsafe { core::ptr::copy_nonoverlapping(text.as_ptr(), self.at.cast::<u8>(), fits) };
            self.at = self.at.wrapping_add(fits);
            self.room = self.room.saturating_sub(fits);
            self.end();
        }
        if fits < text.len() {
            self.room = 0;
            return Err(fmt::Error);
        }
        Ok(())
    }
}

/// Turns the names of Rust's enums, `CamelCase`, into `snake_case`.
pub struct SnakeCase<'a> {
    out: &'a mut Text,
    first: bool,
}

impl<'a> SnakeCase<'a> {
    /// Writes on to `out`.
    pub fn new(out: &'a mut Text) -> Self {
        Self { out, first: true }
    }
}

impl Write for SnakeCase<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.chars().try_for_each(|c| self.write_char(c))
    }

    fn write_char(&mut self, c: char) -> fmt::Result {
        if c.is_ascii_uppercase() && !core::mem::take(&mut self.first) {
            self.out.write_char('_')?;
        }
        self.first = false;
        self.out.write_char(c.to_ascii_lowercase())
    }
}
