//! A browser as plain as can be: HTTP/1.1 over one connection a request, a cookie, forms.
//!
//! Never here: what pages hold.
//! Promises: it sends what browsers send with a form, and nothing else unless told.

use std::io::{self, Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

/// A browser on one board.
#[derive(Clone, Debug)]
pub struct Browser {
    host: String,
    pub cookie: Option<String>,
}

/// An answer.
#[derive(Clone, Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    /// A header by its name in small letters.
    pub fn header(&self, name: &str) -> Option<&str> {
        let named = |line: &&str| line.to_lowercase().starts_with(&format!("{name}:"));
        Some(self.head.lines().find(named)?.split_once(':')?.1.trim())
    }

    /// Whether the page shows a text.
    pub fn shows(&self, text: &str) -> bool {
        self.body.contains(text)
    }

    /// The value of the first field of that name.
    pub fn field(&self, name: &str) -> String {
        let (_, rest) = self
            .body
            .split_once(&format!("name=\"{name}\" value=\""))
            .unwrap_or_else(|| panic!("no field {name} in {}", self.body));
        rest.split('"').next().unwrap().to_owned()
    }
}

impl Browser {
    /// A browser that knows a board's host and port.
    pub fn new(host: &str) -> Self {
        Self { host: host.to_owned(), cookie: None }
    }

    pub fn get(&self, path: &str) -> Answer {
        self.raw("GET", path, &[("Host", &self.host)], "")
    }

    /// Sends a form as a page of the board would, its key out of the page at `from`.
    pub fn submit(&self, from: &str, path: &str, fields: &[(&str, &str)]) -> Answer {
        let key = self.get(from).field("form_key");
        let mut all = vec![("form_key", key.as_str())];
        all.extend(fields);
        self.post(path, &all)
    }

    /// Sends a form with these fields only.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let headers = [("Host", self.host.as_str()), ("Sec-Fetch-Site", "same-origin")];
        self.raw("POST", path, &headers, &encoded(fields))
    }

    /// Sends exactly these headers, with the cookie.
    pub fn raw(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        self.asked(method, path, headers, body).unwrap()
    }

    /// Whether a page is shown at all.
    pub fn is_answered(&self, path: &str) -> bool {
        self.asked("GET", path, &[("Host", &self.host)], "")
            .is_ok_and(|answer| answer.status == 200)
    }

    fn asked(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &str,
    ) -> io::Result<Answer> {
        let mut stream = self.begin(method, path, headers, body)?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        let answer = String::from_utf8_lossy(&answer).into_owned();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
        let status = head.split(' ').nth(1).unwrap_or_default().parse().unwrap_or_default();
        Ok(Answer { status, head: head.to_owned(), body: body.to_owned() })
    }

    /// Sends a request and hands the connection back.
    pub fn begin(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &str,
    ) -> io::Result<TcpStream> {
        let mut stream = TcpStream::connect(&self.host)?;
        stream.set_read_timeout(Some(Duration::from_secs(60)))?;
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        for (name, value) in headers {
            head.push_str(&format!("{name}: {value}\r\n"));
        }
        if let Some(cookie) = &self.cookie {
            head.push_str(&format!("Cookie: {cookie}\r\n"));
        }
        if method == "POST" {
            head.push_str("Content-Type: application/x-www-form-urlencoded\r\n");
            head.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        stream.write_all(format!("{head}\r\n{body}").as_bytes())?;
        Ok(stream)
    }
}

/// Fields as a form sends them.
pub fn encoded(fields: &[(&str, &str)]) -> String {
    serde_urlencoded::to_string(fields).unwrap()
}
