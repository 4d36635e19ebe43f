//! A clinic whose services share a database server and a pair of mail folders.
//!
//! Never here: what is tested.
//! Promises: it is about noon where the clients live, so that no test runs into a midnight.

#[path = "../service/noon.rs"]
mod noon;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use chrono::{DateTime, TimeDelta, Utc};
use mail_parser::MessageParser;
use tempfile::TempDir;

use crate::server::Schema;

pub use noon::minute_in;

/// A clinic.
pub struct Clinic {
    folder: TempDir,
    pub schema: Schema,
    zone: String,
    offset: TimeDelta,
}

/// A mail that somebody has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mail {
    pub to: String,
    pub id: String,
    pub subject: String,
    pub reply_to: String,
    pub raw: Vec<u8>,
}

/// A running service; killed when it is dropped.
pub struct Service {
    child: Child,
    log: PathBuf,
}

impl Clinic {
    /// A clinic with settings for so many hosts.
    pub fn new(hosts: usize) -> Self {
        let (zone, offset) = noon::zone_at_noon();
        let clinic =
            Self { folder: tempfile::tempdir().unwrap(), schema: Schema::new(), zone, offset };
        clinic.write("plans/short.toml", PLAN);
        for host in 0..hosts {
            clinic.write(&settings_of(host), &clinic.settings(host, &clinic.schema.address()));
        }
        clinic
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, text: &str) {
        fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        fs::write(self.path(name), text).unwrap();
    }

    /// The clinic file of a host.
    pub fn settings(&self, host: usize, address: &str) -> String {
        CLINIC.replace("DATA", &format!("data-{host}")).replace("ADDRESS", address)
    }

    /// A command on a host.
    pub fn command(&self, host: usize, words: &[&str]) -> Command {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"));
        command.args(words).arg("--config").arg(self.path(&settings_of(host)));
        command.env_remove("FADEWATCH_LOG").env_remove("NOTIFY_SOCKET");
        command
    }

    /// Runs a command that must succeed. Returns what it printed.
    pub fn run(&self, host: usize, words: &[&str]) -> String {
        let ran = self.command(host, words).output().unwrap();
        assert!(ran.status.success(), "{words:?}: {}", String::from_utf8_lossy(&ran.stderr));
        String::from_utf8(ran.stdout).unwrap()
    }

    pub fn serve(&self, host: usize) -> Service {
        let log = self.path(&format!("log-{host}"));
        let stderr = File::options().create(true).append(true).open(&log).unwrap();
        let child =
            self.command(host, &["serve"]).stderr(stderr).stdout(Stdio::null()).spawn().unwrap();
        Service { child, log }
    }

    /// Enrols a client with one sitting a day and one contact.
    pub fn enroll(&self, host: usize, client: &str, sitting: DateTime<Utc>) {
        let text = CLIENT
            .replace("REF", client)
            .replace("ZONE", &self.zone)
            .replace("SITTING", &(sitting + self.offset).format("%H:%M").to_string())
            .replace("BEGINS", &(Utc::now() + self.offset).date_naive().to_string());
        let name = format!("{client}.toml");
        self.write(&name, &text);
        self.run(host, &["enroll", self.path(&name).to_str().unwrap()]);
    }

    /// All copies of all mails that people have.
    pub fn mails(&self) -> Vec<Mail> {
        let mut mails = Vec::new();
        let Ok(boxes) = fs::read_dir(self.path("mail/out")) else { return mails };
        for person in boxes {
            let person = person.unwrap();
            let Ok(files) = fs::read_dir(person.path().join("new")) else { continue };
            for file in files {
                let raw = fs::read(file.unwrap().path()).unwrap();
                let parsed = MessageParser::default().parse(&raw).unwrap();
                let reply_to =
                    parsed.reply_to().and_then(|to| to.first()?.address().map(str::to_owned));
                mails.push(Mail {
                    to: person.file_name().into_string().unwrap(),
                    id: parsed.message_id().unwrap().to_owned(),
                    subject: parsed.subject().unwrap_or_default().to_owned(),
                    reply_to: reply_to.unwrap_or_default(),
                    raw,
                });
            }
        }
        mails
    }

