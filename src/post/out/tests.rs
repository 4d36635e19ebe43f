//! Sending to a server that fails at a chosen moment. The server here greets, answers as told, and
//! writes down what it was told; it knows no TLS, no login and no order of commands.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};

use super::super::wire::Security;
use super::*;

#[derive(Clone, Copy)]
enum Answer {
    Say(&'static str),
    Hang,
    Cut,
}
use Answer::{Cut, Hang, Say};

/// What the server answers at each moment.
#[derive(Clone, Copy)]
struct Ways {
    greeting: Answer,
    features: &'static str,
    at_mail: Answer,
    at_rcpt: Answer,
    at_data: Answer,
    at_end: Answer,
    /// After so many mails on one connection, MAIL is answered with 421 and the end.
    mails_max: usize,
}

const KIND: Ways = Ways {
    greeting: Say("220 fake"),
    features: "250-fake\r\n250-8BITMIME\r\n250 SIZE",
    at_mail: Say("250 ok"),
    at_rcpt: Say("250 ok"),
    at_data: Say("354 go on"),
    at_end: Say("250 queued as 17"),
    mails_max: 1000,
};

#[derive(Default)]
struct Seen {
    connections: usize,
    commands: Vec<String>,
    mails: Vec<String>,
}

struct Fake {
    port: u16,
    seen: Arc<Mutex<Seen>>,
}

impl Fake {
    async fn start(ways: Ways) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let seen = Arc::new(Mutex::new(Seen::default()));
        let shared = Arc::clone(&seen);
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                shared.lock().unwrap().connections += 1;
                tokio::spawn(serve(stream, ways, Arc::clone(&shared)));
            }
        });
        Self { port, seen }
    }

    fn outlet(&self) -> Outlet {
        let mut settings = SmtpSettings::new("127.0.0.1", self.port, Security::PlainLoopback);
        settings.timeout = Duration::from_millis(300);
        Outlet::Smtp(SmtpOutlet::new(settings).unwrap())
    }

    fn mails(&self) -> Vec<String> {
        self.seen.lock().unwrap().mails.clone()
    }

    fn was_told(&self, command: &str) -> bool {
        self.seen.lock().unwrap().commands.iter().any(|c| c.starts_with(command))
    }
}

/// Answers until told to cut; `None` then.
async fn answer(stream: &mut BufReader<TcpStream>, answer: Answer) -> Option<()> {
    match answer {
        Say(words) => stream.write_all(format!("{words}\r\n").as_bytes()).await.ok(),
        Hang => std::future::pending().await,
        Cut => None,
    }
}

async fn serve(stream: TcpStream, ways: Ways, seen: Arc<Mutex<Seen>>) -> Option<()> {
    let mut stream = BufReader::new(stream);
    answer(&mut stream, ways.greeting).await?;
    let mut mails = 0;
    loop {
        let mut line = String::new();
        if stream.read_line(&mut line).await.ok()? == 0 {
            return None;
        }
        let command = line.split([' ', '\r']).next().unwrap().to_owned();
        seen.lock().unwrap().commands.push(line.trim_end().to_owned());
        let reply = match command.as_str() {
            "STARTTLS" => Say("220 go on\r\n250 slipped in"),
            "EHLO" => Say(ways.features),
            "MAIL" if mails >= ways.mails_max => {
                answer(&mut stream, Say("421 too many mails")).await?;
                return None;
            }
            "MAIL" => ways.at_mail,
            "RCPT" => ways.at_rcpt,
            "DATA" => ways.at_data,
            "QUIT" => Say("221 bye"),
            _ => Say("500 what"),
        };
        answer(&mut stream, reply).await?;
        if command == "DATA" && matches!(ways.at_data, Say(words) if words.starts_with("354")) {
            let mut mail = String::new();
            while !mail.ends_with("\r\n.\r\n") {
                if stream.read_line(&mut mail).await.ok()? == 0 {
                    return None;
                }
            }
            seen.lock().unwrap().mails.push(mail);
            mails += 1;
            answer(&mut stream, ways.at_end).await?;
        }
    }
}

async fn send(outlet: &Outlet, mail: &[u8]) -> Outcome {
    let address = |text| Address::parse(text).unwrap();
    outlet.send(&address("robot@clinic.example"), &address("ann@home.example"), mail).await
}

async fn outcome(ways: Ways) -> (Outcome, Fake) {
    let fake = Fake::start(ways).await;
    let outcome = send(&fake.outlet(), b"Subject: a\r\n\r\nb\r\n").await;
    (outcome, fake)
}

#[tokio::test]
async fn an_answer_lost_after_the_mail_is_doubt_and_sent_once_only() {
    for at_end in [Cut, Hang, Say("what 250 ok")] {
        let (outcome, fake) = outcome(Ways { at_end, ..KIND }).await;
        assert!(matches!(outcome, Outcome::InDoubt { .. }), "{outcome:?}");
        assert_eq!(fake.mails().len(), 1);
    }
}

#[tokio::test]
async fn whatever_fails_before_the_mail_leaves_no_doubt() {
    for failure in [Cut, Hang] {
        for ways in [
            Ways { greeting: failure, ..KIND },
            Ways { at_mail: failure, ..KIND },
            Ways { at_rcpt: failure, ..KIND },
            Ways { at_data: failure, ..KIND },
        ] {
            let (outcome, fake) = outcome(ways).await;
            assert!(matches!(outcome, Outcome::Unreachable { .. }), "{outcome:?}");
            assert_eq!(fake.mails().len(), 0);
        }
    }
}

