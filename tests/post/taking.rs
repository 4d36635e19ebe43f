//! Mail in from a real server.

use std::time::{Duration, Instant};

use fadewatch::post::{Extent, Security, WhenTaken};

use crate::peers::shared;
use crate::settings::*;

/// Whether a mail in the user's mailbox bears the marks of being taken.
fn is_marked(user: &str, text: &str) -> bool {
    let mails = shared().mails_in(user, "cur");
    let found = mails.iter().find(|(_, mail)| String::from_utf8_lossy(mail).contains(text));
    let keywords = std::fs::read_to_string(shared().maildir(user).join("dovecot-keywords"));
    let has_keyword = keywords.is_ok_and(|names| names.contains("$Processed"));
    // Dovecot writes keywords as small letters into the file name, beside the flags in capitals.
    found.is_some_and(|(name, _)| {
        let flags = name.split(":2,").nth(1).unwrap_or("");
        has_keyword && flags.contains('S') && flags.contains(|c: char| c.is_ascii_lowercase())
    })
}

#[tokio::test]
async fn a_mail_is_told_at_once_and_marked_only_after_it_was_confirmed() {
    let mut watched = watch(mailbox(shared(), "box1"), None);
    watched.until_up().await;
    let begun = Instant::now();
    deliver(shared(), "box1+tok9", "told-at-once").await;
    let arrival = watched.next().await;
    // The server itself waits half a second before it tells.
    assert!(begun.elapsed() < Duration::from_secs(5), "it took {:?}", begun.elapsed());
    let text = String::from_utf8(arrival.raw).unwrap();
    assert!(text.contains("Delivered-To: box1+tok9@clinic.test"), "{text}");
    assert_eq!(arrival.extent, Extent::Whole);
    let age = chrono::Utc::now() - arrival.received_at.unwrap();
    assert!(age.num_seconds().abs() < 60, "received {age} ago");
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert!(!is_marked("box1", "told-at-once"), "marked before it was confirmed");
    arrival.taken.send(()).unwrap();
    eventually("the mail is marked", || is_marked("box1", "told-at-once")).await;
}

#[tokio::test]
async fn a_mail_that_was_not_confirmed_comes_again_and_is_not_marked() {
    deliver(shared(), "box2", "unconfirmed").await;
    let mut watched = watch(mailbox(shared(), "box2"), None);
    drop(watched.next().await);
    watched.until(fadewatch::post::Connectivity::is_down).await;
    assert!(!is_marked("box2", "unconfirmed"));
    let (text, _) = watched.take().await;
    assert!(text.contains("unconfirmed"));
    watched.until_up().await;
}

#[tokio::test]
async fn a_mail_that_a_person_has_read_is_taken_all_the_same() {
    for (name, subject) in [("1.a:2,S", "read-1"), ("2.b:2,", "unread-2"), ("3.c:2,RS", "read-3")] {
        shared().put("box3", "cur", name, &mail(subject));
    }
    let mut watched = watch(mailbox(shared(), "box3"), None);
    let mut last = None;
    for subject in ["read-1", "unread-2", "read-3"] {
        let (text, at) = watched.take().await;
        assert!(text.contains(subject), "{text}");
        last = Some(at);
    }
    drop(watched);
    // Read by a person between two runs of the service.
    shared().put("box3", "cur", "4.d:2,S", &mail("read-4"));
    let mut watched = watch(mailbox(shared(), "box3"), last);
    assert!(watched.take().await.0.contains("read-4"));
    watched.expect_silence().await;
}

#[tokio::test]
async fn what_was_confirmed_but_not_marked_is_marked_on_coming_back() {
    deliver(shared(), "box4", "marked-later").await;
    shared().mail_with("box4", "marked-later");
    let mut watched = watch(mailbox(shared(), "box4"), None);
    let arrival = watched.next().await;
    let at = arrival.place.checkpoint();
    // The service commits and dies before it can confirm.
    drop(watched);
    drop(arrival);
    assert!(!is_marked("box4", "marked-later"));
    let mut watched = watch(mailbox(shared(), "box4"), at);
    eventually("the mail is marked", || is_marked("box4", "marked-later")).await;
    watched.expect_silence().await;
}

#[tokio::test]
async fn thousands_of_mails_are_taken_in_order_and_none_twice() {
    const COUNT: usize = 3000;
    for n in 0..COUNT {
        // File times are the server's times of receipt; names order what falls together.
        shared().put(
            "box5",
            "new",
            &format!("{}.M{n:05}.x", 1_700_000_000 + n),
            &mail(&format!("of-many-{n:05}")),
        );
    }
    let mut watched = watch(mailbox(shared(), "box5"), None);
    let begun = Instant::now();
    let mut uids = Vec::new();
    let mut seen = std::collections::BTreeSet::new();
    for _ in 0..COUNT {
        let (text, at) = watched.take().await;
        uids.push(at.last_uid);
        let subject = text.lines().find(|line| line.starts_with("Subject:")).unwrap().to_owned();
        assert!(seen.insert(subject), "a mail came twice");
    }
    assert!(uids.is_sorted(), "the numbers went back");
    assert_eq!(seen.len(), COUNT);
    assert!(begun.elapsed() < Duration::from_secs(60), "{COUNT} mails took {:?}", begun.elapsed());
    watched.expect_silence().await;
    deliver(shared(), "box5", "after-the-many").await;
    assert!(watched.take().await.0.contains("after-the-many"));
}

