//! The built program with its own clock, which runs faster than the machine's or is set by the test.
//! So its real waits, of minutes, pass in seconds. The clock is libfaketime's (`tests/setup.sh`).
//!
//! Never here: what is tested.
//! Promises: no clock but that of the one process is touched; the elapsed time of a hurried process is
//! hurried too, that of a process whose clock is set is not.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use chrono::{DateTime, TimeDelta, Utc};

use crate::program::{Running, fadewatch};
use crate::room::Room;
use crate::world::{Ran, World};

/// How many seconds pass for the hurried program in one of ours. A busy machine that holds it up for
/// ten seconds costs it three minutes, which the tests allow for.
const FOLD: i32 = 20;

/// A running service whose time flies.
pub struct Hurried {
    pub service: Running,
    folder: PathBuf,
    begun: Instant,
}

impl Hurried {
    /// Starts the service of a clinic and waits until it is ready.
    pub fn serve(world: &World) -> Self {
        let mut command = program(world.folder.path(), &["serve"]);
        command.env("FAKETIME", format!("+0 x{FOLD}"));
        let mut command = Room::without_signal(&command);
        let begun = Instant::now();
        let service = Running::start(&mut command, world.folder.path()).ready();
        service.hear_all();
        Self { service, folder: world.folder.path().to_owned(), begun }
    }

    /// Runs another command at the time that it is for the service.
    pub fn run(&self, args: &[&str]) -> Ran {
        let ahead = self.begun.elapsed().as_secs() * (FOLD.unsigned_abs() as u64 - 1);
        let mut command = program(&self.folder, args);
        Ran::of(&command.env("FAKETIME", format!("+{ahead}")).output().unwrap())
    }

    /// How long after it was ready the service first logged these words, by its own clock.
    pub fn logged_after(&self, words: &str) -> Option<TimeDelta> {
        let log = self.service.log();
        let at = |words: &str| {
            let line = log.lines().find(|line| line.contains(words))?;
            line.split_whitespace().next()?.parse::<DateTime<Utc>>().ok()
        };
        Some(at(words)? - at("the service runs")?)
    }
}

/// A running service whose clock the test sets.
pub struct Shifted {
    pub service: Running,
    shift: PathBuf,
}

impl Shifted {
    /// Starts the service of a clinic, to look at its clock at least that often.
    pub fn serve(world: &World, looks_every: Duration) -> Self {
        let shift = world.path("clock");
        std::fs::write(&shift, "+0").unwrap();
        let mut command = program(world.folder.path(), &["serve"]);
        command
            .env("FAKETIME_TIMESTAMP_FILE", &shift)
            .env("FAKETIME_NO_CACHE", "1")
            .env("FAKETIME_DONT_FAKE_MONOTONIC", "1")
            // A service manager that wants to hear from it twice as seldom.
            .env("WATCHDOG_USEC", (looks_every * 2).as_micros().to_string());
        let service = Running::start(&mut command, world.folder.path()).ready();
        service.hear_all();
        Self { service, shift }
    }

    /// Sets the clock so many hours ahead of the machine's.
    pub fn set_ahead_by(&self, hours: u32) {
        // Whole at once: the process reads the file at every look at its clock.
        let next = self.shift.with_extension("next");
        std::fs::write(&next, format!("+{hours}h")).unwrap();
        std::fs::rename(next, &self.shift).unwrap();
    }
}

fn program(folder: &Path, args: &[&str]) -> Command {
    let mut command = fadewatch();
    command
        .args(args)
        .args(["--config", "clinic.toml"])
        .current_dir(folder)
        .env_remove("FADEWATCH_LOG")
        .env_remove("NOTIFY_SOCKET")
        .env("LD_PRELOAD", library());
    command
}

/// Debian keeps it by architecture.
fn library() -> PathBuf {
    let kept = std::fs::read_dir("/usr/lib").unwrap();
    let places = kept.map(|entry| entry.unwrap().path().join("faketime/libfaketimeMT.so.1"));
    let found = places.into_iter().find(|place| place.exists());
    found.expect("libfaketime is installed by tests/setup.sh")
}
