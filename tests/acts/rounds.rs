//! A caregiver of several clients: one mail asks about all, one reply answers for all, and nobody is
//! calm by another's words.
//!
//! Never here: how words are divided (`tests/reply/rounds.rs`).

use fadewatch::care::{ClinicianId, ContactId, Finding, Reading, Verdict};
use fadewatch::follow_up::{Event, Occasion, State};
use fadewatch::post::{Outcome, Refusal};
use fadewatch::service::act::{Act, act};
use fadewatch::service::{enrolling, sending};
use fadewatch::store::{FollowUpId, MailStatus, Person, RequestTarget, StoreError};

use crate::desk::{Desk, Mail, at, called};

/// Three clients of one caregiver, whose sittings begin at 10:00 and whose looks are due at 10:15.
struct Home {
    desk: Desk,
    clients: [FollowUpId; 3],
}

impl Home {
    fn new() -> Self {
        Self::of([("B7", "Tove"), ("C3", "Mrs Ode")])
    }

    fn of(others: [(&str, &str); 2]) -> Self {
        let mut desk = Desk::new();
        let office = &desk.office;
        let enrol = |(reference, call_name): (&str, &str)| {
            let client = called(&office.clinic, reference, call_name);
            let enrolled = desk
                .store
                .write(|tx| enrolling::enroll(office, tx, &client, "a test", at("09:00")));
            enrolled.unwrap().follow_up
        };
        let [second, third] = others.map(enrol);
        let clients = [desk.follow_up, second, third];
        desk.runs_at("10:00").sent("10:00");
        Self { desk, clients }
    }

    /// The mail that asks for the looks of 10:15.
    fn asked(&mut self) -> Vec<Mail> {
        self.desk.runs_at("10:15").sent("10:15")
    }

    fn state(&mut self, who: usize) -> State {
        let follow_up = self.clients[who];
        self.desk
            .store
            .read(|view| {
                assert!(view.is_state_as_journalled(follow_up)?);
                Ok::<_, StoreError>(view.load(follow_up)?.state)
            })
            .unwrap()
    }

    /// What was found of each at the look of 10:15.
    fn found(&mut self) -> [Option<Finding>; 3] {
        [0, 1, 2].map(|who| {
            let state = self.state(who);
            let look = state.looks().next().unwrap();
            look.found.as_ref().map(|found| found.finding)
        })
    }
}

#[test]
fn looks_of_several_clients_at_one_time_are_asked_in_one_mail() {
    let mut home = Home::new();
    let asked = home.asked();
    assert_eq!(asked.len(), 1, "{asked:#?}");
    let mail = &asked[0];
    assert_eq!(mail.target, RequestTarget::Other);
    for name in ["(A7)", "Tove (B7)", "Mrs Ode (C3)"] {
        assert!(mail.text.contains(name), "{}", mail.text);
    }
    assert!(mail.subject.starts_with("3 skin checks"), "{}", mail.subject);
    let records = home.desk.store.read(|view| view.mails_since(None)).unwrap();
    let parts: Vec<_> =
        records.iter().filter(|mail| matches!(mail.target, RequestTarget::Look(_))).collect();
    assert_eq!(parts.len(), 3);
    assert!(parts.iter().all(|part| part.status == MailStatus::Sent), "{parts:#?}");
}

#[test]
fn one_reply_answers_for_all_and_is_confirmed_in_one_mail() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    home.desk.answered(&mail, "all clear except B7: left hip red", "10:18");
    assert_eq!(home.found(), [Some(Finding::Clear), Some(Finding::Marked), Some(Finding::Clear)]);
    let confirmed = home.desk.sent("10:18");
    assert_eq!(confirmed.len(), 1, "{confirmed:#?}");
    assert!(confirmed[0].text.contains("left hip"), "{}", confirmed[0].text);
    assert_eq!(confirmed[0].text.matches("not an emergency service").count(), 1);
    // 'That is wrong', said to the confirmation, is said of the one who is named.
    home.desk.answered(&confirmed[0], "Mrs Ode: wrong, the tailbone is red", "10:20");
    assert_eq!(home.found(), [Some(Finding::Clear), Some(Finding::Marked), Some(Finding::Marked)]);
}

#[test]
fn whoever_is_not_named_stays_asked() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    home.desk.answered(&mail, "Tove: no marks", "10:18");
    assert_eq!(home.found(), [None, Some(Finding::Clear), None]);
    let open = |state: &State| state.looks().next().unwrap().is_unsettled();
    assert!(open(&home.state(0)) && open(&home.state(2)));
}

#[test]
fn a_reply_that_does_not_say_of_whom_is_asked_once_more_in_one_mail_and_calms_nobody() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    home.desk.answered(&mail, "no marks", "10:18");
    assert_eq!(home.found(), [None, None, None]);
    let again = home.desk.sent("10:18");
    assert_eq!(again.len(), 1, "{again:#?}");
    assert!(again[0].text.contains("“no marks”"), "{}", again[0].text);
    home.desk.answered(&again[0], "everyone: no marks", "10:20");
    assert_eq!(home.found(), [Some(Finding::Clear); 3]);
}

