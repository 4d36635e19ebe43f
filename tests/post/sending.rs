//! Mail out through a real server.

use std::time::{Duration, Instant};

use fadewatch::post::{
    Credentials, Outcome, Refusal, Secret, SecretText, Security, Trouble, Trust,
};

use crate::peers::{Peers, shared};
use crate::settings::*;

async fn send(settings: fadewatch::post::SmtpSettings, to: &str, subject: &str) -> Outcome {
    outlet(settings).send(&address("robot@clinic.test"), &address(to), &mail(subject)).await
}

fn refusal(outcome: Outcome) -> Refusal {
    match outcome {
        Outcome::Refused(refusal) => refusal,
        other => panic!("not refused: {other:?}"),
    }
}

#[tokio::test]
async fn a_mail_arrives_over_starttls_with_its_plus_address_kept() {
    let outcome = send(submission(shared()), "alice+tok-1@clinic.test", "over-starttls").await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    let arrived = String::from_utf8(shared().mail_with("alice", "over-starttls")).unwrap();
    assert!(arrived.contains("Delivered-To: alice+tok-1@clinic.test"), "{arrived}");
    assert!(arrived.contains("Return-Path: <robot@clinic.test>"), "{arrived}");
    assert!(arrived.contains("with ESMTPSA"), "neither TLS nor login were used: {arrived}");
}

#[tokio::test]
async fn a_mail_arrives_over_implicit_tls() {
    let mut settings = submission(shared());
    (settings.port, settings.security) = (shared().smtps_port(), Security::ImplicitTls);
    let outcome = send(settings, "alice@clinic.test", "over-implicit-tls").await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    let arrived = String::from_utf8(shared().mail_with("alice", "over-implicit-tls")).unwrap();
    assert!(arrived.contains("with ESMTPSA"), "{arrived}");
}

#[tokio::test]
async fn a_certificate_of_an_unknown_authority_is_refused() {
    for (port, security) in [
        (shared().submission_port(), Security::StartTls),
        (shared().smtps_port(), Security::ImplicitTls),
    ] {
        for trust in [Trust::Only(shared().other_ca_file()), Trust::Public] {
            let mut settings = submission(shared());
            (settings.port, settings.security, settings.trust) = (port, security, trust);
            let outcome = send(settings, "alice@clinic.test", "never-sent").await;
            assert!(
                matches!(outcome, Outcome::Unreachable { trouble: Trouble::Tls, .. }),
                "{security:?}: {outcome:?}"
            );
        }
    }
}

#[tokio::test]
async fn a_certificate_for_another_name_is_refused() {
    for (port, security) in [
        (shared().submission_port(), Security::StartTls),
        (shared().smtps_port(), Security::ImplicitTls),
    ] {
        let mut settings = submission(shared());
        settings.security = security;
        (settings.host, settings.port) = other_name(port).await;
        let outcome = send(settings, "alice@clinic.test", "never-sent").await;
        assert!(
            matches!(outcome, Outcome::Unreachable { trouble: Trouble::Tls, .. }),
            "{security:?}: {outcome:?}"
        );
    }
}

#[tokio::test]
async fn a_wrong_password_is_ours_and_not_the_recipients() {
    let mut settings = submission(shared());
    settings.credentials = Some(Credentials {
        user: "robot@clinic.test".into(),
        secret: Secret::Password(SecretText::new("wrong")),
    });
    let refusal = refusal(send(settings, "alice@clinic.test", "never-sent").await);
    assert_eq!((refusal.code, refusal.permanent), (535, true));
    assert!(!refusal.recipient_at_fault);
}

#[tokio::test]
async fn a_token_opens_the_door_and_a_lapsed_one_does_not() {
    let mut settings = submission(shared());
    settings.credentials = Some(token(shared(), "robot", 600));
    let outcome = send(settings.clone(), "alice@clinic.test", "with-a-token").await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");

    settings.credentials = Some(token(shared(), "robot", -600));
    let refusal = refusal(send(settings, "alice@clinic.test", "never-sent").await);
    assert_eq!((refusal.code, refusal.recipient_at_fault), (535, false), "{refusal:?}");
}

#[tokio::test]
async fn a_refreshed_token_is_used_by_an_outlet_that_runs() {
    let secret = SecretText::new(shared().token("robot", -600));
    let mut settings = submission(shared());
    settings.credentials = Some(Credentials {
        user: "robot@clinic.test".into(),
        secret: Secret::BearerToken(secret.clone()),
    });
    let outlet = outlet(settings);
    let (from, to) = (address("robot@clinic.test"), address("alice@clinic.test"));
    let before = outlet.send(&from, &to, &mail("before-refresh")).await;
    assert!(matches!(before, Outcome::Refused(_)), "{before:?}");
    secret.replace(shared().token("robot", 600));
    let after = outlet.send(&from, &to, &mail("after-refresh")).await;
    assert!(matches!(after, Outcome::Accepted { .. }), "{after:?}");
}

