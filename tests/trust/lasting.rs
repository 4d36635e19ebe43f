//! Trouble that lasts, as the built program tells of it by its own waits: each kind within minutes,
//! by whatever way is left, and when it is over.

use std::net::TcpListener;
use std::path::Path;
use std::time::{Duration, Instant};

use chrono::TimeDelta;
use fadewatch::care::ClientRef;
use fadewatch::store::{Mode, Store, StoreError};

use crate::hurried::{Hurried, Shifted};
use crate::peers::Peers;
use crate::post_box::{mail, reply_to};
use crate::room::Room;
use crate::watching::all_text;
use crate::world::World;

/// Longest wait, in real time.
const PATIENCE: Duration = Duration::from_secs(100);
/// By the service's own clock, which a busy machine lets run on.
const MINUTES: TimeDelta = TimeDelta::minutes(16);

/// The clinic's second way, and a program that is told.
const SECOND_WAY: &str = r#"
[watch]
second = "technician@clinic.example"
command = ["sh", "-c", "cat >> told"]

[watch.out]
maildir = "mail/second"
"#;

/// A clinic whose mail goes these ways.
fn world(out: &str, incoming: &str, watch: &str) -> World {
    let world = World::empty();
    let path = world.path("clinic.toml");
    let clinic = std::fs::read_to_string(&path).unwrap();
    let (head, _) = clinic.split_once("[mail.out]").unwrap();
    let ways = format!("{head}[mail.out]\n{out}\n\n[mail.in]\n{incoming}\n{watch}");
    std::fs::write(&path, ways).unwrap();
    std::fs::write(world.path("password"), "pw\n").unwrap();
    world
}

/// A server that takes every connection and says nothing.
fn stuck() -> (TcpListener, String) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let account = format!(
        "host = \"127.0.0.1\"\nport = {port}\nsecurity = \"plain-loopback\"\nuser = \"checks\"\n\
         password_file = \"password\""
    );
    (listener, account)
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < PATIENCE, "waited in vain until {what}");
        std::thread::sleep(Duration::from_millis(100));
    }
}

fn until_told(place: &Path, words: &str) {
    until(&format!("“{words}” is in {}", place.display()), || all_text(place).contains(words));
}

fn until_health_says(service: &Hurried, words: &str) {
    until(&format!("health says “{words}”"), || {
        let ran = service.run(&["health"]);
        ran.code == 5 && ran.out.contains(words)
    });
}

fn until_well(service: &Hurried) {
    until("health is well", || service.run(&["health"]).code == 0);
}

fn assert_told_within_minutes(service: &Hurried, trouble: &str) {
    let after = service.logged_after("the service is in trouble").unwrap();
    println!("{trouble}: told {} s after the start", after.num_seconds());
    assert!(after < MINUTES, "told after {after}");
}

#[test]
fn a_stuck_mail_server_is_told_within_minutes_by_the_second_way_and_shows_in_health() {
    let (_listener, account) = stuck();
    let world = world(&account, "maildir = \"mail/in\"", SECOND_WAY);
    let service = Hurried::serve(&world);
    let words = "mail does not go out; the mail server does not answer";
    until_told(&world.path("mail/second/technician@clinic.example"), words);
    until_told(&world.path("mail/second/seating@clinic.example"), words);
    until_told(&world.path("told"), words);
    until_health_says(&service, words);
    assert_told_within_minutes(&service, "stuck SMTP server");
}

#[test]
fn a_stuck_mailbox_is_told_within_minutes_by_mail_and_shows_in_health() {
    let (_listener, account) = stuck();
    let world = world("maildir = \"mail/out\"", &account, "");
    let service = Hurried::serve(&world);
    let words = "mail does not come in; the mail server does not answer";
    until_told(&world.path("mail/out/seating@clinic.example"), words);
    until_health_says(&service, words);
    assert_told_within_minutes(&service, "stuck IMAP server");
}

#[test]
fn with_all_mail_stuck_and_no_second_way_the_log_and_health_still_say_so() {
    let ((_out, out), (_incoming, incoming)) = (stuck(), stuck());
    let world = world(&out, &incoming, "");
    let service = Hurried::serve(&world);
    until_health_says(&service, "mail does not go out");
    until_health_says(&service, "mail does not come in");
    assert_told_within_minutes(&service, "both stuck");
}

