//! Mail in while the server fails, restarts, or changes its numbering.

use fadewatch::post::{
    Connectivity, Credentials, ImapSettings, Secret, SecretText, Security, Trouble, Trust,
};

use crate::peers::{Peers, shared};
use crate::settings::*;

async fn first_trouble(settings: ImapSettings) -> Trouble {
    let mut watched = watch(settings, None);
    match watched.until(Connectivity::is_down).await {
        Connectivity::Down(outage) => outage.trouble,
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_restart_of_the_server_is_told_and_loses_nothing() {
    let peers = Peers::start();
    let mut watched = watch(mailbox(&peers, "box1"), None);
    deliver(&peers, "box1", "before-the-restart").await;
    assert!(watched.take().await.0.contains("before-the-restart"));

    peers.stop("imap");
    watched.until(Connectivity::is_down).await;
    deliver(&peers, "box1", "while-it-was-down").await;
    peers.start_again("imap");
    assert!(watched.take().await.0.contains("while-it-was-down"));
    watched.until_up().await;

    deliver(&peers, "box1", "after-the-restart").await;
    assert!(watched.take().await.0.contains("after-the-restart"));
    watched.expect_silence().await;
}

#[tokio::test]
async fn a_restart_between_handing_over_and_confirming_brings_no_mail_twice_and_loses_none() {
    let peers = Peers::start();
    deliver(&peers, "box1", "in-the-middle").await;
    let mut watched = watch(mailbox(&peers, "box1"), None);
    let arrival = watched.next().await;
    peers.stop("imap");
    arrival.taken.send(()).unwrap();
    watched.until(Connectivity::is_down).await;
    peers.start_again("imap");
    watched.until_up().await;
    watched.expect_silence().await;
    deliver(&peers, "box1", "the-next-one").await;
    assert!(watched.take().await.0.contains("the-next-one"));
}

#[tokio::test]
async fn new_numbers_for_all_mails_bring_only_those_that_were_not_taken() {
    let peers = Peers::start();
    let mut watched = watch(mailbox(&peers, "box1"), None);
    let mut last = None;
    for subject in ["taken-1", "taken-2", "taken-3"] {
        deliver(&peers, "box1", subject).await;
        let (text, at) = watched.take().await;
        assert!(text.contains(subject), "{text}");
        last = Some(at);
    }
    let last = last.unwrap();
    watched.until_up().await;
    // The last one is marked once the server is back at listening.
    eventually("the last mail is marked", || {
        peers.mails_in("box1", "cur").iter().filter(|(name, _)| name.ends_with(":2,Sa")).count()
            == 3
    })
    .await;

    peers.stop("imap");
    for file in ["dovecot-uidlist", "dovecot.index", "dovecot.index.log", "dovecot.index.cache"] {
        let _ = std::fs::remove_file(peers.maildir("box1").join(file));
    }
    let _ = std::fs::remove_file(peers.maildir("box1").join("dovecot-uidvalidity"));
    deliver(&peers, "box1", "came-meanwhile").await;
    peers.start_again("imap");
    let (text, at) = watched.take().await;
    assert!(text.contains("came-meanwhile"), "{text}");
    assert_ne!(at.uid_validity, last.uid_validity, "the server did not number anew");
    watched.expect_silence().await;

    // A service that starts with the old checkpoint does the same.
    drop(watched);
    deliver(&peers, "box1", "came-later").await;
    let mut watched = watch(mailbox(&peers, "box1"), Some(last));
    assert!(watched.take().await.0.contains("came-later"));
    watched.expect_silence().await;
}

#[tokio::test]
async fn each_kind_of_trouble_is_named() {
    let peers = shared();
    let mut wrong_password = mailbox(peers, "box14");
    wrong_password.credentials = Credentials {
        user: "box14@clinic.test".into(),
        secret: Secret::Password(SecretText::new("wrong")),
    };
    assert_eq!(first_trouble(wrong_password).await, Trouble::Login);

    let mut lapsed_token = mailbox(peers, "box14");
    lapsed_token.credentials = token(peers, "box14", -600);
    assert_eq!(first_trouble(lapsed_token).await, Trouble::Login);

    let mut odd_password = mailbox(peers, "box14");
    odd_password.credentials = Credentials {
        user: "box14@clinic.test".into(),
        secret: Secret::Password(SecretText::new("wröng \"\\ pass")),
    };
    assert_eq!(first_trouble(odd_password).await, Trouble::Login);

    for (security, port) in
        [(Security::ImplicitTls, peers.imaps_port()), (Security::StartTls, peers.imap_port())]
    {
        let mut stranger = mailbox(peers, "box14");
        (stranger.security, stranger.port) = (security, port);
        stranger.trust = Trust::Only(peers.other_ca_file());
        assert_eq!(first_trouble(stranger).await, Trouble::Tls, "{security:?}");
    }

    let mut other_host = mailbox(peers, "box14");
    (other_host.host, other_host.port) = other_name(peers.imaps_port()).await;
    assert_eq!(first_trouble(other_host).await, Trouble::Tls);

    let mut no_folder = mailbox(peers, "box14");
    no_folder.folder = "No such folder".into();
    assert_eq!(first_trouble(no_folder).await, Trouble::Folder);

    let mut not_there = mailbox(peers, "box14");
    not_there.port = 1;
    assert_eq!(first_trouble(not_there).await, Trouble::Connect);

    let mut no_such_host = mailbox(peers, "box14");
    no_such_host.host = "mail.nowhere.invalid".into();
    assert_eq!(first_trouble(no_such_host).await, Trouble::NameLookup);
}
