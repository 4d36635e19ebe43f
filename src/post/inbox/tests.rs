//! Taking mail from a server that behaves oddly. The server here knows one folder with a few mails
//! and no flags; a test puts its own answer in place of any command's, on the connection it chooses.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use super::super::connectivity::{Outage, Trouble};
use super::super::credentials::{Credentials, Secret, SecretText};
use super::super::wire::Security;
use super::*;

/// For the connection (from 0) and the command: an answer instead of the usual one. `TAG` stands
/// for the command's tag; an answer without any ends the connection.
type Odd = Arc<dyn Fn(usize, &str) -> Option<String> + Send + Sync>;

struct Watched {
    arrivals: mpsc::Receiver<Vec<Arrival>>,
    /// What came with the mail that was taken last.
    burst: VecDeque<Arrival>,
    health: watch::Receiver<Connectivity>,
}

impl Watched {
    async fn next(&mut self) -> Arrival {
        if let Some(next) = self.burst.pop_front() {
            return next;
        }
        let next = tokio::time::timeout(Duration::from_secs(20), self.arrivals.recv()).await;
        let next = next.unwrap_or_else(|_| panic!("no mail came: {:?}", *self.health.borrow()));
        self.burst = next.unwrap().into();
        self.burst.pop_front().unwrap()
    }

    async fn take_both_before_idle_ends(&mut self) {
        assert_eq!(self.take().await.0, "Subject: mail-1\r\n\r\n");
        let begun = tokio::time::Instant::now();
        assert_eq!(self.take().await.0, "Subject: mail-2\r\n\r\n");
        assert!(begun.elapsed() < Duration::from_millis(900), "it waited for the end of IDLE");
    }

    async fn take(&mut self) -> (String, Extent) {
        let arrival = self.next().await;
        arrival.taken.send(()).unwrap();
        (String::from_utf8(arrival.raw).unwrap(), arrival.extent)
    }

    async fn outage(&mut self) -> Outage {
        let found = self.health.wait_for(Connectivity::is_down);
        let found = tokio::time::timeout(Duration::from_secs(20), found).await.unwrap().unwrap();
        match &*found {
            Connectivity::Down(outage) => outage.clone(),
            other => panic!("{other:?}"),
        }
    }
}

/// A server with so many mails, numbered from 1, and an inbox that watches it.
async fn watched(
    mails: u32,
    odd: impl Fn(usize, &str) -> Option<String> + Send + Sync + 'static,
) -> Watched {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let odd: Odd = Arc::new(odd);
    tokio::spawn(async move {
        let mut connection = 0;
        while let Ok((stream, _)) = listener.accept().await {
            tokio::spawn(serve(stream, connection, mails, Arc::clone(&odd)));
            connection += 1;
        }
    });
    let credentials =
        Credentials { user: "robot".into(), secret: Secret::Password(SecretText::new("pw")) };
    let mut settings = ImapSettings::new("127.0.0.1", port, Security::PlainLoopback, credentials);
    settings.timeout = Duration::from_millis(500);
    settings.idle = Duration::from_secs(1);
    settings.first_pause = Duration::from_millis(10);
    let (sender, arrivals) = mpsc::channel(1);
    let (teller, health) = watch::channel(Connectivity::Unknown);
    let inbox = Inbox::Imap(ImapInbox::new(settings).unwrap());
    tokio::spawn(inbox.run(None, sender, teller));
    Watched { arrivals, burst: VecDeque::new(), health }
}

async fn serve(stream: TcpStream, connection: usize, mails: u32, odd: Odd) -> Option<()> {
    let mut stream = BufReader::new(stream);
    let greeting = odd(connection, "greeting").unwrap_or_else(|| "* OK fake TAG\r\n".into());
    stream.write_all(greeting.as_bytes()).await.ok()?;
    loop {
        let mut line = String::new();
        if stream.read_line(&mut line).await.ok()? == 0 {
            return None;
        }
        let (tag, command) = line.trim_end().split_once(' ').unwrap_or(("", line.trim_end()));
        let reply = odd(connection, command).unwrap_or_else(|| usual(command, mails));
        stream.write_all(reply.replace("TAG", tag).as_bytes()).await.ok()?;
        if !reply.contains("TAG") && !reply.starts_with('+') {
            return None;
        }
        if command == "IDLE" && reply.contains("+ ") {
            let mut done = String::new();
            stream.read_line(&mut done).await.ok()?;
            stream.write_all(format!("{tag} OK idled\r\n").as_bytes()).await.ok()?;
        }
    }
}

