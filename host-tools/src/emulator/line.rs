//! The lines between us and the emulated board's ports. Unix only, as local sockets are; tried on Linux.

use std::io::{self, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::PathBuf;
use std::time::Duration;

/// One line, from our end. A wide one holds megabytes on its way. A narrow one counts what it holds by
/// writes rather than by bytes (Linux: every write to a local socket takes a buffer of its own), which
/// makes it some hundred frames or bytes, however the other side writes.
#[derive(Debug)]
pub enum Line {
    /// Over TCP.
    Wide(TcpStream),
    /// Over a local socket.
    Narrow(UnixStream),
}

impl Read for Line {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::Wide(stream) => stream.read(buffer),
            Self::Narrow(stream) => stream.read(buffer),
        }
    }
}

impl Write for Line {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Wide(stream) => stream.write(bytes),
            Self::Narrow(stream) => stream.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Wide(stream) => stream.flush(),
            Self::Narrow(stream) => stream.flush(),
        }
    }
}

/// Where the emulator comes to.
#[derive(Debug)]
pub enum Listener {
    /// Over TCP.
    Wide(TcpListener),
    /// Over a local socket at this path.
    Narrow(UnixListener, PathBuf),
}

impl Listener {
    /// At a port of the system's choice.
    pub fn wide() -> io::Result<Self> {
        Ok(Self::Wide(TcpListener::bind("127.0.0.1:0")?))
    }

    /// At `path`, which must be free.
    pub fn narrow(path: PathBuf) -> io::Result<Self> {
        Ok(Self::Narrow(UnixListener::bind(&path)?, path))
    }

    /// As the emulator takes it.
    pub fn address(&self) -> io::Result<String> {
        match self {
            Self::Wide(listener) => Ok(format!("tcp:{}", listener.local_addr()?)),
            Self::Narrow(_, path) => Ok(format!("unix:{}", path.display())),
        }
    }

    /// The emulator's end, if it has come; a read or write that lasts too long fails.
    pub fn try_accept(&self, patience: Duration) -> io::Result<Line> {
        match self {
            Self::Wide(listener) => {
                listener.set_nonblocking(true)?;
                let (stream, _) = listener.accept()?;
                stream.set_nonblocking(false)?;
                stream.set_nodelay(true)?;
                stream.set_read_timeout(Some(patience))?;
                stream.set_write_timeout(Some(patience))?;
                Ok(Line::Wide(stream))
            }
            Self::Narrow(listener, _) => {
                listener.set_nonblocking(true)?;
                let (stream, _) = listener.accept()?;
                stream.set_nonblocking(false)?;
                stream.set_read_timeout(Some(patience))?;
                stream.set_write_timeout(Some(patience))?;
                Ok(Line::Narrow(stream))
            }
        }
    }
}
