//! More mail than the mail server takes at its pace: what is most urgent overtakes the rest, the clinic
//! is told, and the service is not taken for one that hangs.
//!
//! Never here: what is a trouble otherwise (`watching`).
//! Promises: the server is one of our own, which takes as long for each mail as a test says.

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use chrono::Utc;
use fadewatch::post::{Outlet, Security, SmtpOutlet, SmtpSettings};
use fadewatch::service::Rhythm;
use fadewatch::store::{Mode, NewMail, PersonRef, RequestTarget, Store, StoreError, Urgency};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use crate::watching::{RHYTHM, until_told, with_service_at, world};
use crate::world::World;

const HANGS: &str = "a part of the service hangs";
const IS_LATE: &str = "mail leaves late";

/// Waits that a test can sit through.
const HURRIED: Rhythm =
    Rhythm { hanging: Duration::from_secs(8), backlog: Duration::from_secs(3), ..RHYTHM };

/// A mail server that takes so long for each mail. Says to whom it took one, in their order.
struct Slow {
    outlet: Outlet,
    taken: Arc<Mutex<Vec<String>>>,
}

impl Slow {
    async fn with_pace(each: Duration) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let mut settings = SmtpSettings::new("127.0.0.1", port, Security::PlainLoopback);
        settings.connections_max = 1;
        let outlet = Outlet::Smtp(SmtpOutlet::new(settings).unwrap());
        let taken = Arc::new(Mutex::new(Vec::new()));
        let list = Arc::clone(&taken);
        tokio::spawn(async move {
            loop {
                let (stream, _) = listener.accept().await.unwrap();
                tokio::spawn(serve(stream, each, Arc::clone(&list)));
            }
        });
        Self { outlet, taken }
    }

    fn taken(&self) -> Vec<String> {
        self.taken.lock().unwrap().clone()
    }
}

/// Says what a mail server says until the other side leaves.
async fn serve(stream: TcpStream, each: Duration, taken: Arc<Mutex<Vec<String>>>) {
    let mut stream = BufReader::new(stream);
    let (mut answer, mut to) = ("220 mail.example ESMTP", String::new());
    loop {
        let mut line = String::new();
        let heard = async {
            stream.write_all(format!("{answer}\r\n").as_bytes()).await?;
            stream.read_line(&mut line).await
        };
        if heard.await.is_ok_and(|length| length > 0) {
            answer = match line.split_whitespace().next().unwrap_or_default() {
                "DATA" => "354 go on",
                "QUIT" => return,
                _ => "250 well",
            };
        } else {
            return;
        }
        if let Some(recipient) = line.strip_prefix("RCPT TO:") {
            to = recipient.trim().trim_matches(['<', '>']).to_owned();
        }
        if answer.starts_with("354") {
            stream.write_all(b"354 go on\r\n").await.unwrap();
            let mut line = String::new();
            while line != ".\r\n" {
                line.clear();
                if stream.read_line(&mut line).await.unwrap_or_default() == 0 {
                    return;
                }
            }
            tokio::time::sleep(each).await;
            taken.lock().unwrap().push(to.clone());
            answer = "250 taken";
        }
    }
}

/// Puts so many requests in the outbox.
async fn queue(world: &World, count: usize) {
    let store = Store::open(&world.path("data"), Mode::Command).unwrap();
    store
        .write(move |tx| {
            for n in 0..count {
                let mail = NewMail {
                    follow_up: None,
                    cause: None,
                    person: PersonRef::Clinic,
                    target: RequestTarget::Other,
                    sender: "checks@clinic.example".to_owned(),
                    address: format!("person-{n}@home.example"),
                    message_id: format!("<{n}@clinic.example>"),
                    urgency: Urgency::Routine,
                    raw: b"Subject: a look\r\n\r\nPlease look.\r\n".to_vec(),
                };
                tx.put_mail(&mail, Utc::now())?;
            }
            Ok::<_, StoreError>(())
        })
        .await
        .unwrap();
    store.close();
}

#[tokio::test]
async fn a_queue_that_is_worked_off_is_told_as_late_past_the_queue_and_is_no_hang() {
    const QUEUED: usize = 40;
    let (world, server) = (world(), Slow::with_pace(Duration::from_millis(500)).await);
    queue(&world, QUEUED).await;
    with_service_at(HURRIED, &world, server.outlet.clone(), || async {
        until_told(&world.path("told"), IS_LATE).await;
        let begun = Instant::now();
        while server.taken().len() < QUEUED {
            assert!(begun.elapsed() < Duration::from_secs(120), "the queue is not worked off");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        until_told(&world.path("told"), "is in order again").await;
        let told = std::fs::read_to_string(world.path("told")).unwrap();
        assert!(!told.contains(HANGS), "{told}");
        let taken = server.taken();
        let alert = taken.iter().position(|to| to == "seating@clinic.example");
        assert!(alert.is_some_and(|at| at < QUEUED - 8), "{taken:?}");
    })
    .await;
}

#[tokio::test]
async fn an_outbox_from_which_nothing_leaves_while_no_trouble_is_known_is_a_hang() {
    let (world, server) = (world(), Slow::with_pace(Duration::from_secs(600)).await);
    // More than are in hand at once: those are not late.
    queue(&world, 14).await;
    with_service_at(HURRIED, &world, server.outlet.clone(), || async {
        until_told(&world.path("told"), HANGS).await;
        assert_eq!(server.taken(), [""; 0]);
    })
    .await;
}
