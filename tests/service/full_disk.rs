//! A disk without room while a reply comes in.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use fadewatch::care::Finding;
use fadewatch::follow_up::Event;

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::program::{Running, succeed};
use crate::record;

/// The room of the small disk: enough for a database with some mail.
const DISK: &str = "size=4m";
/// A photograph in a reply: more than what is left of any room once it is full.
const PHOTO_BYTES: usize = 1_000_000;

/// How the service runs out of room.
enum Shortage {
    /// A disk of its own, filled up by another file.
    Disk { folder: PathBuf, ballast: PathBuf },
    /// Where no disk can be mounted: no file may grow any more.
    Limit { process: u32 },
}

impl Shortage {
    /// Gives the clinic a small disk for its data, if this machine lets us.
    fn prepare(clinic: &Clinic<'_>) -> Option<PathBuf> {
        let folder = clinic.data();
        std::fs::create_dir(&folder).unwrap();
        let mount = |what: &mut Command| what.status().is_ok_and(|status| status.success());
        let mounted =
            mount(Command::new("mount").args(["-t", "tmpfs", "-o", DISK, "none"]).arg(&folder));
        mounted.then_some(folder)
    }

    fn begin(disk: Option<&Path>, service: &Running) -> Self {
        let Some(folder) = disk else {
            limit_files(service.id(), "1");
            return Self::Limit { process: service.id() };
        };
        let ballast = folder.join("ballast");
        let mut file = File::create(&ballast).unwrap();
        while file.write_all(&[0; 4096]).is_ok() {}
        Self::Disk { folder: folder.to_owned(), ballast }
    }

    fn end(&self) {
        match self {
            Self::Disk { ballast, .. } => std::fs::remove_file(ballast).unwrap(),
            Self::Limit { process } => limit_files(*process, "unlimited"),
        }
    }
}

impl Drop for Shortage {
    fn drop(&mut self) {
        if let Self::Disk { folder, .. } = self {
            // Lazily, since the service may still hold its files.
            let _ = Command::new("umount").arg("--lazy").arg(folder).status();
        }
    }
}

fn limit_files(process: u32, bytes: &str) {
    succeed(
        Command::new("prlimit").arg(format!("--pid={process}")).arg(format!("--fsize={bytes}:")),
    );
}

/// The service with the signal that a file has reached its limit ignored, so that writing fails
/// as it does on a full disk.
fn serve(clinic: &Clinic<'_>) -> Running {
    let serve = clinic.command(&["serve"]);
    let mut shell = Command::new("bash");
    shell.args(["-c", "trap '' XFSZ; exec \"$@\"", "bash"]);
    shell.arg(serve.get_program()).args(serve.get_args());
    Running::start(&mut shell, clinic.folder()).ready()
}

#[test]
fn on_a_full_disk_the_service_goes_on_and_takes_the_reply_once_there_is_room() {
    let clinic = Clinic::new(shared(), "box6");
    let disk = Shortage::prepare(&clinic);
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let mut service = serve(&clinic);
    let request = clinic.robin.await_mail("Skin check (");

    let shortage = Shortage::begin(disk.as_deref(), &service);
    let words = "Red mark on the left sit bone, still there after 40 minutes";
    let mut reply = clinic.robin.draft_reply(&request, words);
    // Below the words: nobody reads so far.
    reply
        .extend(b"\r\n> 0123456789abcdef0123456789abcdef0123456789abcdef".repeat(PHOTO_BYTES / 52));
    clinic.robin.send(&request.reply_to, &reply);
    await_log(&service, "storing a mail");
    assert!(shared().mails_in("box6", "cur").iter().all(|(name, _)| !name.ends_with(",Sa")));
    let found = |event: &Event| matches!(event, Event::Found { .. });
    assert_eq!(record::count(&clinic.data(), found), 0);

    shortage.end();
    clinic.robin.await_mail("Keep off the seat, please");
    clinic.seating.await_mail("STOP: a mark has lasted");
    let lasting = |event: &Event| matches!(event, Event::Found { found, .. } if found.finding == Finding::Persisting);
    assert_eq!(record::count(&clinic.data(), lasting), 1);
    record::check(&clinic.data());
    assert_eq!(record::inbox(&clinic.data()).len(), 1);
    service.terminate();
    assert!(service.ended().0.success());
}

fn await_log(service: &Running, words: &str) {
    let begun = Instant::now();
    while !service.log().contains(words) {
        assert!(begun.elapsed() < Duration::from_secs(60), "no “{words}”:\n{}", service.log());
        std::thread::sleep(Duration::from_millis(50));
    }
}
