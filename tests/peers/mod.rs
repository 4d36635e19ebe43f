//! Starts the real mail servers of `peers.sh` for a test binary, and stops them when it ends.
//!
//! Never here: what is tested.
//! Promises: the servers end with the test process, however that ends; two sets never meet.

// Each test binary uses its own part of this.
#![allow(dead_code)]

use std::collections::HashMap;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// The user that the mailboxes belong to.
const MAIL_ID: u32 = 5000;

/// A running pair of Postfix and Dovecot.
pub struct Peers {
    known: HashMap<String, String>,
    child: Child,
}

/// The servers that all tests of this binary share; started by the first that asks.
pub fn shared() -> &'static Peers {
    static SHARED: OnceLock<Peers> = OnceLock::new();
    SHARED.get_or_init(Peers::start)
}

impl Peers {
    /// Servers of one's own, for tests that stop them.
    pub fn start() -> Self {
        let mut child = Command::new("bash")
            .arg(script())
            .arg("run")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("bash starts");
        let lines = BufReader::new(child.stdout.take().expect("output is piped")).lines();
        let lines: Vec<String> = lines.map_while(Result::ok).take_while(|l| l != "READY").collect();
        let known: HashMap<_, _> = lines
            .iter()
            .filter_map(|line| line.split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        assert!(known.contains_key("TOKEN_SECRET"), "the mail servers did not start; see above");
        Self { known, child }
    }

    /// The host to connect to, as in the certificate.
    pub fn host(&self) -> &str {
        &self.known["HOST"]
    }

    /// Takes mail like a stranger's server would find it: plain, no login, known users only.
    pub fn smtp_port(&self) -> u16 {
        self.port("SMTP_PORT")
    }

    /// Takes mail of users: STARTTLS and a login.
    pub fn submission_port(&self) -> u16 {
        self.port("SUBMISSION_PORT")
    }

    /// The same with TLS from the start.
    pub fn smtps_port(&self) -> u16 {
        self.port("SMTPS_PORT")
    }

    /// IMAP, plain or STARTTLS.
    pub fn imap_port(&self) -> u16 {
        self.port("IMAP_PORT")
    }

    /// IMAP with TLS from the start.
    pub fn imaps_port(&self) -> u16 {
        self.port("IMAPS_PORT")
    }

    /// The authority that signed the servers' certificate.
    pub fn ca_file(&self) -> PathBuf {
        self.known["CA_FILE"].clone().into()
    }

    /// An authority that did not.
    pub fn other_ca_file(&self) -> PathBuf {
        self.known["OTHER_CA_FILE"].clone().into()
    }

    /// The user's address, also the login name.
    pub fn address(&self, user: &str) -> String {
        format!("{user}@{}", self.known["DOMAIN"])
    }

    /// The user's password.
    pub fn password(&self, user: &str) -> String {
        format!("{user}-pw")
    }

    /// A token for the user, valid that long; below zero, one that has lapsed.
    pub fn token(&self, user: &str, seconds: i64) -> String {
        self.script("token", &[user, &seconds.to_string()]).trim().to_owned()
    }

    /// Stops `smtp` or `imap`.
    pub fn stop(&self, which: &str) {
        self.script("stop", &[which]);
    }

    /// Starts it again.
    pub fn start_again(&self, which: &str) {
        self.script("start", &[which]);
    }

    /// Both servers show a certificate that has lapsed.
    pub fn let_certificate_lapse(&self) {
        self.script("lapse", &[]);
    }

    /// Both servers show a valid certificate again.
    pub fn renew_certificate(&self) {
        self.script("renew", &[]);
    }

    /// The user's maildir.
    pub fn maildir(&self, user: &str) -> PathBuf {
        Path::new(&self.known["DIR"])
            .join("mail")
            .join(&self.known["DOMAIN"])
            .join(user)
            .join("Maildir")
    }

    /// The log of Postfix so far.
    pub fn smtp_log(&self) -> String {
        let path = Path::new(&self.known["DIR"]).join("log/postfix.log");
        std::fs::read_to_string(path).unwrap_or_default()
    }

    /// The mails in a part of the user's maildir (`new`, `cur`), as file name and content.
    pub fn mails_in(&self, user: &str, part: &str) -> Vec<(String, Vec<u8>)> {
        let Ok(entries) = std::fs::read_dir(self.maildir(user).join(part)) else { return vec![] };
        let read = |entry: std::fs::DirEntry| {
            // A server may rename the file between listing and reading; it shows up next time.
            let content = std::fs::read(entry.path()).ok()?;
            Some((entry.file_name().to_string_lossy().into_owned(), content))
        };
        entries.filter_map(|entry| read(entry.ok()?)).collect()
    }

    /// Waits until a mail with this text has come into the user's mailbox.
    pub fn mail_with(&self, user: &str, text: &str) -> Vec<u8> {
        let until = Instant::now() + Duration::from_secs(15);
        while Instant::now() < until {
            let mails = ["new", "cur"].map(|part| self.mails_in(user, part)).concat();
            let found =
                mails.into_iter().find(|(_, mail)| String::from_utf8_lossy(mail).contains(text));
            if let Some((_, mail)) = found {
                return mail;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("no mail with {text:?} came to {user}");
    }

    /// Puts a file into the user's maildir by hand.
    pub fn put(&self, user: &str, part: &str, name: &str, content: &[u8]) {
        let maildir = self.maildir(user);
        let own = |path: &Path| {
            std::os::unix::fs::chown(path, Some(MAIL_ID), Some(MAIL_ID)).expect("chown works")
        };
        for folder in
            [maildir.clone(), maildir.join("tmp"), maildir.join("new"), maildir.join("cur")]
        {
            if !folder.exists() {
                std::fs::create_dir(&folder).expect("the folder can be made");
                own(&folder);
            }
        }
        let draft = maildir.join("tmp").join(name);
        std::fs::write(&draft, content).expect("the mail can be written");
        own(&draft);
        std::fs::rename(draft, maildir.join(part).join(name)).expect("the mail can be moved");
    }

    fn port(&self, name: &str) -> u16 {
        self.known[name].parse().expect("a port is a number")
    }

    fn script(&self, command: &str, rest: &[&str]) -> String {
        let output = Command::new("bash")
            .arg(script())
            .arg(command)
            .arg(&self.known["DIR"])
            .args(rest)
            .stderr(Stdio::inherit())
            .output()
            .expect("bash starts");
        assert!(output.status.success(), "peers.sh {command} {rest:?} failed");
        String::from_utf8(output.stdout).expect("the script prints text")
    }
}

impl Drop for Peers {
    fn drop(&mut self) {
        // The end of its input tells the script to stop the servers; it does so by itself.
        drop(self.child.stdin.take());
    }
}

fn script() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/peers/peers.sh")
}
