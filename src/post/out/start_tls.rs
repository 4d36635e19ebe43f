//! STARTTLS (RFC 3207), up to the point where the mail library takes over.
//!
//! Done here and not by the library, which keeps what it has read in the clear: whoever sits in
//! between could slip in answers that later pass for the server's own.
//!
//! Never here: mails, logins.
//! Promises: nothing that was read in the clear outlives the handshake; no word is said in the
//! clear but EHLO and STARTTLS.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use lettre::transport::smtp::client::AsyncTokioStream;
use tokio::io::{AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::io::{BufReader, ReadBuf};
use tokio::net::TcpStream;

use super::super::connectivity::Trouble;
use super::super::wire::{Fault, Tls, Wire};
use super::Outcome;
use super::verdict::{Stage, refusal};

/// Longest answer read in the clear, in bytes; real ones have a few hundred.
const ANSWER_BYTES_MAX: u64 = 16 * 1024;

/// Greets, asks for TLS and starts it, each step within the limit.
pub(super) async fn start_tls(
    tcp: TcpStream,
    tls: &Tls,
    hello: &str,
    limit: Duration,
) -> Result<Greeted, Outcome> {
    let mut stream = BufReader::new(tcp);
    ask(&mut stream, "", limit).await?;
    let features = ask(&mut stream, &format!("EHLO {hello}\r\n"), limit).await?;
    let offers = features.iter().any(|feature| feature.eq_ignore_ascii_case("STARTTLS"));
    if !offers {
        return Err(no_tls("the mail server does not offer STARTTLS"));
    }
    ask(&mut stream, "STARTTLS\r\n", limit).await?;
    if !stream.buffer().is_empty() {
        return Err(no_tls("words in the clear came after STARTTLS: somebody sits in between"));
    }
    match tls.wrap(stream.into_inner(), limit).await {
        Ok(wire) => Ok(Greeted { greeting: b"220 \r\n", wire }),
        Err(Fault { trouble, why }) => Err(Outcome::Unreachable { trouble, why }),
    }
}

/// Says something (or, at first, nothing) and reads the answer: its lines without their code.
async fn ask(
    stream: &mut BufReader<TcpStream>,
    words: &str,
    limit: Duration,
) -> Result<Vec<String>, Outcome> {
    let lost = |why: String| Outcome::Unreachable { trouble: Trouble::Lost, why };
    let asking = async {
        stream.write_all(words.as_bytes()).await?;
        read_answer(stream).await
    };
    let (code, lines) = match tokio::time::timeout(limit, asking).await {
        Ok(answer) => answer.map_err(|error| lost(error.to_string()))?,
        Err(_) => return Err(super::verdict::late(Stage::Greeting, limit.as_secs_f32())),
    };
    match code {
        200..=399 => Ok(lines),
        _ => Err(refusal(Stage::Greeting, code, &lines.join(" "))),
    }
}

async fn read_answer(stream: &mut BufReader<TcpStream>) -> io::Result<(u16, Vec<String>)> {
    let mut lines = Vec::new();
    let mut bounded = stream.take(ANSWER_BYTES_MAX);
    loop {
        let mut line = Vec::new();
        bounded.read_until(b'\n', &mut line).await?;
        let line = String::from_utf8_lossy(&line);
        let code = line.get(..3).and_then(|code| code.parse::<u16>().ok());
        let (Some(code), true) =
            (code.filter(|code| (200..600).contains(code)), line.ends_with('\n'))
        else {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "no answer of a mail server"));
        };
        lines.push(line.get(4..).unwrap_or("").trim_end().to_owned());
        if line.as_bytes()[3] != b'-' {
            return Ok((code, lines));
        }
    }
}

fn no_tls(why: &str) -> Outcome {
    Outcome::Unreachable { trouble: Trouble::Tls, why: why.to_owned() }
}

/// A connection after STARTTLS. The mail library waits for a greeting on each new connection; the
/// server has said its own already, so one is played to it.
#[derive(Debug)]
pub(super) struct Greeted {
    greeting: &'static [u8],
    wire: Wire,
}

impl AsyncTokioStream for Greeted {
    fn peer_addr(&self) -> io::Result<SocketAddr> {
        self.wire.peer_addr()
    }
}

impl AsyncRead for Greeted {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        if this.greeting.is_empty() {
            return Pin::new(&mut this.wire).poll_read(cx, buf);
        }
        let (now, later) = this.greeting.split_at(this.greeting.len().min(buf.remaining()));
        buf.put_slice(now);
        this.greeting = later;
        Poll::Ready(Ok(()))
    }
}

impl AsyncWrite for Greeted {
    fn poll_write(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.get_mut().wire).poll_write(cx, buf)
    }

    fn poll_flush(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().wire).poll_flush(cx)
    }

    fn poll_shutdown(self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.get_mut().wire).poll_shutdown(cx)
    }
}
