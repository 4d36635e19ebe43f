//! An invented clinic in a temporary folder, with clients whose story was told until now.
//!
//! The clinic lies in a zone where it is between twelve and one now, so that what is due, and what
//! tests print, does not hang on the hour at which they run.

#[path = "../service/noon.rs"]
#[allow(dead_code, reason = "the tests of the service use more of it")]
mod noon;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::Arc;

use assert_cmd::Command;
use chrono::{Days, NaiveDate, NaiveTime, Utc};
use fadewatch::care::{ClinicianId, ContactId, Reading, Site, Verdict};
use fadewatch::config;
use fadewatch::follow_up::{Calendar, Instant, Occasion};
use fadewatch::notice::Languages;
use fadewatch::reply::Lexicons;
use fadewatch::service::act::{self, Act};
use fadewatch::service::acts_by_hand::{self, PhoneReport};
use fadewatch::service::{Office, ServiceError, due, enrolling};
use fadewatch::store::{FollowUpId, Mode, Store, Tx};
use tempfile::TempDir;

/// A clinic in a folder of its own.
pub struct World {
    pub folder: TempDir,
    pub zone: Calendar,
    pub today: NaiveDate,
    pub store: Store,
    office: Arc<Office>,
}

/// What a command did.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

/// A plan whose waits are long, so that nothing falls due between twelve and one.
pub const PLAN: &str = r#"
id = "patient"
title = "A plan with long waits"
approved_by = "A. Example"
approved_on = 2026-03-02

[looks]
fade_limit = "30min"
slow_fade = "15min"
answer_within = "4h"
ask_again = 1
tell_clinic_after = "9h"
recheck_within = "4h"
missed_to_suspend = 2
rest_after_mark = "2h"

[stop]
repeat_alert = "4h"
pass_on_after = "8h"
bring_back_at = "08:00"
step_back = 2

[[risk.high.step]]
sit = "15min"
sittings_per_day = 2
clear_to_advance = 4

[[risk.high.step]]
sit = "30min"
sittings_per_day = 2
clear_to_advance = 4

[risk.high.routine]
look_at = ["08:00"]
review_after_days = [7, 30]
"#;

const CLINIC: &str = r#"
name = "Riverside Seating Clinic"
time_zone = "ZONE"
phone = "01632 960 123"
out_of_hours = "Keep off the seat and call the emergency doctor."
data_folder = "data"
plans_folder = "plans"
cover = ["seating", "duty"]

[[clinician]]
id = "seating"
name = "A. Example"
mail = "seating@clinic.example"
role = "clinician"
language = "en"

[[clinician]]
id = "duty"
name = "B. Example"
mail = "duty@clinic.example"
role = "clinician"
language = "en"

[[clinician]]
id = "desk"
name = "C. Example"
mail = "desk@clinic.example"
role = "assistant"
language = "en"

[[clinician]]
id = "guest"
name = "D. Example"
mail = "guest@clinic.example"
role = "observer"
language = "en"

[mail]
from = "checks@clinic.example"
give_up_after = "4h"

[mail.out]
maildir = "mail/out"

[mail.in]
maildir = "mail/in"
"#;

const CLIENT: &str = r#"
ref = "REF"
call_name = "Sam"
risk = "high"
time_zone = "ZONE"
sittings_at = ["09:00", "11:00"]
quiet = ["21:00", "07:00"]
plan = "patient"
begins = BEGINS

[[contact]]
id = "first"
name = "Robin"
mail = "robin@home.example"
language = "en"

[[contact]]
id = "second"
name = "Kim"
mail = "kim@neighbour.example"
language = "es"
"#;

