//! What `serve` and `enroll` refuse, with a reason and a way out.

use std::os::unix::fs::{PermissionsExt, chown};
use std::os::unix::process::CommandExt;
use std::path::Path;

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::program::{fadewatch, fail};
use crate::record;

/// A user without rights; it needs no account.
const NOBODY: u32 = 65_534;

fn quiet_day() -> Day {
    // Far enough from now for nothing to become due.
    Day { look_at: vec![minute_in(4 * 3600)], ..Day::default() }
}

#[test]
fn a_second_service_on_the_same_data_is_refused_and_the_first_goes_on() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    let mut first = clinic.serve();
    let complaint = fail(&mut clinic.command(&["serve"]));
    assert!(complaint.contains("another `fadewatch serve` already runs"), "{complaint}");
    assert!(complaint.contains("Stop the other one first"), "{complaint}");
    first.terminate();
    assert!(first.ended().0.success());
    // With the first gone, the next one may.
    let mut next = clinic.serve();
    next.terminate();
    assert!(next.ended().0.success());
}

#[test]
fn a_lock_of_a_killed_service_keeps_nobody_out() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    clinic.serve().kill();
    clinic.serve();
}

#[test]
fn nobody_is_enrolled_on_a_plan_that_is_not_approved() {
    let clinic = Clinic::new(shared(), "box5");
    let day = quiet_day();
    clinic.enroll(&day);
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/plans/graded-sitting.toml");
    std::fs::copy(shipped, clinic.folder().join("plans/graded-sitting.toml")).unwrap();
    let client = std::fs::read_to_string(clinic.folder().join("client.toml")).unwrap();
    let client = client.replace("plan = \"short\"", "plan = \"graded-sitting\"");
    clinic.write("other.toml", &client.replace("ref = \"A7\"", "ref = \"B8\""));
    let complaint = fail(clinic.command(&["enroll"]).arg(clinic.folder().join("other.toml")));
    assert!(complaint.contains("the plan \"graded-sitting\" is not approved"), "{complaint}");
    assert!(complaint.contains("fill in `approved_by` and `approved_on`"), "{complaint}");
    let missing = fadewatch::care::ClientRef::new("B8").unwrap();
    assert_eq!(record::read(&clinic.data(), |view| view.follow_up_of(&missing)), None);
}

#[test]
fn a_client_is_enrolled_once() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    let complaint = fail(clinic.command(&["enroll"]).arg(clinic.folder().join("client.toml")));
    assert!(complaint.contains("`A7` is enrolled already"), "{complaint}");
    record::check(&clinic.data());
}

#[test]
fn a_data_folder_that_cannot_be_written_to_is_refused() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    let own = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
        chown(path, Some(NOBODY), Some(NOBODY)).unwrap();
    };
    // Root writes everywhere, so the service runs as somebody else, from a place open to all.
    let program = clinic.folder().join("fadewatch");
    std::fs::copy(fadewatch().get_program(), &program).unwrap();
    own(clinic.folder(), 0o755);
    for entry in std::fs::read_dir(clinic.data()).unwrap() {
        own(&entry.unwrap().path(), 0o400);
    }
    own(&clinic.data(), 0o500);
    let mut serve = std::process::Command::new(&program);
    serve.arg("serve").arg("--config").arg(clinic.folder().join("clinic.toml"));
    let complaint = fail(serve.uid(NOBODY).gid(NOBODY));
    assert!(complaint.contains("is read-only for this user"), "{complaint}");
    assert!(complaint.contains("no look is asked and no reply is taken"), "{complaint}");
}

#[test]
fn data_of_a_newer_version_is_refused_and_left_as_it_is() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    let path = clinic.data().join("fadewatch.db");
    let database = rusqlite::Connection::open(&path).unwrap();
    database.pragma_update(None, "user_version", 9999).unwrap();
    database.close().unwrap();
    let before = std::fs::read(&path).unwrap();
    let client = clinic.folder().join("client.toml");
    for command in [&mut clinic.command(&["serve"]), clinic.command(&["enroll"]).arg(client)] {
        let complaint = fail(command);
        assert!(complaint.contains("has data format 9999, which is newer"), "{complaint}");
        assert!(complaint.contains("Use the version of fadewatch that wrote it"), "{complaint}");
    }
    assert!(std::fs::read(&path).unwrap() == before, "the data was changed");
}

#[test]
fn a_password_that_cannot_be_had_is_said_at_the_start() {
    let clinic = Clinic::new(shared(), "box5");
    clinic.enroll(&quiet_day());
    std::fs::remove_file(clinic.folder().join("password")).unwrap();
    let complaint = fail(&mut clinic.command(&["serve"]));
    assert!(complaint.contains("the password file of mail."), "{complaint}");
    clinic.write("password", "\n");
    let complaint = fail(&mut clinic.command(&["serve"]));
    assert!(complaint.contains("gives an empty line"), "{complaint}");
}