    /// Puts an answer to a mail in the mailbox that all services share.
    pub fn answer(&self, mail: &Mail, words: &str) {
        let (from, to, id) = (&mail.to, &mail.reply_to, &mail.id);
        let text = format!(
            "From: <{from}>\r\nTo: <{to}>\r\nSubject: Re: {}\r\nMessage-ID: <re-{id}>\r\n\
             In-Reply-To: <{id}>\r\nDate: {}\r\n\r\n{words}\r\n",
            mail.subject,
            Utc::now().to_rfc2822(),
        );
        let name = id.replace(['/', '@'], "_");
        let incoming = self.path("mail/in");
        for folder in ["tmp", "new", "cur"] {
            fs::create_dir_all(incoming.join(folder)).unwrap();
        }
        fs::write(incoming.join("tmp").join(&name), text).unwrap();
        fs::rename(incoming.join("tmp").join(&name), incoming.join("new").join(&name)).unwrap();
    }

    /// What all services have logged.
    pub fn logs(&self) -> String {
        let mut all = String::new();
        for host in 0.. {
            let Ok(log) = fs::read_to_string(self.path(&format!("log-{host}"))) else { break };
            all.push_str(&log);
        }
        all
    }

    /// The rows of an answer of the server, each with its columns.
    pub fn rows(&self, sql: &str) -> Vec<Vec<String>> {
        let told = self.schema.asked(sql).unwrap();
        told.lines().map(|row| row.split('|').map(str::to_owned).collect()).collect()
    }

    /// The one number that the server answers.
    pub fn number(&self, sql: &str) -> usize {
        self.rows(sql)[0][0].parse().unwrap()
    }
}

impl Service {
    pub fn kill(mut self) {
        self.end();
    }

    /// Asks it to stop, and waits until it has. Returns whether it ended well.
    pub fn stop(mut self) -> bool {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.child.wait().unwrap().success()
    }

    /// Stops the process where it is, or lets it go on.
    pub fn signal(&self, signal: &str) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args([signal, &pid]).status().unwrap().success());
    }

    /// How it ended, where it has.
    pub fn ended(&mut self) -> Option<bool> {
        self.child.try_wait().unwrap().map(|status| status.success())
    }

    pub fn log(&self) -> String {
        fs::read_to_string(&self.log).unwrap_or_default()
    }

    fn end(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.end();
    }
}

/// Copies of mails by Message-ID.
pub fn by_id(mails: Vec<Mail>) -> BTreeMap<String, Vec<Mail>> {
    let mut copies: BTreeMap<String, Vec<Mail>> = BTreeMap::new();
    for mail in mails {
        copies.entry(mail.id.clone()).or_default().push(mail);
    }
    copies
}

pub fn settings_of(host: usize) -> String {
    format!("clinic-{host}.toml")
}

/// Waits until something holds.
pub fn until(what: &str, patience: std::time::Duration, mut holds: impl FnMut() -> bool) {
    let begun = std::time::Instant::now();
    while !holds() {
        assert!(begun.elapsed() < patience, "waited in vain: {what}");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
}

const CLINIC: &str = r#"
name = "Hilltop Seating Clinic (invented)"
time_zone = "Europe/London"
phone = "01632 960 123"
out_of_hours = "Keep off the seat. If you feel unwell, call your emergency doctor now."
data_folder = "DATA"
plans_folder = "plans"
cover = ["seating"]

[[clinician]]
id = "seating"
name = "Ada Example"
mail = "seating@clinic.example"
role = "clinician"
language = "en"

[mail]
from = "checks@clinic.example"
give_up_after = "4h"

[mail.out]
maildir = "mail/out"

[mail.in]
maildir = "mail/in"

[watch]
daily_message = false

[store]
postgres = "ADDRESS"
"#;

const PLAN: &str = r#"id = "short"
title = "A plan of minutes, for tests only"
approved_by = "Hilltop Seating Clinic (invented)"
approved_on = 2026-03-02

[looks]
fade_limit = "30min"
slow_fade = "15min"
answer_within = "20min"
ask_again = 1
tell_clinic_after = "50min"
recheck_within = "10min"
missed_to_suspend = 2
rest_after_mark = "1min"

[stop]
repeat_alert = "30min"
pass_on_after = "60min"
bring_back_at = "06:00"
step_back = 1

[[risk.high.step]]
sit = "1min"
sittings_per_day = 1
clear_to_advance = 4
"#;

const CLIENT: &str = r#"ref = "REF"
call_name = "Sam"
risk = "high"
time_zone = "ZONE"
sittings_at = ["SITTING"]
quiet = []
plan = "short"
begins = BEGINS

[[contact]]
id = "robin"
name = "Robin"
mail = "REF@home.example"
language = "en"
"#;