impl World {
    /// A clinic without clients.
    pub fn empty() -> Self {
        let zone = Calendar::new(&noon::zone_at_noon().0).unwrap();
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("plans")).unwrap();
        fs::write(folder.path().join("plans/patient.toml"), PLAN).unwrap();
        let clinic = CLINIC.replace("ZONE", zone.zone_name());
        fs::write(folder.path().join("clinic.toml"), clinic).unwrap();
        let today = zone.date(Utc::now());
        let store = Store::open(&folder.path().join("data"), Mode::Service).unwrap();
        let office = Arc::new(office(&folder.path().join("clinic.toml")));
        Self { folder, zone, today, store, office }
    }

    /// A clinic with four clients: A7 is stopped since 11:58 today, B2's caregiver has not
    /// answered since 11:15, C3 builds up cleanly, D4 has ended.
    pub fn busy() -> Self {
        let world = Self::empty();
        for client in ["C3", "B2", "A7", "D4"] {
            world.enroll(client);
        }
        let clear = Verdict::bare(Reading::Clear);
        let day_before = world.today - Days::new(1);
        for (day, time) in [(day_before, 9), (day_before, 11), (world.today, 9)] {
            world.pass_until(day, time, 20);
            for client in ["A7", "B2", "C3", "D4"] {
                world.say(client, "first", &clear, world.at(day, time, 20));
            }
        }
        world.pass_until(world.today, 9, 30);
        world.close("D4", world.at(world.today, 9, 30));
        world.pass_until(world.today, 11, 20);
        let mark = Verdict { sites: vec![site("ischium-left")], ..Verdict::bare(Reading::Marked) };
        world.say("A7", "first", &mark, world.at(world.today, 11, 20));
        world.say("C3", "first", &clear, world.at(world.today, 11, 20));
        world.pass_until(world.today, 11, 58);
        let lasting = Verdict::bare(Reading::Persisting);
        world.say("A7", "first", &lasting, world.at(world.today, 11, 58));
        world
    }

    pub fn at(&self, day: NaiveDate, hour: u32, minute: u32) -> Instant {
        self.zone.instant(day, NaiveTime::from_hms_opt(hour, minute, 0).unwrap())
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes the file of a client who began yesterday.
    pub fn client_file(&self, client: &str) -> PathBuf {
        let begins = (self.today - Days::new(1)).to_string();
        let text = CLIENT.replace("REF", client).replace("BEGINS", &begins);
        let path = self.path(&format!("{client}.toml"));
        fs::write(&path, text.replace("ZONE", self.zone.zone_name())).unwrap();
        path
    }

    pub fn enroll(&self, client: &str) {
        let path = self.client_file(client);
        let at = self.at(self.today - Days::new(1), 0, 5);
        let today = self.today - Days::new(1);
        self.write(move |office, tx| {
            let file = config::read_client(&path, &office.clinic, today).unwrap().value;
            enrolling::enroll(office, tx, &file, "test", at).map(|_| ())
        });
    }

    /// Does what is due up to a time, each thing at its own instant.
    pub fn pass_until(&self, day: NaiveDate, hour: u32, minute: u32) {
        let until = self.at(day, hour, minute);
        self.write(move |office, tx| {
            while let Some(next) = tx.earliest_due()?.filter(|next| *next <= until) {
                due::act_on_due(office, tx, next)?;
            }
            Ok(())
        });
    }

    pub fn say(&self, client: &str, by: &str, verdict: &Verdict, at: Instant) {
        let report = PhoneReport {
            by: ContactId::new(by).unwrap(),
            taken_by: ClinicianId::new("desk").unwrap(),
            verdict: verdict.clone(),
            words: None,
        };
        let client = client.to_owned();
        self.write(move |office, tx| {
            let id = follow_up(tx, &client);
            acts_by_hand::report(office, tx, id, &report, at).map(|_| ())
        });
    }

    /// Mail to a contact fails for good.
    pub fn lose(&self, client: &str, contact: &str) {
        let (client, contact) = (client.to_owned(), ContactId::new(contact).unwrap());
        let at = self.at(self.today, 11, 59);
        self.write(move |office, tx| {
            let id = follow_up(tx, &client);
            let occasion = Occasion::Unreachable { contact };
            let detail = serde_json::json!({});
            let lost = Act { occasion: &occasion, kind: "undeliverable", detail, at, words: None };
            act::act(office, tx, id, &lost).map(|_| ())
        });
    }

    fn close(&self, client: &str, at: Instant) {
        let client = client.to_owned();
        self.write(move |office, tx| {
            let (id, by) = (follow_up(tx, &client), ClinicianId::new("seating").unwrap());
            let close = Verdict::bare(Reading::Close);
            acts_by_hand::decide(office, tx, id, (&by, close), at).map(|_| ())
        });
    }

    pub fn write(
        &self,
        work: impl FnOnce(&Office, &mut Tx<'_>) -> Result<(), ServiceError> + Send + 'static,
    ) {
        let office = Arc::clone(&self.office);
        self.store.write_blocking(move |tx| work(&office, tx)).unwrap();
    }

    /// Runs a command on this clinic.
    pub fn run(&self, args: &[&str]) -> Ran {
        let output = self.command(args).output().unwrap();
        Ran::of(&output)
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"));
        command.current_dir(self.folder.path()).env_remove("FADEWATCH_CONFIG").args(args);
        command
    }

    /// Runs a command that is to succeed, and returns its JSON.
    pub fn json(&self, args: &[&str]) -> serde_json::Value {
        let ran = self.run(args);
        assert_eq!(ran.code, 0, "{args:?}: {}{}", ran.out, ran.err);
        serde_json::from_str(&ran.out).unwrap()
    }

    /// A text with what hangs on the day of the test taken out, at the same width.
    pub fn lasting(&self, text: &str) -> String {
        let mut text = text.to_owned();
        for (days, name) in [(0, "<to-day-->"), (1, "<tomorrow>")] {
            text = text.replace(&(self.today + Days::new(days)).to_string(), name);
        }
        text = text.replace(&(self.today - Days::new(1)).to_string(), "<day--ago>");
        // A column of zones is as wide as the name of the zone in which it is noon now, or its heading.
        let width = self.zone.zone_name().len().max("CLOCK OF".len()) + 2;
        text = text.replace(&format!("{:<width$}", "CLOCK OF"), "CLOCK OF    ");
        text = text.replace(&format!("{:<width$}", self.zone.zone_name()), "<zone>  ");
        text = text.replace(self.zone.zone_name(), "<zone>");
        text = text.replace(Calendar::database_version(), "<zones>");
        text = text.replace(&self.folder.path().display().to_string(), "<folder>");
        // Whatever is done now is done between twelve and one.
        let mut lasting = String::new();
        let mut rest = text.as_str();
        while let Some(at) = rest.find("12:") {
            let (before, found) = rest.split_at(at + 3);
            lasting.push_str(before);
            let digits = found.bytes().take(2).all(|byte| byte.is_ascii_digit());
            lasting.push_str(if digits && found.len() > 1 { "mm" } else { "" });
            rest = if digits { found.get(2..).unwrap_or("") } else { found };
        }
        lasting + rest
    }
}

impl Ran {
    pub fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let code = output.status.code().unwrap();
        Self { code, out: text(&output.stdout), err: text(&output.stderr) }
    }
}

fn office(clinic: &Path) -> Office {
    let clinic = config::read_clinic(clinic).unwrap().value;
    Office::new(clinic, Languages::shipped(), Lexicons::shipped()).unwrap()
}

pub fn site(id: &str) -> Site {
    id.parse().unwrap()
}

fn follow_up(tx: &Tx<'_>, client: &str) -> FollowUpId {
    let client = fadewatch::care::ClientRef::new(client).unwrap();
    tx.follow_up_of(&client).unwrap().unwrap()
}
