//! Frames: HTTP/2 written by hand (RFC 9113, headers as in RFC 7541), for what no library would send.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};

/// What every connection begins with.
const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
/// Where attackers come from: another machine than the healthy client, as far as the service can see.
const ATTACKER: IpAddr = IpAddr::V4(Ipv4Addr::new(127, 0, 0, 2));
/// Longest wait for a connection.
const PATIENCE: Duration = Duration::from_secs(2);

/// Kinds of frames, RFC 9113, section 6.
pub(crate) const DATA: u8 = 0;
pub(crate) const HEADERS: u8 = 1;
pub(crate) const RST_STREAM: u8 = 3;
pub(crate) const SETTINGS: u8 = 4;
pub(crate) const PING: u8 = 6;
pub(crate) const WINDOW_UPDATE: u8 = 8;
pub(crate) const CONTINUATION: u8 = 9;

/// Flags of frames.
pub(crate) const END_STREAM: u8 = 1;
pub(crate) const END_HEADERS: u8 = 4;

/// A connection that says what it is told to.
pub(crate) struct Wire {
    pub(crate) stream: TcpStream,
}

impl Wire {
    /// A connection that says nothing yet.
    pub(crate) async fn silent(service: SocketAddr) -> io::Result<Self> {
        let socket = TcpSocket::new_v4()?;
        socket.bind(SocketAddr::new(ATTACKER, 0))?;
        let stream = tokio::time::timeout(PATIENCE, socket.connect(service)).await??;
        stream.set_nodelay(true)?;
        Ok(Self { stream })
    }

    /// A connection that has greeted, with these settings (RFC 9113, 6.5.2).
    pub(crate) async fn greeted(service: SocketAddr, settings: &[(u16, u32)]) -> io::Result<Self> {
        let mut wire = Self::silent(service).await?;
        let settings: Vec<u8> = settings
            .iter()
            .flat_map(|(what, value)| [&what.to_be_bytes()[..], &value.to_be_bytes()].concat())
            .collect();
        wire.write(&[PREFACE, &frame(SETTINGS, 0, 0, &settings)].concat()).await?;
        Ok(wire)
    }

    /// Sends bytes as they are.
    pub(crate) async fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.stream.write_all(bytes).await
    }

    /// Reads what has come and forgets it. Fails when the service has closed the connection.
    pub(crate) fn drain(&mut self) -> io::Result<usize> {
        let mut bytes = [0; 16_384];
        let mut all = 0;
        loop {
            match self.stream.try_read(&mut bytes) {
                Ok(0) => return Err(io::ErrorKind::UnexpectedEof.into()),
                Ok(read) => all += read,
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => return Ok(all),
                Err(error) => return Err(error),
            }
        }
    }

    /// Waits until the service closes the connection; gives what it said until then.
    pub(crate) async fn closed(&mut self) -> Vec<u8> {
        let mut said = Vec::new();
        // A reset is a close as well.
        let _ = self.stream.read_to_end(&mut said).await;
        said
    }
}

/// A frame.
pub(crate) fn frame(kind: u8, flags: u8, stream: u32, payload: &[u8]) -> Vec<u8> {
    let [_, length @ ..] = u32::try_from(payload.len()).unwrap_or(u32::MAX).to_be_bytes();
    [&length[..], &[kind, flags], &stream.to_be_bytes(), payload].concat()
}

/// A header that no table is to remember (RFC 7541, 6.2.2), both texts up to 16 KiB.
pub(crate) fn header(name: &str, value: &str) -> Vec<u8> {
    [&[0][..], &length(name.len()), name.as_bytes(), &length(value.len()), value.as_bytes()].concat()
}

/// A length with a prefix of seven bits (RFC 7541, 5.1).
fn length(mut rest: usize) -> Vec<u8> {
    let small = |n: usize| u8::try_from(n).unwrap_or(0);
    if rest < 127 {
        return vec![small(rest)];
    }
    let mut bytes = vec![127];
    rest -= 127;
    while rest >= 128 {
        bytes.push(small(rest % 128) | 128);
        rest /= 128;
    }
    bytes.push(small(rest));
    bytes
}

/// The headers of a call of the contract, with a key or without.
pub(crate) fn call(method: &str, key: Option<&str>) -> Vec<u8> {
    call_of(&format!("/nextrung.v1.{method}"), key)
}

/// The headers of a call of any path, with a key or without.
pub(crate) fn call_of(path: &str, key: Option<&str>) -> Vec<u8> {
    let mut block = [
        header(":method", "POST"),
        header(":scheme", "http"),
        header(":path", path),
        header(":authority", "hostile"),
        header("content-type", "application/grpc"),
        header("te", "trailers"),
    ]
    .concat();
    if let Some(key) = key {
        block.extend(header("authorization", &format!("Bearer {key}")));
    }
    block
}

/// A message with its gRPC prefix.
pub(crate) fn message(bytes: &[u8]) -> Vec<u8> {
    let length = u32::try_from(bytes.len()).unwrap_or(u32::MAX).to_be_bytes();
    [&[0][..], &length, bytes].concat()
}