#[tokio::test]
async fn mails_from_before_the_service_began_are_left_alone_on_the_first_reading() {
    for n in 0..200 {
        let name = format!("1000000000.M{n}.x:2,S");
        shared().put("box6", "cur", &name, &mail(&format!("old-{n}")));
        let file = std::fs::File::options()
            .write(true)
            .open(shared().maildir("box6").join("cur").join(&name))
            .unwrap();
        let year_2001 = std::time::UNIX_EPOCH + Duration::from_secs(1_000_000_000);
        file.set_modified(year_2001).unwrap();
    }
    let mut settings = mailbox(shared(), "box6");
    settings.not_before = Some(chrono::Utc::now() - chrono::TimeDelta::hours(1));
    let mut watched = watch(settings, None);
    watched.until_up().await;
    deliver(shared(), "box6", "the-first-for-us").await;
    assert!(watched.take().await.0.contains("the-first-for-us"));
    assert!(!is_marked("box6", "old-7"), "a mail was marked that is not ours");
}

#[tokio::test]
async fn a_mail_of_20_mib_comes_whole_and_of_a_larger_one_the_head() {
    let filler = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcd\r\n";
    let mut large = mail("large-20");
    large.extend(filler.repeat(328_000).bytes());
    let mut huge = mail("huge-30");
    huge.extend(filler.repeat(492_000).bytes());
    shared().put("box7", "new", "1.large", &large);
    let mut watched = watch(mailbox(shared(), "box7"), None);
    let arrival = watched.next().await;
    assert_eq!(arrival.extent, Extent::Whole);
    assert!(arrival.raw == large, "the mail was changed on the way");
    arrival.taken.send(()).unwrap();

    shared().put("box7", "new", "2.huge", &huge);
    let arrival = watched.next().await;
    let Extent::HeadOnly { size_bytes } = arrival.extent else { panic!("{:?}", arrival.extent) };
    assert!(size_bytes > 30_000_000, "{size_bytes}");
    let head = String::from_utf8(arrival.raw).unwrap();
    assert!(head.contains("Subject: huge-30") && head.len() < 1000, "{}", head.len());
    arrival.taken.send(()).unwrap();
    deliver(shared(), "box7", "small-again").await;
    assert!(watched.take().await.0.contains("small-again"));
}

#[tokio::test]
async fn a_taken_mail_is_moved_where_that_is_asked_for() {
    let mut settings = mailbox(shared(), "box8");
    settings.when_taken = WhenTaken::MoveTo("Taken by the \"service\"".into());
    let mut watched = watch(settings, None);
    watched.until_up().await;
    for subject in ["moved-1", "moved-2"] {
        deliver(shared(), "box8", subject).await;
        assert!(watched.take().await.0.contains(subject));
    }
    let aside = shared().maildir("box8").join(".Taken by the \"service\"/cur");
    eventually("both mails are moved", || {
        std::fs::read_dir(&aside).is_ok_and(|entries| entries.count() == 2)
    })
    .await;
    // A move is a copy and then a removal, and the server does not do both in one moment.
    eventually("nothing is left where they were", || shared().mails_in("box8", "cur").is_empty())
        .await;
}

#[tokio::test]
async fn every_way_of_connecting_and_logging_in_works() {
    let peers = shared();
    let ways = [
        ("box9", Security::StartTls, peers.imap_port(), password(peers, "box9")),
        ("box10", Security::PlainLoopback, peers.imap_port(), password(peers, "box10")),
        ("box11", Security::ImplicitTls, peers.imaps_port(), token(peers, "box11", 600)),
        ("box12", Security::StartTls, peers.imap_port(), token(peers, "box12", 600)),
    ];
    for (user, security, port, credentials) in ways {
        let mut settings = mailbox(peers, user);
        (settings.security, settings.port, settings.credentials) = (security, port, credentials);
        let mut watched = watch(settings, None);
        deliver(peers, user, "by-every-way").await;
        assert!(watched.take().await.0.contains("by-every-way"), "{user}");
    }
}

#[tokio::test]
async fn garbage_in_a_mail_is_handed_over_byte_for_byte() {
    let mut garbage = b"Subject: garbage\r\nX: \xff\xfe\x80\r\n\r\n".to_vec();
    garbage.extend((1..=255u8).filter(|b| *b != b'\n' && *b != b'\r').cycle().take(5000));
    garbage.extend(b")\r\nA0001 OK done\r\n* BYE\r\n{100}\r\n");
    shared().put("box13", "new", "1.garbage", &garbage);
    let mut watched = watch(mailbox(shared(), "box13"), None);
    let arrival = watched.next().await;
    assert!(arrival.raw == garbage, "the mail was changed on the way");
    arrival.taken.send(()).unwrap();
}