#[tokio::test]
async fn refusals_of_a_recipient_tell_for_now_from_for_good() {
    for (settings, to, code, recipient_at_fault) in [
        // The server says of itself that it is busy (4.3.0).
        (submission(shared()), "busy@clinic.test", 451, false),
        (submission(shared()), "refused@clinic.test", 550, true),
        (stranger(shared()), "unknown@clinic.test", 550, true),
        (stranger(shared()), "someone@elsewhere.test", 554, true),
    ] {
        let refusal = refusal(send(settings, to, "never-sent").await);
        assert_eq!(refusal.code, code, "{refusal:?}");
        assert_eq!(refusal.permanent, code >= 500, "{refusal:?}");
        assert_eq!(refusal.recipient_at_fault, recipient_at_fault, "{refusal:?}");
    }
}

#[tokio::test]
async fn a_mail_of_20_mib_goes_out() {
    let mut large = mail("large-one-out");
    large.extend(
        "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcd\r\n"
            .repeat(328_000)
            .bytes(),
    );
    assert!(large.len() > 20 * 1024 * 1024);
    let outcome = outlet(submission(shared()))
        .send(&address("robot@clinic.test"), &address("bob@clinic.test"), &large)
        .await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    let arrived = shared().mail_with("bob", "large-one-out");
    assert!(arrived.len() > 19 * 1024 * 1024);
}

#[tokio::test]
async fn lines_that_begin_with_a_dot_arrive_as_they_were() {
    let mut dotted = mail("dotted");
    dotted.extend(b".\r\n..two\r\n.end\r\n");
    let outcome = outlet(submission(shared()))
        .send(&address("robot@clinic.test"), &address("carla@clinic.test"), &dotted)
        .await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    let arrived = String::from_utf8(shared().mail_with("carla", "dotted")).unwrap();
    assert!(arrived.contains("\n.\n..two\n.end\n"), "{arrived}");
}

#[tokio::test]
async fn many_mails_at_once_share_the_allowed_connections() {
    let peers = Peers::start();
    let mut settings = submission(&peers);
    settings.connections_max = 3;
    let outlet = outlet(settings);
    let sends = (0..60).map(|n| {
        let outlet = outlet.clone();
        tokio::spawn(async move {
            let (from, to) = (address("robot@clinic.test"), address("dan@clinic.test"));
            outlet.send(&from, &to, &mail(&format!("many-{n}"))).await
        })
    });
    for send in sends.collect::<Vec<_>>() {
        let outcome = send.await.unwrap();
        assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    }
    outlet.drained().await;
    eventually("60 mails arrive", || peers.mails_in("dan", "new").len() == 60).await;
    let connections = peers.smtp_log().matches(": connect from").count();
    // The start of the servers is found out by three connections of its own.
    assert!(connections <= 3 + 3, "{connections} connections for 60 mails");
}

#[tokio::test]
async fn a_mail_costs_less_than_the_delay_of_nagle() {
    let outlet = outlet(submission(shared()));
    let (from, to) = (address("robot@clinic.test"), address("erin@clinic.test"));
    let mut fastest = Duration::MAX;
    for n in 0..20 {
        let begun = Instant::now();
        let outcome = outlet.send(&from, &to, &mail(&format!("quick-{n}"))).await;
        assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
        fastest = fastest.min(begun.elapsed());
    }
    // With the delay, no mail takes less than 40 ms.
    assert!(fastest < Duration::from_millis(25), "the fastest of 20 mails took {fastest:?}");
}

#[tokio::test]
async fn a_connection_that_the_server_closed_meanwhile_costs_no_mail() {
    let peers = Peers::start();
    let outlet = outlet(submission(&peers));
    let (from, to) = (address("robot@clinic.test"), address("dan@clinic.test"));
    let first = outlet.send(&from, &to, &mail("before-restart")).await;
    assert!(matches!(first, Outcome::Accepted { .. }), "{first:?}");

    peers.stop("smtp");
    let down = outlet.send(&from, &to, &mail("while-down")).await;
    assert!(matches!(down, Outcome::Unreachable { trouble: Trouble::Connect, .. }), "{down:?}");

    peers.start_again("smtp");
    let after = outlet.send(&from, &to, &mail("after-restart")).await;
    assert!(matches!(after, Outcome::Accepted { .. }), "{after:?}");
    peers.mail_with("dan", "after-restart");
}

#[tokio::test]
async fn a_bounce_comes_back_to_the_envelope_sender() {
    let outlet = outlet(submission(shared()));
    let from = address("robot+bounce17@clinic.test");
    let outcome = outlet.send(&from, &address("nobody@clinic.test"), &mail("to-nobody")).await;
    assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    let report = String::from_utf8(shared().mail_with("robot", "to-nobody")).unwrap();
    assert!(report.contains("Delivered-To: robot+bounce17@clinic.test"), "{report}");
    assert!(report.contains("Status: 5.1.1"), "{report}");
}
