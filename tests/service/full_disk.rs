//! A disk without room while a reply comes in.

use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
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

/// Where there is no small disk: no file may grow beyond this. The log has room, the reply has not.
const FILE_BYTES_MAX: &str = "100000";

/// Room that can be taken away from a service.
enum Room {
    /// A disk of its own, small enough to be filled up.
    Disk(PathBuf),
    /// Where no disk can be mounted: no file of the service may grow any more.
    Limit,
}

impl Room {
    /// Gives the clinic a small disk for its data, if this machine lets us.
    fn prepare(clinic: &Clinic<'_>) -> Self {
        let folder = clinic.data();
        std::fs::create_dir(&folder).unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", DISK, "none"]).arg(&folder);
        let is_mounted = mount.status().is_ok_and(|status| status.success());
        if is_mounted { Self::Disk(folder) } else { Self::Limit }
    }

    fn take_away(&self, service: &Running) {
        match self {
            Self::Disk(folder) => {
                let mut ballast = File::create(folder.join("ballast")).unwrap();
                while ballast.write_all(&[0; 4096]).is_ok() {}
            }
            Self::Limit => limit_files(service.id(), FILE_BYTES_MAX),
        }
    }

    fn give_back(&self, service: &Running) {
        match self {
            Self::Disk(folder) => std::fs::remove_file(folder.join("ballast")).unwrap(),
            Self::Limit => limit_files(service.id(), "unlimited"),
        }
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        if let Self::Disk(folder) = self {
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
    let room = Room::prepare(&clinic);
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let mut service = serve(&clinic);
    let request = clinic.robin.await_mail("Skin check (");

    room.take_away(&service);
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

    room.give_back(&service);
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