#[test]
fn the_round_itself_below_the_reply_says_nothing() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    // A mail program that quotes without a sign.
    let words = format!("Tove: left hip red\n\n{}", mail.text);
    home.desk.answered(&mail, &words, "10:18");
    let found = home.found();
    assert_eq!(found[1], Some(Finding::Marked));
    assert!(!found.contains(&Some(Finding::Clear)), "{found:?}");
}

#[test]
fn words_said_of_everybody_take_no_mark_back_that_was_reported_before() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    home.desk.answered(&mail, "Tove: left hip red", "10:18");
    home.desk.answered(&mail, "all clear", "10:19");
    assert_eq!(home.found(), [Some(Finding::Clear), Some(Finding::Marked), Some(Finding::Clear)]);
}

#[test]
fn each_client_record_holds_the_words_about_that_client_alone() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    let words = "Tove: a blister on the left hip\nMrs Ode: no marks, she was weepy today";
    home.desk.answered(&mail, words, "10:18");
    let alerts = home.desk.sent("10:18");
    let alert = alerts.iter().find(|mail| matches!(mail.target, RequestTarget::Alert(_))).unwrap();
    assert!(alert.text.contains("a blister on the left hip"), "{}", alert.text);
    assert!(!alert.text.contains("weepy"), "{}", alert.text);
}

#[test]
fn a_round_that_cannot_be_delivered_leaves_each_of_its_clients_without_that_contact() {
    let mut home = Home::new();
    home.desk.runs_at("10:15");
    let (office, now) = (&home.desk.office, at("10:16"));
    home.desk
        .store
        .write(|tx| {
            let round = tx.claim_mail(now, 10)?.remove(0);
            assert_eq!(round.mail.follow_up, None);
            let refused = Outcome::Refused(Refusal {
                permanent: true,
                recipient_at_fault: true,
                code: 550,
                text: "no such mailbox".to_owned(),
            });
            sending::settle_mail(office, tx, &round, &refused, now)
        })
        .unwrap();
    for who in 0..3 {
        let state = home.state(who);
        assert!(state.unreachable.contains(&ContactId::new("first").unwrap()), "{who}");
        // The next contact is asked at once.
        assert!(
            state
                .looks()
                .next()
                .unwrap()
                .requests
                .iter()
                .any(|asked| asked.to.as_str() == "second")
        );
    }
}

#[test]
fn a_look_that_needs_no_answer_any_more_takes_the_waiting_round_apart() {
    let mut home = Home::new();
    home.desk.runs_at("10:15");
    let stop = Occasion::Decision {
        by: ClinicianId::new("mora").unwrap(),
        verdict: Verdict::bare(Reading::KeepStopped),
        answers: None,
    };
    let (office, stopped) = (&home.desk.office, home.clients[1]);
    home.desk
        .store
        .write(|tx| {
            let decided = Act {
                occasion: &stop,
                kind: "decision",
                detail: serde_json::json!({}),
                at: at("10:15"),
                words: None,
            };
            act(office, tx, stopped, &decided).map(|_| ())
        })
        .unwrap();
    let sent = home.desk.sent("10:15");
    let looks: Vec<&Mail> =
        sent.iter().filter(|mail| matches!(mail.target, RequestTarget::Look(_))).collect();
    assert_eq!(looks.len(), 2, "{sent:#?}");
    assert!(looks.iter().all(|mail| !mail.text.contains("Tove")), "{looks:#?}");
    let journal = home.desk.journal();
    assert!(journal.iter().all(|entry| !matches!(entry.event, Event::Stopped { .. })));
}

#[test]
fn clients_who_cannot_be_told_apart_are_asked_one_by_one() {
    // 'Mark' may be a mark, and a number may be minutes.
    let mut home = Home::of([("7", "Mark"), ("8", "Mark")]);
    assert_eq!(home.asked().len(), 3);
}

#[test]
fn who_is_no_contact_of_a_client_any_more_does_not_answer_for_that_one() {
    let mut home = Home::new();
    let mail = home.asked().remove(0);
    let tove = home.clients[1];
    home.desk
        .store
        .write(|tx| {
            let somebody_else = Person {
                name: "Robin".to_owned(),
                mail: "other@home.example".to_owned(),
                language: "en".to_owned(),
            };
            tx.put_contact(tove, &ContactId::new("first").unwrap(), &somebody_else)
        })
        .unwrap();
    home.desk.answered(&mail, "all clear", "10:18");
    assert_eq!(home.found(), [Some(Finding::Clear), None, Some(Finding::Clear)]);
    // What was said of that client is shown to the clinic.
    let shown = home.desk.sent("10:18");
    assert!(shown.iter().any(|mail| mail.to.ends_with("clinic.example")), "{shown:#?}");
}
