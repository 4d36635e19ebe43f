//! What hinders the service is told, by whatever way is left.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use fadewatch::config;
use fadewatch::notice::Languages;
use fadewatch::post::inbox::{Inbox, MaildirInbox};
use fadewatch::post::{MaildirOutlet, Outlet, Security, SmtpOutlet, SmtpSettings};
use fadewatch::reply::Lexicons;
use fadewatch::service::{Clock, Office, Rhythm, Service, serve};
use fadewatch::store::{DATABASE, Mode, Store};
use mail_parser::MessageParser;
use tokio::net::TcpListener;
use tokio::sync::{Notify, oneshot};

use crate::world::World;

/// Longest wait for something that the service does within seconds at this rhythm.
const PATIENCE: Duration = Duration::from_secs(90);

pub const RHYTHM: Rhythm = Rhythm {
    every: Duration::from_millis(200),
    lasting: Duration::from_secs(1),
    probe_after: Duration::from_secs(1),
    hanging: Duration::from_secs(900),
    backlog: Duration::from_secs(900),
};

/// A clinic with a second address and a program that is told.
pub fn world() -> World {
    let world = World::empty();
    let path = world.path("clinic.toml");
    let clinic = std::fs::read_to_string(&path).unwrap();
    let told = world.path("told");
    std::fs::write(
        &path,
        format!(
            "{clinic}\n[watch]\nsecond = \"technician@clinic.example\"\n\
             command = [\"sh\", \"-c\", \"cat >> {}\"]\n\
             [watch.out]\nmaildir = \"mail/second\"\n",
            told.display()
        ),
    )
    .unwrap();
    world
}

/// Runs the service on a clinic until `test` is done with it.
async fn with_service<F: Future<Output = ()>>(
    world: &World,
    outlet: Outlet,
    test: impl FnOnce() -> F,
) {
    with_service_at(RHYTHM, world, outlet, test).await;
}

/// The same, paced otherwise.
pub async fn with_service_at<F: Future<Output = ()>>(
    rhythm: Rhythm,
    world: &World,
    outlet: Outlet,
    test: impl FnOnce() -> F,
) {
    let clinic = config::read_clinic(&world.path("clinic.toml")).unwrap().value;
    let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped()).unwrap();
    let service = Service {
        office: Arc::new(office),
        store: Store::open(&world.path("data"), Mode::Service).unwrap(),
        clock: Clock::Real,
        outlet,
        inbox: Inbox::Maildir(MaildirInbox::new(world.path("mail/in")).unwrap()),
        mailbox: "maildir".to_owned(),
        board: None,
        second_outlet: Some(Outlet::Maildir(
            MaildirOutlet::new(world.path("mail/second")).unwrap(),
        )),
        rhythm,
        committed: Arc::new(Notify::new()),
    };
    let (stop, stopped) = oneshot::channel::<()>();
    let running = tokio::spawn(serve(service, async {
        let _ = stopped.await;
    }));
    test().await;
    drop(stop);
    running.await.unwrap().unwrap();
}

