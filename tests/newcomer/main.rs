//! A newcomer's walk by the words of `README.md`: from an empty folder to the first answered look,
//! with the built program and real mail servers.
//!
//! Never here: what goes wrong on the way; single steps have tests of their own.
//! Promises: every step is done as the page and the program say it; each prints how long the
//! machine took for it. The clock is the real one; the first sitting is a minute long.

// A test that cannot go on had better stop right there.
#![allow(clippy::unwrap_used)]

#[allow(dead_code, reason = "shared with the tests of the service")]
#[path = "../service/mail.rs"]
mod mail;
#[path = "../service/noon.rs"]
mod noon;
#[path = "../peers/mod.rs"]
mod peers;
#[allow(dead_code, reason = "shared with the tests of the service")]
#[path = "../service/program.rs"]
mod program;
#[allow(dead_code, reason = "shared with the tests of the service")]
#[path = "../service/submission.rs"]
mod submission;

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::mail::Person;
use crate::program::{Running, fadewatch, succeed};

/// The steps so far, with the time that each took.
struct Walk {
    begun: Instant,
    step: Instant,
    steps: Vec<(&'static str, Duration)>,
}

impl Walk {
    fn begin() -> Self {
        Self { begun: Instant::now(), step: Instant::now(), steps: vec![] }
    }

    fn done(&mut self, step: &'static str) {
        self.steps.push((step, self.step.elapsed()));
        self.step = Instant::now();
    }

    fn print(&self) {
        for (step, took) in &self.steps {
            println!("{step:<44} {:>7.2} s", took.as_secs_f64());
        }
        println!("{:<44} {:>7.2} s", "all", self.begun.elapsed().as_secs_f64());
    }
}

/// A command in the clinic's folder, as it would be typed there.
fn command(folder: &Path, words: &str) -> Command {
    let mut command = fadewatch();
    command.current_dir(folder).args(words.split_whitespace());
    for name in ["FADEWATCH_CONFIG", "FADEWATCH_LOG", "NOTIFY_SOCKET"] {
        command.env_remove(name);
    }
    command
}

/// Changes a file by hand: each text must stand in it.
fn edit(path: &Path, changes: &[(&str, &str)]) {
    let mut text = fs::read_to_string(path).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{} holds no {from}", path.display());
        text = text.replacen(from, to, 1);
    }
    fs::write(path, text).unwrap();
}

#[test]
fn a_newcomer_comes_from_an_empty_folder_to_the_first_answered_look() {
    let peers = peers::shared();
    let seating = Person::new(peers, "bob", "newcomer-seating");
    let robin = Person::new(peers, "alice", "newcomer-robin");
    let (zone, offset) = noon::zone_at_noon();
    let home = tempfile::tempdir().unwrap();
    let folder = home.path();
    // The test servers' authority is known to nobody else, like that of a clinic of its own.
    fs::copy(peers.ca_file(), folder.join("ca.pem")).unwrap();
    let mut walk = Walk::begin();

    let answers = [
        "Riverside Seating Clinic (invented)",
        &zone,
        "01632 960 123",
        "",
        &peers.address("box24"),
        &format!("{}:{} starttls", peers.host(), peers.submission_port()),
        &format!("{}:{} tls", peers.host(), peers.imaps_port()),
        "ca.pem",
        "",
        &peers.password("box24"),
        "A. Example",
        "seating",
        &seating.address,
        "",
        "",
    ];
    let mut asking = command(folder, "setup")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    asking.stdin.take().unwrap().write_all((answers.join("\n") + "\n").as_bytes()).unwrap();
    let told = asking.wait_with_output().unwrap();
    assert!(told.status.success());
    let told = String::from_utf8(told.stdout).unwrap();
    walk.done("fadewatch setup");

    let trying = command(folder, "setup --try --wait 2min").stdout(Stdio::piped()).spawn().unwrap();
    let trial = seating.await_mail("");
    seating.reply(&trial, "It arrived.");
    let tried = trying.wait_with_output().unwrap();
    let tried_says = String::from_utf8(tried.stdout).unwrap();
    assert!(tried.status.success(), "{tried_says}");
    assert!(tried_says.contains("Everything works."), "{tried_says}");
    walk.done("fadewatch setup --try, answered by mail");

    // What a clinic would do in days is done here in no time: its own first step, and its name.
    edit(
        &folder.join("plans/graded-sitting.toml"),
        &[
            ("approved_by = \"\"", "approved_by = \"A. Example\""),
            ("# approved_on =", "approved_on ="),
            ("[[risk.high.step]]\nsit = \"15min\"", "[[risk.high.step]]\nsit = \"1min\""),
        ],
    );
    let rehearsed = succeed(&mut command(folder, "rehearse scenarios/persisting-mark.toml"));
    assert!(rehearsed.contains("STOP"), "{rehearsed}");
    walk.done("plan approved, fadewatch rehearse");

    let service =
        Running::start(&mut command(folder, "serve --config clinic.toml"), folder).ready();
    service.hear_all();
    walk.done("fadewatch serve, until it is ready");

    fs::copy(folder.join("client-example.toml"), folder.join("client.toml")).unwrap();
    let sitting = noon::minute_in(10) + offset;
    let example = fs::read_to_string(folder.join("client.toml")).unwrap();
    let begins = example.lines().find_map(|line| {
        line.starts_with("begins = ").then(|| line.split("  ").next().unwrap().to_owned())
    });
    let begins = begins.unwrap();
    edit(
        &folder.join("client.toml"),
        &[
            (&begins, &format!("begins = {}", sitting.date_naive())),
            ("\"10:00\", \"15:30\"", &format!("\"{}\", \"15:30\"", sitting.format("%H:%M"))),
            ("robin@home.example", &robin.address),
            ("kim@neighbour.example", &peers.address("alice+newcomer-kim")),
        ],
    );
    let enroll = "enroll client.toml --by seating";
    assert!(told.contains(&format!("fadewatch {enroll}")), "{told}");
    succeed(&mut command(folder, enroll));
    walk.done("fadewatch enroll");

    let look = robin.await_mail("Please look at the skin");
    walk.done("wait: sitting begins, lasts 1 min, look asked");

    robin.reply(&look, "No marks.");
    let noted = robin.await_mail("Noted");
    assert!(noted.text.contains("no marks"), "{}", noted.text);
    walk.done("answered by mail, until confirmed");

    let shown = succeed(&mut command(folder, "show A7"));
    assert!(shown.contains("first answers look 1 (first look, sitting 1): clear"), "{shown}");
    assert!(shown.contains("sitting 1 earns credit"), "{shown}");
    walk.done("fadewatch show A7");
    walk.print();
}