fn usual(command: &str, mails: u32) -> String {
    let body = |uid: u32| {
        let mail = format!("Subject: mail-{uid}\r\n\r\n");
        format!("* {uid} FETCH (UID {uid} BODY[]<0> {{{}}}\r\n{mail})\r\n", mail.len())
    };
    let entry = |uid: u32| {
        format!(
            "* {uid} FETCH (UID {uid} RFC822.SIZE 20 INTERNALDATE \
             \"01-Mar-2026 10:00:00 +0000\" FLAGS ())\r\n"
        )
    };
    let mut words = command.split(' ');
    let untagged = match (words.next(), words.next(), words.next()) {
        (Some("CAPABILITY"), ..) => "* CAPABILITY IMAP4rev1 IDLE MOVE\r\n".to_owned(),
        (Some("SELECT"), ..) => format!("* {mails} EXISTS\r\n* OK [UIDVALIDITY 7] numbers\r\n"),
        (Some("IDLE"), ..) => return "+ idling\r\n".to_owned(),
        (Some("UID"), Some("SEARCH"), _) => {
            format!("* SEARCH {}\r\n", command.rsplit(' ').next().unwrap())
        }
        (Some("UID"), Some("FETCH"), Some(set)) if command.contains("BODY.PEEK") => {
            set.split(',').map(|uid| body(uid.parse().unwrap())).collect()
        }
        (Some("UID"), Some("FETCH"), Some(set)) => {
            let from: u32 = set.split(':').next().unwrap().parse().unwrap();
            // `n:*` always matches the last mail.
            (from.min(mails)..=mails).map(entry).collect()
        }
        _ => String::new(),
    };
    format!("{untagged}TAG OK done\r\n")
}

#[tokio::test]
async fn a_mail_that_the_server_never_hands_out_keeps_no_other_back() {
    let mut watched = watched(3, |_, command| {
        let asks = command.contains("BODY.PEEK") && command.split([' ', ',']).any(|w| w == "2");
        asks.then(|| "TAG NO [SERVERBUG] cannot read it\r\n".to_owned())
    })
    .await;
    assert_eq!(watched.take().await, ("Subject: mail-1\r\n\r\n".into(), Extent::Whole));
    assert_eq!(watched.take().await, (String::new(), Extent::Unreadable));
    assert_eq!(watched.take().await, ("Subject: mail-3\r\n\r\n".into(), Extent::Whole));
}

#[tokio::test]
async fn a_mail_missing_from_the_answer_is_asked_for_again_while_it_is_listed() {
    let mut watched = watched(2, |connection, command| {
        let first = connection == 0 && command.contains("BODY.PEEK");
        first.then(|| usual("UID FETCH 2 BODY.PEEK", 2))
    })
    .await;
    assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n");
    assert_eq!(watched.take().await.0, "Subject: mail-2\r\n\r\n");
}

#[tokio::test]
async fn what_came_with_a_mail_that_was_not_confirmed_comes_again_with_it() {
    let mut watched = watched(3, |_, _| None).await;
    assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n");
    let (second, third) = (watched.next().await, watched.next().await);
    // It may be stored, but who goes on from there would pass over the one before.
    third.taken.send(()).unwrap();
    drop(second);
    assert_eq!(watched.outage().await.trouble, Trouble::NotTaken);
    assert_eq!(watched.take().await.0, "Subject: mail-2\r\n\r\n");
    assert_eq!(watched.take().await.0, "Subject: mail-3\r\n\r\n");
}

#[tokio::test]
async fn a_mail_that_vanished_is_passed_over() {
    let mut watched = watched(3, |_, command| match command {
        c if c.contains("BODY.PEEK") => Some(usual("UID FETCH 1,3 BODY.PEEK", 3)),
        c if c.contains("SEARCH") => Some("* SEARCH\r\nTAG OK none\r\n".to_owned()),
        _ => None,
    })
    .await;
    assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n");
    assert_eq!(watched.take().await.0, "Subject: mail-3\r\n\r\n");
}

#[tokio::test]
async fn a_list_that_breaks_off_is_not_taken_for_the_whole_list() {
    let entry = |uid: u32| usual(&format!("UID FETCH {uid}:*"), uid).replace("TAG OK done\r\n", "");
    for ending in ["TAG NO out of memory\r\n", ""] {
        let broken = format!("{}{ending}", entry(2));
        let mut watched = watched(2, move |connection, command| {
            let lists = command.contains("RFC822.SIZE");
            (connection == 0 && lists).then(|| broken.clone())
        })
        .await;
        // Had the broken list been believed, the first mail would be passed over for good.
        assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n");
        assert_eq!(watched.take().await.0, "Subject: mail-2\r\n\r\n");
    }
}

