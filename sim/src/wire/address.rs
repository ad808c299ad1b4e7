//! Where a device is: `tcp:HOST:PORT` or `serial:PATH[@BAUD]`.

use std::fmt;
use std::io::{self, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::str::FromStr;
use std::time::Duration;

use serial2::SerialPort;

use crate::error::InputError;

/// An address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// Over the network: host and port.
    Tcp(String),
    /// Over a serial line.
    Serial {
        /// The line's device file, or its name.
        path: String,
        /// Bits a second.
        baud: u32,
    },
}

/// Bits a second where none are said.
pub const USUAL_BAUD: u32 = 115_200;

/// How long a connection may take to come about.
const CONNECT: Duration = Duration::from_secs(5);

/// How long a read waits: who reads asks the clock in between.
const READ: Duration = Duration::from_millis(20);

/// How long a write may take.
const WRITE: Duration = Duration::from_secs(2);

impl FromStr for Address {
    type Err = InputError;

    fn from_str(text: &str) -> Result<Self, InputError> {
        let wrong = |message: &str| InputError::new(message).field("ADDRESS").value(text);
        match text.split_once(':') {
            Some(("tcp", place)) => {
                let Some((host, port)) =
                    place.rsplit_once(':').filter(|(host, _)| !host.is_empty())
                else {
                    return Err(wrong("must name host and port: tcp:HOST:PORT"));
                };
                match port.parse::<u16>() {
                    Ok(port) => Ok(Self::Tcp(format!("{host}:{port}"))),
                    Err(_) => Err(wrong("must end in a port from 0 to 65535")),
                }
            }
            Some(("serial", place)) => {
                let (path, baud) = match place.rsplit_once('@') {
                    None => (place, USUAL_BAUD),
                    Some((path, baud)) => match baud.parse() {
                        Ok(baud @ 300..=4_000_000) => (path, baud),
                        _ => {
                            return Err(wrong(
                                "must have 300 to 4000000 bits a second after the @",
                            ));
                        }
                    },
                };
                if path.is_empty() {
                    return Err(wrong("must name the line: serial:PATH or serial:PATH@BAUD"));
                }
                Ok(Self::Serial { path: path.to_owned(), baud })
            }
            _ => Err(wrong("must be tcp:HOST:PORT or serial:PATH[@BAUD]")),
        }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tcp(place) => write!(f, "tcp:{place}"),
            Self::Serial { path, baud } => write!(f, "serial:{path}@{baud}"),
        }
    }
}

/// Bytes to and from a device. A read that gets nothing ends after some milliseconds.
pub trait Port: Read + Write + Send {}

impl<T: Read + Write + Send> Port for T {}

impl Address {
    /// Opens the line.
    ///
    /// # Errors
    /// Why it cannot be opened.
    pub fn open(&self) -> Result<Box<dyn Port>, InputError> {
        self.try_open().map_err(|cause| {
            InputError::new(format!("cannot be reached: {cause}"))
                .field("ADDRESS")
                .value(self)
                .suggest("See that the device is on and that no other program has the line")
        })
    }

    fn try_open(&self) -> io::Result<Box<dyn Port>> {
        match self {
            Self::Tcp(place) => {
                let mut last = io::Error::from(io::ErrorKind::AddrNotAvailable);
                for address in place.to_socket_addrs()? {
                    match TcpStream::connect_timeout(&address, CONNECT) {
                        Ok(stream) => {
                            stream.set_nodelay(true)?;
                            stream.set_read_timeout(Some(READ))?;
                            stream.set_write_timeout(Some(WRITE))?;
                            return Ok(Box::new(stream));
                        }
                        Err(cause) => last = cause,
                    }
                }
                Err(last)
            }
            Self::Serial { path, baud } => {
                let mut port = SerialPort::open(path, *baud)?;
                port.set_read_timeout(READ)?;
                port.set_write_timeout(WRITE)?;
                Ok(Box::new(port))
            }
        }
    }
}
