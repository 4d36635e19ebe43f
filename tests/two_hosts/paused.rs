//! A host that stands still with mails in hand, is taken over from, and wakes up.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::os::unix::net::{UnixListener, UnixStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use chrono::{TimeDelta, Utc};

use crate::check;
use crate::clinic::{Clinic, settings_of, until};

const PATIENCE: Duration = Duration::from_secs(60);

/// A mail server that can let whoever wants to hand a mail over wait at the last step.
#[derive(Clone, Default)]
struct MailServer(Arc<(Mutex<Hand>, Condvar)>);

#[derive(Default)]
struct Hand {
    holds: bool,
    waiting: usize,
    /// How often each Message-ID was taken.
    taken: BTreeMap<String, usize>,
}

impl MailServer {
    /// Starts it; returns it with its port.
    fn start() -> (Self, u16) {
        let server = Self::default();
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let serving = server.clone();
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                let (server, stream) = (serving.clone(), stream.unwrap());
                // A client that goes away in the middle ends its conversation only.
                std::thread::spawn(move || server.converse(&stream));
            }
        });
        (server, port)
    }

    fn converse(&self, stream: &TcpStream) -> Option<()> {
        let mut said = BufReader::new(stream.try_clone().ok()?).lines().map_while(Result::ok);
        let mut say = stream.try_clone().ok()?;
        say.write_all(b"220 mail.example\r\n").ok()?;
        while let Some(line) = said.next() {
            match line.get(..4).unwrap_or_default().to_uppercase().as_str() {
                "EHLO" => say.write_all(b"250-mail.example\r\n250 8BITMIME\r\n").ok()?,
                "DATA" => {
                    self.wait_at_the_last_step();
                    say.write_all(b"354 go on\r\n").ok()?;
                    let mut id = String::new();
                    loop {
                        let line = said.next()?;
                        if line == "." {
                            break;
                        }
                        if let Some(named) = line.strip_prefix("Message-ID: ") {
                            id = named.to_owned();
                        }
                    }
                    *self.hand().taken.entry(id).or_default() += 1;
                    say.write_all(b"250 taken\r\n").ok()?;
                }
                "QUIT" => return None,
                _ => say.write_all(b"250 well\r\n").ok()?,
            }
        }
        None
    }

    fn wait_at_the_last_step(&self) {
        let mut hand = self.hand();
        if !hand.holds {
            return;
        }
        hand.waiting += 1;
        while hand.holds {
            hand = self.0.1.wait(hand).unwrap();
        }
        hand.waiting -= 1;
    }

    fn hold(&self, holds: bool) {
        self.hand().holds = holds;
        self.0.1.notify_all();
    }

    fn hand(&self) -> std::sync::MutexGuard<'_, Hand> {
        self.0.0.lock().unwrap()
    }
}

/// A way to the database server on which the server's end of a connection is not heard of until something
/// is said, as after a pause through which a host was deaf. Returns the address by it.
fn deaf_way(clinic: &Clinic) -> String {
    let address = clinic.schema.address();
    let port = address.split(' ').find_map(|part| part.strip_prefix("port=")).unwrap();
    let socket = format!(".s.PGSQL.{port}");
    let server = clinic.schema.folder().join(&socket);
    let folder = clinic.path("way");
    std::fs::create_dir(&folder).unwrap();
    let listener = UnixListener::bind(folder.join(&socket)).unwrap();
    std::thread::spawn(move || {
        for client in listener.incoming() {
            let (client, server) = (client.unwrap(), UnixStream::connect(&server).unwrap());
            let (back, back_from) = (client.try_clone().unwrap(), server.try_clone().unwrap());
            let has_ended = Arc::new(AtomicBool::new(false));
            let ended = Arc::clone(&has_ended);
            std::thread::spawn(move || {
                let _ = std::io::copy(&mut &back_from, &mut &back);
                ended.store(true, Ordering::SeqCst);
            });
            std::thread::spawn(move || carry(&client, &server, &has_ended));
        }
    });
    address.replace(
        &format!("host={}", clinic.schema.folder().display()),
        &format!("host={}", folder.display()),
    )
}

fn carry(mut client: &UnixStream, mut server: &UnixStream, has_ended: &AtomicBool) {
    let mut part = [0; 8192];
    while let Ok(bytes) = client.read(&mut part) {
        let is_over = bytes == 0 || has_ended.load(Ordering::SeqCst);
        if is_over || server.write_all(&part[..bytes]).is_err() {
            break;
        }
    }
    // Either may have gone already.
    let _ = client.shutdown(Shutdown::Both);
    let _ = server.shutdown(Shutdown::Both);
}

#[test]
fn a_host_that_wakes_up_with_mails_in_hand_leaves_them_to_its_successor() {
    let clinic = Clinic::new(2);
    // Two servers, so that one can hold the first host at the last step and the other serve.
    let servers = [MailServer::start(), MailServer::start()];
    let ways = [deaf_way(&clinic), clinic.schema.address()];
    for (host, ((_, port), way)) in servers.iter().zip(&ways).enumerate() {
        let settings = clinic.settings(host, way).replace(
            "maildir = \"mail/out\"",
            &format!("host = \"127.0.0.1\"\nport = {port}\nsecurity = \"plain-loopback\""),
        );
        clinic.write(&settings_of(host), &settings);
    }
    let [(paused, _), (successors, _)] = &servers;
    let mut first = clinic.serve(0);
    until("the first works", PATIENCE, || first.log().contains("the service runs"));
    let second = clinic.serve(1);
    until("the second stands by", PATIENCE, || second.log().contains("this one stands by"));
    paused.hold(true);
    clinic.enroll(1, "C1", Utc::now() + TimeDelta::hours(1));
    let words = "dark patch on the tailbone, still there after 40 minutes";
    clinic.run(
        1,
        &["report", "C1", "--by", "robin", "--words", words, "--taken-by", "seating", "--yes"],
    );
    until("mails are in hand", PATIENCE, || paused.hand().waiting >= 2);
    let in_hand = clinic.number("SELECT count(*) FROM outbox WHERE status = 'sending'");
    assert!(in_hand >= 2, "{in_hand} in hand");
    first.signal("-STOP");
    // As the server does of a host that does not answer for long.
    let cut = "SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory'
               AND classid = x'66616466'::int AND objid = hashtext(current_schema())::oid";
    clinic.schema.run(cut).unwrap();
    until("the second works", PATIENCE, || second.log().contains("the service runs"));
    until("it has sent all", PATIENCE, || check::is_calm(&clinic));
    let by_successor = successors.hand().taken.len();
    assert!(by_successor >= in_hand, "{by_successor} of {in_hand}");
    // The first hears from its mail server as soon as it wakes up, and goes on where it stood.
    paused.hold(false);
    first.signal("-CONT");
    until("the first ends", PATIENCE, || first.ended() == Some(false));
    until("nobody waits at the mail server", PATIENCE, || paused.hand().waiting == 0);
    std::thread::sleep(Duration::from_millis(500));
    let twice: Vec<String> = paused
        .hand()
        .taken
        .keys()
        .filter(|id| successors.hand().taken.contains_key(*id))
        .cloned()
        .collect();
    assert_eq!(twice, Vec::<String>::new(), "handed over by both");
    assert!(successors.hand().taken.values().all(|times| *times == 1));
    println!("{in_hand} mails in hand, {by_successor} sent by the successor, none by both");
    assert!(second.stop());
}