#[test]
fn a_lapsed_certificate_is_told_within_minutes_by_the_second_way_until_it_is_renewed() {
    let peers = Peers::start();
    let account = |port: u16| {
        format!(
            "host = \"{}\"\nport = {port}\nca_file = \"{}\"\nuser = \"{}\"\npassword_file = \"password\"",
            peers.host(),
            peers.ca_file().display(),
            peers.address("robot"),
        )
    };
    let out = format!("security = \"starttls\"\n{}", account(peers.submission_port()));
    let incoming = format!("security = \"tls\"\n{}", account(peers.imaps_port()));
    let world = world(&out, &incoming, SECOND_WAY);
    std::fs::write(world.path("password"), peers.password("robot")).unwrap();
    let service = Hurried::serve(&world);
    until("the mailbox is watched", || service.service.log().contains("the mailbox is watched"));
    until_well(&service);

    peers.let_certificate_lapse();
    let technician = world.path("mail/second/technician@clinic.example");
    until_told(&technician, "mail does not go out; the mail server’s certificate is not accepted");
    until_told(&technician, "mail does not come in; the mail server’s certificate is not accepted");
    until_health_says(&service, "certificate is not accepted");

    peers.renew_certificate();
    until_told(&technician, "The skin-check service is in order again");
    until_well(&service);
}

#[test]
fn a_full_disk_is_told_within_minutes_and_the_reply_of_meanwhile_counts_once_there_is_room() {
    let world = world("maildir = \"mail/out\"", "maildir = \"mail/in\"", "");
    world.enroll("B2");
    world.pass_until(world.today, 9, 15);
    let to = reply_to(&world, "robin@home.example");
    world.store.close();
    let small = world.path("small");
    let room = Room::prepare(&small);
    for entry in std::fs::read_dir(world.path("data")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            std::fs::copy(&path, small.join(path.file_name().unwrap())).unwrap();
        }
    }
    let path = world.path("clinic.toml");
    let clinic = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, clinic.replace("\"data\"", "\"small\"")).unwrap();
    let service = Hurried::serve(&world);
    until_well(&service);

    room.take_away(&service.service);
    let words = "Dark patch on the tailbone, skin is broken";
    // Larger than whatever room is left.
    let mut reply = mail("robin@home.example", &to, "w", words);
    reply.extend(b"> 0123456789abcdef0123456789abcdef0123456789abcdef\r\n".repeat(20_000));
    std::fs::write(world.path("mail/in/new/1"), reply).unwrap();
    let seating = world.path("mail/out/seating@clinic.example");
    let trouble = match room {
        Room::Disk(_) => "the disk is full",
        Room::Limit => "the data cannot be read or written",
    };
    until_told(&seating, trouble);
    until_health_says(&service, "NOT WELL");
    assert_told_within_minutes(&service, "full disk");

    room.give_back(&service.service);
    until_told(&seating, "The skin-check service is in order again");
    until_told(&seating, "Dark patch on the tailbone");
    until_well(&service);
    let store = Store::open(&small, Mode::Reading).unwrap();
    let (received, is_stopped, findings) = store
        .read_blocking(|view| {
            let follow_up = view.follow_up_of(&ClientRef::new("B2").unwrap())?.unwrap();
            let is_stopped = view.load(follow_up)?.state.is_stopped();
            let findings = view.verify_journal()?.findings;
            let received = view.newest_occasions(Some("reply"), 100)?.len();
            Ok::<_, StoreError>((received, is_stopped, findings))
        })
        .unwrap();
    assert!(is_stopped, "the reply of meanwhile was lost");
    assert_eq!((received, findings), (1, vec![]));
}

#[test]
fn a_clock_that_jumps_is_told_at_once_and_what_came_due_is_done() {
    let world = world("maildir = \"mail/out\"", "maildir = \"mail/in\"", SECOND_WAY);
    world.enroll("B2");
    world.pass_until(world.today, 12, 0);
    let robin = world.path("mail/out/robin@home.example");
    let asked = |robin: &Path| std::fs::read_dir(robin.join("new")).map_or(0, Iterator::count);
    let service = Shifted::serve(&world, Duration::from_secs(1));
    // What was asked this morning goes out first.
    until("Robin was asked", || asked(&robin) >= 1);
    let before = asked(&robin);

    // To the next morning, when a sitting has ended.
    service.set_ahead_by(23);
    let seating = world.path("mail/out/seating@clinic.example");
    until_told(&seating, "the machine’s clock went ahead by 23 h");
    until_told(&world.path("told"), "the machine’s clock went ahead by 23 h");
    until("Robin is asked again", || asked(&robin) > before);

    service.set_ahead_by(3);
    until_told(&seating, "the machine’s clock was set back by 20 h");
    until_told(&world.path("told"), "the machine’s clock was set back by 20 h");
    service.service.terminate();
}
