//! A clinic on a folder of its own: its files, its client `A7`, its people.
//!
//! Never here: what is tested.
//! Promises: two clinics share no folder, mailbox or address; it is about noon where the client
//! lives, so that no test runs into a midnight.

#[path = "noon.rs"]
mod noon;

use std::path::{Path, PathBuf};
use std::process::Command;

use chrono::{DateTime, TimeDelta, Utc};

use crate::mail::Person;
use crate::peers::Peers;
use crate::program::{Running, fadewatch, succeed};

pub use noon::minute_in;

/// A clinic.
pub struct Clinic<'p> {
    peers: &'p Peers,
    folder: tempfile::TempDir,
    /// The user whose mailbox the service reads.
    user: &'static str,
    /// The client's contacts, in calling order.
    pub robin: Person<'p>,
    /// The second contact.
    pub kim: Person<'p>,
    /// The first clinician on cover.
    pub seating: Person<'p>,
    /// The second clinician on cover.
    pub duty: Person<'p>,
    zone: String,
    offset: TimeDelta,
}

/// What a client's days hold.
#[derive(Clone, Debug, Default)]
pub struct Day {
    /// When sittings begin.
    pub sittings_at: Vec<DateTime<Utc>>,
    /// When routine looks are asked.
    pub look_at: Vec<DateTime<Utc>>,
}

impl<'p> Clinic<'p> {
    /// A clinic whose service reads the mailbox of `user`. The files are written but for the plan
    /// and the client.
    pub fn new(peers: &'p Peers, user: &'static str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let person = |mailbox, name: &str| Person::new(peers, mailbox, &format!("{user}-{name}"));
        let (zone, offset) = noon::zone_at_noon();
        let clinic = Self {
            peers,
            user,
            robin: person("alice", "robin"),
            kim: person("alice", "kim"),
            seating: person("bob", "seating"),
            duty: person("bob", "duty"),
            zone,
            offset,
            folder,
        };
        clinic.write("password", &format!("{}\n", peers.password(user)));
        clinic.write("clinic.toml", &clinic.clinic_file());
        clinic
    }

    /// The folder of the clinic's files.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// The folder of the service's data.
    pub fn data(&self) -> PathBuf {
        self.folder().join("data")
    }

    /// The service's own address.
    pub fn address(&self) -> String {
        self.peers.address(self.user)
    }

