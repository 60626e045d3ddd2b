//! Where bytes come from, as the command line names it.

use std::fmt;
use std::io::{self, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::str::FromStr;
use std::time::Duration;

use socket2::{SockRef, TcpKeepalive};

const DEFAULT_BAUD: u32 = 921_600;
const CONNECT_TIMEOUT: Duration = Duration::from_secs(2);
/// How long a write may wait: behind it wait the bytes that come in.
const WRITE_TIMEOUT: Duration = Duration::from_secs(2);
/// After how long in silence the other end is asked whether it is there, how often, and how many times.
/// A controller that was switched off or whose cable was pulled says no farewell: without this the link
/// would pass for up for hours.
const KEEPALIVE: (Duration, Duration, u32) = (Duration::from_secs(5), Duration::from_secs(5), 3);
/// How long sent bytes may go without an answer: while they do, nobody is asked.
#[cfg(target_os = "linux")]
const ANSWER_TIMEOUT: Duration = Duration::from_secs(20);

/// Where bytes come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A serial port, eight data bits, no parity, one stop bit.
    Serial {
        /// Path or name of the port.
        path: String,
        /// Symbols per second.
        baud: u32,
    },
    /// A TCP server.
    Tcp {
        /// `host:port`.
        address: String,
    },
    /// Standard input; there is no way back.
    Stdin,
}

/// What a source is not called.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum SourceError {
    /// No known form.
    #[error(
        "\"{0}\" is no source: write serial:/dev/ttyUSB0?baud=921600, tcp:HOST:PORT, or - for standard input"
    )]
    UnknownForm(String),
    /// A parameter behind `?` that is not known, or not a number above 0.
    #[error(
        "\"{0}\" in the source is not understood: the only parameter is baud, as in ?baud=921600"
    )]
    Parameter(String),
}

impl FromStr for Source {
    type Err = SourceError;

    fn from_str(text: &str) -> Result<Self, SourceError> {
        let unknown = || SourceError::UnknownForm(text.to_owned());
        if text == "-" {
            return Ok(Self::Stdin);
        }
        if let Some(address) = text.strip_prefix("tcp:") {
            let (host, port) = address.rsplit_once(':').ok_or_else(unknown)?;
            if host.is_empty() || port.parse::<u16>().is_err() {
                return Err(unknown());
            }
            return Ok(Self::Tcp {
                address: address.to_owned(),
            });
        }
        let rest = text.strip_prefix("serial:").ok_or_else(unknown)?;
        let (path, parameter) = match rest.split_once('?') {
            Some((path, parameter)) => (path, Some(parameter)),
            None => (rest, None),
        };
        if path.is_empty() {
            return Err(unknown());
        }
        let baud = match parameter {
            None => DEFAULT_BAUD,
            Some(parameter) => parameter
                .strip_prefix("baud=")
                .and_then(|number| number.parse().ok())
                .filter(|baud| *baud > 0)
                .ok_or_else(|| SourceError::Parameter(parameter.to_owned()))?,
        };
        Ok(Self::Serial {
            path: path.to_owned(),
            baud,
        })
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial { path, baud } => write!(f, "serial:{path}?baud={baud}"),
            Self::Tcp { address } => write!(f, "tcp:{address}"),
            Self::Stdin => f.write_str("-"),
        }
    }
}

type Ends = (Box<dyn Read + Send>, Option<Box<dyn Write + Send>>);

impl Source {
    /// Opens it once, with reads that wait at most `timeout` (standard input: until bytes come).
    pub(super) fn connect(&self, timeout: Duration) -> io::Result<Ends> {
        match self {
            Self::Serial { path, baud } => {
                let port = serialport::new(path, *baud).timeout(timeout).open()?;
                let writer = port.try_clone()?;
                Ok((Box::new(port), Some(Box::new(writer))))
            }
            Self::Tcp { address } => {
                let stream = connect_any(address)?;
                stream.set_read_timeout(Some(timeout))?;
                stream.set_write_timeout(Some(WRITE_TIMEOUT))?;
                stream.set_nodelay(true)?;
                notice_silence(&stream)?;
                let writer = stream.try_clone()?;
                Ok((Box::new(stream), Some(Box::new(writer))))
            }
            Self::Stdin => Ok((Box::new(io::stdin()), None)),
        }
    }
}

/// Has the system end a connection whose other end is gone.
fn notice_silence(stream: &TcpStream) -> io::Result<()> {
    let (time, interval, retries) = KEEPALIVE;
    let keepalive = TcpKeepalive::new().with_time(time).with_interval(interval);
    #[cfg(not(windows))]
    let keepalive = keepalive.with_retries(retries);
    #[cfg(windows)]
    let _ = retries;
    let socket = SockRef::from(stream);
    socket.set_tcp_keepalive(&keepalive)?;
    #[cfg(target_os = "linux")]
    socket.set_tcp_user_timeout(Some(ANSWER_TIMEOUT))?;
    Ok(())
}

fn connect_any(address: &str) -> io::Result<TcpStream> {
    let mut last = io::Error::other(format!("{address} has no address"));
    for candidate in address.to_socket_addrs()? {
        match TcpStream::connect_timeout(&candidate, CONNECT_TIMEOUT) {
            Ok(stream) => return Ok(stream),
            Err(error) => last = error,
        }
    }
    Err(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sources_are_read_and_written_the_same() {
        for text in [
            "serial:/dev/ttyUSB0?baud=115200",
            "tcp:127.0.0.1:5751",
            "tcp:[::1]:5751",
            "-",
        ] {
            let source: Source = text.parse().expect(text);
            assert_eq!(source.to_string(), text);
        }
        let source: Source = "serial:COM3".parse().expect("without baud");
        assert_eq!(source.to_string(), "serial:COM3?baud=921600");
    }

    #[test]
    fn a_link_over_tcp_notices_that_the_other_end_is_gone() {
        let server = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = server.local_addr().expect("an address").to_string();
        let stream = connect_any(&address).expect("a connection");
        notice_silence(&stream).expect("set");
        let socket = SockRef::from(&stream);
        // What the system really took, in whole seconds.
        assert!(socket.keepalive().expect("told"));
        assert_eq!(socket.tcp_keepalive_time().expect("told"), KEEPALIVE.0);
        assert_eq!(socket.tcp_keepalive_interval().expect("told"), KEEPALIVE.1);
        assert_eq!(socket.tcp_keepalive_retries().expect("told"), KEEPALIVE.2);
    }

    #[test]
    fn what_is_no_source_is_refused() {
        for text in [
            "",
            "/dev/ttyUSB0",
            "tcp:host",
            "tcp::1",
            "tcp:h:99999",
            "serial:",
        ] {
            let error = text.parse::<Source>();
            assert_eq!(error, Err(SourceError::UnknownForm(text.to_owned())));
        }
        for (text, bad) in [
            ("serial:a?baud=0", "baud=0"),
            ("serial:a?parity=e", "parity=e"),
        ] {
            let error = text.parse::<Source>();
            assert_eq!(error, Err(SourceError::Parameter(bad.to_owned())));
        }
    }
}