/// Waits until a file below a folder, or the file itself, holds some words.
pub async fn until_told(place: &Path, words: &str) {
    let begun = Instant::now();
    while !all_text(place).contains(words) {
        assert!(begun.elapsed() < PATIENCE, "no “{words}” in {}", place.display());
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

/// The words of all mails and files at a place, one after the other.
pub fn all_text(place: &Path) -> String {
    if place.is_file() {
        let raw = std::fs::read(place).unwrap_or_default();
        let mail = MessageParser::default().parse(&raw);
        // A program is told in plain words.
        let text = mail.filter(|mail| mail.message_id().is_some()).map(|mail| {
            let body = mail.body_text(0).unwrap_or_default().into_owned();
            format!("{} {body}", mail.subject().unwrap_or_default())
        });
        let text = text.unwrap_or_else(|| String::from_utf8_lossy(&raw).into_owned());
        return text.split_whitespace().collect::<Vec<_>>().join(" ");
    }
    let entries = std::fs::read_dir(place).into_iter().flatten().flatten();
    entries.map(|entry| all_text(&entry.path())).collect()
}

fn folders(world: &World) -> Outlet {
    Outlet::Maildir(MaildirOutlet::new(world.path("mail/out")).unwrap())
}

#[tokio::test]
async fn a_mail_server_that_takes_calls_and_never_answers_is_told_by_the_second_way_and_the_program()
 {
    let world = world();
    let silent = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = silent.local_addr().unwrap().port();
    let mut settings = SmtpSettings::new("127.0.0.1", port, Security::PlainLoopback);
    settings.timeout = Duration::from_millis(300);
    let outlet = Outlet::Smtp(SmtpOutlet::new(settings).unwrap());
    with_service(&world, outlet, || async {
        // No mail waits: the way is tried without one.
        let second = world.path("mail/second");
        until_told(&second.join("technician@clinic.example"), "does not go out").await;
        until_told(&second.join("seating@clinic.example"), "does not go out").await;
        until_told(&world.path("told"), "the mail server does not answer").await;
    })
    .await;
}

#[tokio::test]
async fn data_that_cannot_be_written_is_told_without_the_outbox_and_so_is_its_end() {
    let world = world();
    with_service(&world, folders(&world), || async {
        let other = rusqlite::Connection::open(world.path("data").join(DATABASE)).unwrap();
        // As on a disk that fails: the service can no longer note that it is alive.
        let breaks = "CREATE TRIGGER broken BEFORE INSERT ON meta
                      BEGIN SELECT RAISE(ABORT, 'broken'); END";
        other.execute_batch(breaks).unwrap();
        let clinic = world.path("mail/out/seating@clinic.example");
        until_told(&clinic, "the data cannot be read or written").await;
        let outbox: i64 =
            other.query_row("SELECT count(*) FROM outbox", [], |row| row.get(0)).unwrap();
        assert_eq!(outbox, 0, "it was told through the outbox");
        other.execute_batch("DROP TRIGGER broken").unwrap();
        until_told(&clinic, "is in order again").await;
    })
    .await;
}

#[tokio::test]
async fn a_mailbox_out_of_reach_is_told_by_mail_that_still_goes_out() {
    let world = world();
    with_service(&world, folders(&world), || async {
        let inbox = world.path("mail/in");
        std::fs::remove_dir_all(&inbox).unwrap();
        std::fs::write(&inbox, "not a folder").unwrap();
        until_told(&world.path("mail/out/seating@clinic.example"), "does not come in").await;
    })
    .await;
}

#[test]
fn damage_that_opening_does_not_see_is_found_by_the_check_at_the_start_and_told() {
    let world = world();
    world.enroll("A7");
    // A row that refers to a missing one: each page by itself is sound.
    let other = rusqlite::Connection::open(world.path("data").join(DATABASE)).unwrap();
    other.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    other.execute("INSERT INTO client_person VALUES (4711, 'nobody')", []).unwrap();
    drop(other);
    let told = with_service(&world, folders(&world), || async {
        until_told(&world.path("mail/out/seating@clinic.example"), "the data is damaged").await;
    });
    tokio::runtime::Runtime::new().unwrap().block_on(told);
}

#[tokio::test]
async fn a_backup_that_cannot_be_made_is_told_and_one_that_can_is_made_at_the_start() {
    let world = world();
    let path = world.path("clinic.toml");
    let clinic = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, format!("{clinic}\n[backup]\nfolder = \"backups\"\n")).unwrap();
    std::fs::write(world.path("backups"), "not a folder").unwrap();
    with_service(&world, folders(&world), || async {
        until_told(&world.path("told"), "the daily backup failed").await;
    })
    .await;
    std::fs::remove_file(world.path("backups")).unwrap();
    with_service(&world, folders(&world), || async {
        let begun = Instant::now();
        while std::fs::read_dir(world.path("backups")).map_or(0, Iterator::count) != 1 {
            assert!(begun.elapsed() < PATIENCE, "no backup was made");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    })
    .await;
}