    /// Writes one of the clinic's files.
    pub fn write(&self, name: &str, text: &str) {
        let path = self.folder().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    /// Adds a line to the `[mail]` of the clinic's file.
    pub fn add_to_mail(&self, line: &str) {
        let text = self.clinic_file().replace("[mail]\n", &format!("[mail]\n{line}\n"));
        self.write("clinic.toml", &text);
    }

    /// A command with the clinic's own file.
    pub fn command(&self, words: &[&str]) -> Command {
        let mut command = fadewatch();
        command.args(words).arg("--config").arg(self.folder().join("clinic.toml"));
        command.env_remove("FADEWATCH_LOG").env_remove("NOTIFY_SOCKET");
        command
    }

    /// Enrols the client `A7` with the contacts Robin and Kim.
    pub fn enroll(&self, day: &Day) {
        self.enroll_with(day, &[("robin", &self.robin.address), ("kim", &self.kim.address)]);
    }

    /// Enrols the client `A7` with contacts of one's own, by id and address.
    pub fn enroll_with(&self, day: &Day, contacts: &[(&str, &str)]) {
        self.write_plan(day);
        self.enroll_another("A7", day, contacts);
    }

    /// Writes the plan that clients are enrolled on.
    pub fn write_plan(&self, day: &Day) {
        self.write("plans/short.toml", &self.plan(day));
    }

    /// Enrols one more client on the plan that the first one runs on.
    pub fn enroll_another(&self, reference: &str, day: &Day, contacts: &[(&str, &str)]) {
        let file = self.write_client(reference, day, contacts);
        succeed(self.command(&["enroll"]).arg(file));
    }

    /// Writes the file of a client, over that of the one before.
    pub fn write_client(&self, reference: &str, day: &Day, contacts: &[(&str, &str)]) -> PathBuf {
        let client = self.client(day, contacts).replace("\"A7\"", &format!("\"{reference}\""));
        self.write("client.toml", &client);
        self.folder().join("client.toml")
    }

    /// Starts the service and waits until it is ready.
    pub fn serve(&self) -> Running {
        self.start().ready()
    }

    /// Starts the service.
    pub fn start(&self) -> Running {
        Running::start(&mut self.command(&["serve"]), self.folder())
    }

    fn clock(&self, at: DateTime<Utc>) -> String {
        (at + self.offset).format("%H:%M").to_string()
    }

    fn clocks(&self, times: &[DateTime<Utc>]) -> String {
        let times: Vec<String> =
            times.iter().map(|at| format!("\"{}\"", self.clock(*at))).collect();
        format!("[{}]", times.join(", "))
    }

    fn clinic_file(&self) -> String {
        let (host, ca) = (self.peers.host(), self.peers.ca_file());
        let account = format!(
            "host = \"{host}\"\nca_file = \"{ca}\"\nuser = \"{user}\"\npassword_file = \"password\"",
            ca = ca.display(),
            user = self.address(),
        );
        format!(
            r#"name = "Hilltop Seating Clinic (invented)"
time_zone = "Europe/London"
phone = "01632 960 123"
out_of_hours = "Keep off the seat. If you feel unwell, call your emergency doctor now."
data_folder = "data"
plans_folder = "plans"
cover = ["seating", "duty"]

[[clinician]]
id = "seating"
name = "Ada Example"
mail = "{seating}"
role = "clinician"
language = "en"

[[clinician]]
id = "duty"
name = "Ben Example"
mail = "{duty}"
role = "clinician"
language = "en"

[mail]
from = "{address}"
give_up_after = "4h"

[mail.out]
security = "starttls"
port = {submission}
{account}

[mail.in]
security = "tls"
port = {imaps}
{account}

# No test runs into the hour of the daily message.
[watch]
daily_message = false
"#,
            seating = self.seating.address,
            duty = self.duty.address,
            address = self.address(),
            submission = self.peers.submission_port(),
            imaps = self.peers.imaps_port(),
        )
    }

    fn plan(&self, day: &Day) -> String {
        format!(
            r#"id = "short"
title = "A plan of minutes, for tests only"
approved_by = "Hilltop Seating Clinic (invented)"
approved_on = 2026-03-02

[looks]
fade_limit = "30min"
slow_fade = "15min"
answer_within = "4min"
ask_again = 1
tell_clinic_after = "20min"
recheck_within = "10min"
missed_to_suspend = 2
rest_after_mark = "1min"

[stop]
repeat_alert = "3min"
pass_on_after = "30min"
bring_back_at = "06:00"
step_back = 1

[risk.high]
look_at = {look_at}

[[risk.high.step]]
sit = "1min"
sittings_per_day = {sittings}
clear_to_advance = 4

[[risk.high.step]]
sit = "2min"
sittings_per_day = {sittings}
clear_to_advance = 4
"#,
            look_at = self.clocks(&day.look_at),
            sittings = day.sittings_at.len().max(1),
        )
    }

    fn client(&self, day: &Day, contacts: &[(&str, &str)]) -> String {
        // A plan needs a sitting; one that lies well behind today begins on no test.
        let sittings_at = if day.sittings_at.is_empty() {
            vec![Utc::now() - TimeDelta::hours(6)]
        } else {
            day.sittings_at.clone()
        };
        let mut text = format!(
            r#"ref = "A7"
call_name = "Sam"
risk = "high"
time_zone = "{zone}"
sittings_at = {sittings_at}
quiet = []
plan = "short"
begins = {begins}
"#,
            zone = self.zone,
            sittings_at = self.clocks(&sittings_at),
            begins = (Utc::now() + self.offset).date_naive(),
        );
        for (id, mail) in contacts {
            let name = format!("{}{}", id[..1].to_uppercase(), &id[1..]);
            text.push_str(&format!(
                "\n[[contact]]\nid = \"{id}\"\nname = \"{name}\"\nmail = \"{mail}\"\nlanguage = \"en\"\n"
            ));
        }
        text
    }
}
