//! Starting and stopping, as a service manager sees it.

use std::io::Read;
use std::net::TcpListener;
use std::process::Command;
use std::time::{Duration, Instant};

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::program::succeed;
use crate::record;

/// A service manager and the person in front of it wait so long without a thought.
const SOON: Duration = Duration::from_secs(8);

#[test]
fn the_service_says_when_it_is_ready_and_when_it_stops_and_ends_soon_after_either_signal() {
    let clinic = Clinic::new(shared(), "box7");
    clinic.enroll(&Day { look_at: vec![minute_in(4 * 3600)], ..Day::default() });
    for signal in ["-TERM", "-INT"] {
        let mut service = clinic.serve();
        succeed(Command::new("kill").arg(signal).arg(service.id().to_string()));
        service.await_word("STOPPING=1");
        let (status, took) = service.ended();
        assert!(status.success(), "{signal}: {status}");
        assert!(took < SOON, "{signal}: {took:?}");
    }
    record::check(&clinic.data());
}

#[test]
fn a_service_that_is_still_looking_for_waiting_mail_stops_soon_too() {
    let clinic = Clinic::new(shared(), "box7");
    clinic.enroll(&Day { look_at: vec![minute_in(4 * 3600)], ..Day::default() });
    let mut service = clinic.serve();
    service.terminate();
    service.ended();
    // It was away for an hour, and the mailbox is out of reach.
    let database = rusqlite::Connection::open(clinic.data().join("fadewatch.db")).unwrap();
    let an_hour_ago = (chrono::Utc::now() - chrono::TimeDelta::hours(1)).timestamp_millis();
    let changed = database
        .execute(
            "UPDATE meta SET value = ?1 WHERE key = 'last-alive-utc-ms'",
            [an_hour_ago.to_string()],
        )
        .unwrap();
    assert_eq!(changed, 1);
    drop(database);
    let file = std::fs::read_to_string(clinic.folder().join("clinic.toml")).unwrap();
    clinic.write(
        "clinic.toml",
        &file.replace(&format!("port = {}", shared().imaps_port()), "port = 1"),
    );

    let mut service = clinic.start();
    let begun = Instant::now();
    while !service.log().contains("the mailbox is out of reach") && begun.elapsed() < SOON {
        std::thread::sleep(Duration::from_millis(50));
    }
    service.terminate();
    let (status, took) = service.ended();
    assert!(status.success(), "{status}");
    assert!(took < SOON, "{took:?}");
}

#[test]
fn a_service_whose_mail_server_does_not_answer_stops_in_time_and_keeps_the_mail() {
    let clinic = Clinic::new(shared(), "box8");
    // It takes every connection and says nothing.
    let silent = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = silent.local_addr().unwrap().port();
    let file = std::fs::read_to_string(clinic.folder().join("clinic.toml")).unwrap();
    let submission = format!("port = {}", shared().submission_port());
    clinic.write("clinic.toml", &file.replace(&submission, &format!("port = {port}")));
    clinic.enroll(&Day { look_at: vec![minute_in(15)], ..Day::default() });
    let mut service = clinic.serve();
    let (mut connection, _) = silent.accept().unwrap();
    service.terminate();
    let (status, took) = service.ended();
    assert!(status.success(), "{status}");
    // A service manager kills after 90 s.
    assert!(took < Duration::from_secs(30), "{took:?}");
    let mut said = String::new();
    connection.read_to_string(&mut said).unwrap();
    assert_eq!(said, "", "something was sent without being asked");
    let counts = record::read(&clinic.data(), |view| view.outbox_counts());
    assert_eq!(counts.queued + counts.sending, 1, "the mail was given up");
}
