//! Hands a mail to the test server's port for strangers, byte for byte.
//!
//! Never here: what the mail says.
//! Promises: every step of the server is checked; the bytes go out as they are given.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::time::Duration;

use crate::peers::Peers;

/// Sends a mail from one address to another; `raw` has CRLF at the end of every line.
pub fn send(peers: &Peers, from: &str, to: &str, raw: &[u8]) {
    let mut session = Session::open(peers.smtp_port());
    session.say(b"EHLO home.test\r\n", 250);
    session.say(format!("MAIL FROM:<{from}>\r\n").as_bytes(), 250);
    session.say(format!("RCPT TO:<{to}>\r\n").as_bytes(), 250);
    session.say(b"DATA\r\n", 354);
    let mut mail = dotted(raw);
    mail.extend(b"\r\n.\r\n");
    session.say(&mail, 250);
    session.say(b"QUIT\r\n", 221);
}

/// A line that begins with a dot gets another one (RFC 5321, 4.5.2).
fn dotted(raw: &[u8]) -> Vec<u8> {
    let mut mail = Vec::with_capacity(raw.len() + 64);
    for line in raw.split_inclusive(|byte| *byte == b'\n') {
        if line.starts_with(b".") {
            mail.push(b'.');
        }
        mail.extend_from_slice(line);
    }
    mail
}

struct Session {
    out: TcpStream,
    answers: BufReader<TcpStream>,
}

impl Session {
    fn open(port: u16) -> Self {
        let out = TcpStream::connect(("127.0.0.1", port)).unwrap();
        out.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        out.set_nodelay(true).unwrap();
        let answers = BufReader::new(out.try_clone().unwrap());
        let mut session = Self { out, answers };
        session.hear(220);
        session
    }

    fn say(&mut self, words: &[u8], expected: u16) {
        self.out.write_all(words).unwrap();
        self.hear(expected);
    }

    fn hear(&mut self, expected: u16) {
        loop {
            let mut line = String::new();
            self.answers.read_line(&mut line).unwrap();
            let (code, rest) = line.split_at_checked(3).expect("the server answers");
            assert_eq!(code, expected.to_string(), "{line}");
            if !rest.starts_with('-') {
                return;
            }
        }
    }
}