#[tokio::test]
async fn a_server_that_takes_several_commands_at_once_gets_the_mail_only_if_it_takes_them_all() {
    let kind = Ways { features: "250-fake\r\n250-8BITMIME\r\n250 PIPELINING", ..KIND };
    let (sent, fake) = outcome(kind).await;
    assert_eq!(sent, Outcome::Accepted { reply: "queued as 17".into() });
    assert_eq!(fake.mails().len(), 1);
    let no = Say("550 5.1.1 unknown");
    for (ways, is_recipients) in [
        (Ways { at_mail: no, ..kind }, false),
        // The server goes on to ask for the mail, whomever it may be for.
        (Ways { at_rcpt: no, ..kind }, true),
        (Ways { at_data: no, ..kind }, true),
    ] {
        let (outcome, fake) = outcome(ways).await;
        let Outcome::Refused(refusal) = outcome else { panic!("{outcome:?}") };
        assert_eq!(refusal.recipient_at_fault, is_recipients);
        assert_eq!(fake.mails().len(), 0);
    }
}

#[tokio::test]
async fn a_no_after_the_mail_is_a_refusal() {
    for (words, permanent, recipient_at_fault) in [
        ("452 4.3.1 disk full", false, false),
        ("554 5.7.1 no such words here", true, false),
        ("552 5.2.2 mailbox full", true, true),
    ] {
        let (outcome, _) = outcome(Ways { at_end: Say(words), ..KIND }).await;
        let Outcome::Refused(refusal) = outcome else { panic!("{outcome:?}") };
        assert_eq!(refusal.permanent, permanent, "{words}");
        assert_eq!(refusal.recipient_at_fault, recipient_at_fault, "{words}");
        assert!(refusal.text.contains(&words[10..]), "{}", refusal.text);
    }
}

#[tokio::test]
async fn the_queue_id_of_an_accepted_mail_is_kept() {
    let (outcome, _) = outcome(KIND).await;
    assert_eq!(outcome, Outcome::Accepted { reply: "queued as 17".into() });
}

#[tokio::test]
async fn a_caller_that_goes_away_leaves_no_mail_half_sent() {
    let fake = Fake::start(Ways { at_end: Hang, ..KIND }).await;
    let outlet = fake.outlet();
    let mail = b"Subject: whole\r\n\r\nto the end\r\n";
    let sending = tokio::time::timeout(Duration::from_millis(1), send(&outlet, mail));
    assert!(sending.await.is_err(), "the sending ended before it could be given up");
    outlet.drained().await;
    assert_eq!(fake.mails().len(), 1);
    assert!(fake.mails()[0].contains("to the end"));
}

#[tokio::test]
async fn a_connection_is_used_again_and_replaced_when_the_server_ends_it() {
    let fake = Fake::start(Ways { mails_max: 3, ..KIND }).await;
    let outlet = fake.outlet();
    for n in 0..7 {
        let mail = format!("Subject: {n}\r\n\r\n");
        let outcome = send(&outlet, mail.as_bytes()).await;
        assert!(matches!(outcome, Outcome::Accepted { .. }), "{n}: {outcome:?}");
    }
    assert_eq!(fake.mails().len(), 7);
    assert_eq!(fake.seen.lock().unwrap().connections, 3);
}

#[tokio::test]
async fn nothing_is_said_in_the_clear_where_starttls_is_missing() {
    let fake = Fake::start(KIND).await;
    let mut settings = SmtpSettings::new("localhost", fake.port, Security::StartTls);
    settings.timeout = Duration::from_millis(300);
    let outlet = Outlet::Smtp(SmtpOutlet::new(settings).unwrap());
    let outcome = send(&outlet, b"Subject: secret\r\n\r\n").await;
    assert!(matches!(outcome, Outcome::Unreachable { .. }), "{outcome:?}");
    assert!(fake.was_told("EHLO") && !fake.was_told("AUTH") && !fake.was_told("MAIL"));
}

#[tokio::test]
async fn answers_slipped_in_before_tls_are_found_out() {
    let fake = Fake::start(Ways { features: "250-fake\r\n250 StartTLS", ..KIND }).await;
    let mut settings = SmtpSettings::new("localhost", fake.port, Security::StartTls);
    settings.timeout = Duration::from_millis(300);
    let outlet = Outlet::Smtp(SmtpOutlet::new(settings).unwrap());
    let outcome = send(&outlet, b"Subject: secret\r\n\r\n").await;
    let Outcome::Unreachable { trouble, why } = outcome else { panic!("{outcome:?}") };
    assert_eq!(trouble, Trouble::Tls);
    assert!(why.contains("in between"), "{why}");
}

#[tokio::test]
async fn debug_output_shows_no_words_of_the_server() {
    let at_rcpt = Say("550 5.1.1 <marker@home.example> unknown");
    for ways in [Ways { at_rcpt, ..KIND }, Ways { at_end: Say("250 marker"), ..KIND }] {
        let (outcome, _) = outcome(ways).await;
        assert!(!format!("{outcome:?}").contains("marker"), "{outcome:?}");
    }
}

#[tokio::test]
async fn eight_bit_words_are_not_forced_on_a_server_that_takes_seven() {
    let fake = Fake::start(Ways { features: "250 fake", ..KIND }).await;
    let outcome = send(&fake.outlet(), "Subject: ü\r\n\r\n".as_bytes()).await;
    let Outcome::Refused(refusal) = outcome else { panic!("{outcome:?}") };
    assert!(!refusal.recipient_at_fault && refusal.permanent);
    assert!(!fake.was_told("MAIL"));
}
