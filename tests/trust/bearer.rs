//! Tokens in place of passwords, shown to servers that know only the newer way (RFC 7628).

use std::time::Duration;

use base64::prelude::{BASE64_STANDARD, Engine};
use fadewatch::post::{
    Credentials, ImapInbox, ImapSettings, Inbox, Outlet, Secret, SecretText, Security, SmtpOutlet,
    SmtpSettings, Trouble,
};
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};

/// What the server must be shown, for the user `robot` and the token `t0ken`.
const SHOWN: &str = "n,a=robot,\x01auth=Bearer t0ken\x01\x01";

fn credentials(token: &str) -> Credentials {
    Credentials { user: "robot".into(), secret: Secret::BearerToken(SecretText::new(token)) }
}

async fn say(stream: &mut BufReader<TcpStream>, words: &str) {
    stream.write_all(words.as_bytes()).await.unwrap();
}

async fn hear(stream: &mut BufReader<TcpStream>) -> String {
    let mut line = String::new();
    stream.read_line(&mut line).await.unwrap();
    line.trim_end().to_owned()
}

/// A mail server that offers OAUTHBEARER only. Returns what it was shown.
async fn smtp_server(listener: TcpListener) -> Vec<String> {
    let (stream, _) = listener.accept().await.unwrap();
    let mut stream = BufReader::new(stream);
    say(&mut stream, "220 mail.example ESMTP\r\n").await;
    let mut auth = hear(&mut stream).await;
    // Clients may ask what a server can do as often as they like.
    while auth.starts_with("EHLO") {
        say(&mut stream, "250-mail.example\r\n250 AUTH OAUTHBEARER\r\n").await;
        auth = hear(&mut stream).await;
    }
    let proof = auth.strip_prefix("AUTH OAUTHBEARER ").unwrap_or_default();
    let proof = String::from_utf8(BASE64_STANDARD.decode(proof).unwrap()).unwrap();
    let mut heard = vec![proof.clone()];
    if proof == SHOWN {
        say(&mut stream, "235 2.7.0 well\r\n").await;
    } else {
        say(&mut stream, "334 eyJzdGF0dXMiOiJpbnZhbGlkX3Rva2VuIn0=\r\n").await;
        heard.push(hear(&mut stream).await);
        say(&mut stream, "535 5.7.8 no\r\n").await;
    }
    heard
}

async fn outlet_to(listener: &TcpListener, token: &str) -> Outlet {
    let port = listener.local_addr().unwrap().port();
    let mut settings = SmtpSettings::new("127.0.0.1", port, Security::PlainLoopback);
    settings.credentials = Some(credentials(token));
    settings.timeout = Duration::from_secs(5);
    Outlet::Smtp(SmtpOutlet::new(settings).unwrap())
}

#[tokio::test]
async fn a_mail_server_that_knows_the_newer_way_only_is_shown_the_token_in_that_way() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let outlet = outlet_to(&listener, "t0ken").await;
    let server = tokio::spawn(smtp_server(listener));
    assert_eq!(outlet.probe().await, Ok(()));
    assert_eq!(server.await.unwrap(), [SHOWN]);
}

#[tokio::test]
async fn a_refused_token_is_answered_as_the_standard_says_and_counts_as_a_refused_login() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let outlet = outlet_to(&listener, "lapsed").await;
    let server = tokio::spawn(smtp_server(listener));
    assert_eq!(outlet.probe().await, Err(Trouble::Login));
    // A lone Ctrl-A, in base64.
    assert_eq!(server.await.unwrap()[1], "AQ==");
}

#[tokio::test]
async fn a_mailbox_that_knows_the_newer_way_only_is_shown_the_token_in_that_way() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let settings =
        ImapSettings::new("127.0.0.1", port, Security::PlainLoopback, credentials("t0ken"));
    let inbox = Inbox::Imap(ImapInbox::new(settings).unwrap());
    let (arrivals, _arriving) = mpsc::channel(1);
    let (health, _) = watch::channel(Default::default());
    let watching = tokio::spawn(async move { inbox.run(None, arrivals, health).await });

    let (stream, _) = listener.accept().await.unwrap();
    let mut stream = BufReader::new(stream);
    say(&mut stream, "* OK ready\r\n").await;
    let older = hear(&mut stream).await;
    let (tag, command) = older.split_once(' ').unwrap();
    assert_eq!(command, "AUTHENTICATE XOAUTH2");
    say(&mut stream, &format!("{tag} NO unknown mechanism\r\n")).await;
    let newer = hear(&mut stream).await;
    let (_, command) = newer.split_once(' ').unwrap();
    assert_eq!(command, "AUTHENTICATE OAUTHBEARER");
    say(&mut stream, "+ \r\n").await;
    let proof = BASE64_STANDARD.decode(hear(&mut stream).await).unwrap();
    assert_eq!(String::from_utf8(proof).unwrap(), SHOWN);
    watching.abort();
}