#[tokio::test]
async fn news_that_comes_before_the_server_listens_is_not_lost() {
    let mut watched = watched(2, |connection, command| match command {
        // The second mail comes while the first is being taken, and is mentioned with IDLE only.
        c if c.contains("RFC822.SIZE") && c.contains(" 1:") => Some(usual(c, 1)),
        "IDLE" if connection == 0 => Some("* 2 EXISTS\r\n+ idling\r\n".to_owned()),
        _ => None,
    })
    .await;
    watched.take_both_before_idle_ends().await;
}

#[tokio::test]
async fn while_mail_comes_the_server_is_asked_and_not_waited_for() {
    // It tells of nothing by itself.
    let mut watched = watched(2, |connection, command| match command {
        c if c.contains("RFC822.SIZE") && c.contains(" 1:") => Some(usual(c, 1)),
        "NOOP" if connection == 0 => Some("* 2 EXISTS\r\nTAG OK done\r\n".to_owned()),
        _ => None,
    })
    .await;
    watched.take_both_before_idle_ends().await;
}

#[tokio::test]
async fn a_server_that_cannot_tell_is_asked() {
    let mut watched = watched(2, |_, command| match command {
        "CAPABILITY" => Some("* CAPABILITY IMAP4rev1\r\nTAG OK done\r\n".to_owned()),
        c if c.contains("RFC822.SIZE") && c.contains(" 1:") => Some(usual(c, 1)),
        "IDLE" => Some("TAG BAD unknown\r\n".to_owned()),
        _ => None,
    })
    .await;
    assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n");
    assert_eq!(watched.take().await.0, "Subject: mail-2\r\n\r\n");
}

#[tokio::test]
async fn nonsense_from_the_server_is_told_without_its_words_and_survived() {
    for nonsense in [
        "* 1 FETCH (UID marker FLAGS (\r\nTAG OK done\r\n",
        "* OK [ALERT]\u{e9} marker\r\nTAG OK done\r\n",
        "marker marker marker\r\n\r\nTAG OK done\r\n",
        "* 1 FETCH (UID 1 BODY[] {99999999999}\r\nTAG",
    ] {
        let mut watched = watched(1, move |connection, command| {
            (connection == 0 && command == "CAPABILITY").then(|| nonsense.to_owned())
        })
        .await;
        assert_eq!(watched.take().await.0, "Subject: mail-1\r\n\r\n", "{nonsense}");
    }
    let mut watched = watched(1, |_, command| {
        (command == "CAPABILITY").then(|| "* 1 FETCH (marker(\r\nTAG OK done\r\n".to_owned())
    })
    .await;
    let outage = watched.outage().await;
    assert_eq!(outage.trouble, Trouble::Protocol);
    assert!(!outage.why.contains("marker"), "{}", outage.why);
}

#[tokio::test]
async fn a_server_that_falls_silent_is_noticed() {
    for silent in ["greeting", "CAPABILITY", "SELECT \"INBOX\"", "IDLE"] {
        // Half a line, and then nothing more.
        let mut watched =
            watched(1, move |_, command| (command == silent).then(|| "* OK TAG".to_owned())).await;
        if silent == "IDLE" {
            watched.take().await;
        }
        assert_eq!(watched.outage().await.trouble, Trouble::Lost, "{silent}");
    }
}

#[tokio::test]
async fn a_server_that_numbers_no_mails_is_not_trusted() {
    let mut watched = watched(1, |_, command| {
        command.starts_with("SELECT").then(|| "* 1 EXISTS\r\nTAG OK done\r\n".to_owned())
    })
    .await;
    assert_eq!(watched.outage().await.trouble, Trouble::Folder);
}

#[tokio::test]
async fn a_refused_mark_does_not_stop_mails_from_coming() {
    let mut watched = watched(60, |_, command| {
        command.contains("STORE").then(|| "TAG NO read-only\r\n".to_owned())
    })
    .await;
    for uid in 1..=60 {
        assert_eq!(watched.take().await.0, format!("Subject: mail-{uid}\r\n\r\n"));
    }
}

#[tokio::test]
async fn it_ends_when_nobody_takes_mails_any_more() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    tokio::spawn(async move {
        let (stream, _) = listener.accept().await.unwrap();
        serve(stream, 0, 0, Arc::new(|_, _| None)).await
    });
    let credentials =
        Credentials { user: "robot".into(), secret: Secret::Password(SecretText::new("pw")) };
    let settings = ImapSettings::new("127.0.0.1", port, Security::PlainLoopback, credentials);
    let (sender, arrivals) = mpsc::channel(1);
    let (teller, mut health) = watch::channel(Connectivity::Unknown);
    let inbox = Inbox::Imap(ImapInbox::new(settings).unwrap());
    let running = tokio::spawn(inbox.run(None, sender, teller));
    health.wait_for(|state| *state == Connectivity::Up).await.unwrap();
    drop(arrivals);
    tokio::time::timeout(Duration::from_secs(10), running).await.unwrap().unwrap();
}
