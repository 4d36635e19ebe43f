//! Mail in both directions, the people it goes between, and the tokens that tie it together.

use fadewatch::care::{ClientRef, ClinicianId, ContactId};
use fadewatch::follow_up::{Instant, LookId, SittingNumber};
use fadewatch::store::{
    Filing, FollowUpId, InboxStatus, MailStatus, MailboxMark, NewMail, OutboxId, Person, PersonRef,
    Place, RememberedInstant, RequestTarget, StoreError, Token, TokenMeaning, Urgency,
};

use super::Bench;
use crate::bench::Host as _;
use crate::sample::{self, at};

fn mail(number: u32, urgency: Urgency) -> NewMail {
    NewMail {
        follow_up: None,
        cause: None,
        person: PersonRef::Clinician(ClinicianId::new("ot-1").unwrap()),
        target: RequestTarget::Other,
        sender: "bounce@clinic.example".to_owned(),
        address: "ot@clinic.example".to_owned(),
        message_id: format!("<{number}@clinic.example>"),
        urgency,
        raw: format!("Subject: {number}\r\n\r\n").into_bytes(),
    }
}

fn put(bench: &Bench, mail: NewMail, now: Instant) -> OutboxId {
    bench.store.write_blocking(move |tx| tx.put_mail(&mail, now)).unwrap()
}

fn claim(bench: &Bench, now: Instant, limit: u32) -> Vec<OutboxId> {
    let claimed = bench.store.write_blocking(move |tx| tx.claim_mail(now, limit)).unwrap();
    claimed.into_iter().map(|mail| mail.id).collect()
}

#[test]
fn the_riskiest_mail_goes_first_class_by_class_and_then_the_longest_waiting() {
    let bench = Bench::new();
    let riskiest_first = [
        Urgency::Stop,
        Urgency::Alert,
        Urgency::Recheck,
        Urgency::FirstLook,
        Urgency::Routine,
        Urgency::Digest,
    ];
    // The least urgent has waited longest.
    let mut put_in = Vec::new();
    for (number, urgency) in (0..).zip(riskiest_first.into_iter().rev()) {
        put_in.push(put(&bench, mail(number, urgency), at(i64::from(number))));
    }
    put_in.reverse();
    let later_alert = put(&bench, mail(99, Urgency::Alert), at(7));
    assert_eq!(claim(&bench, at(7), 3), [put_in[0], put_in[1], later_alert]);
    assert_eq!(claim(&bench, at(7), 2), put_in[2..4]);
    assert_eq!(claim(&bench, at(7), 9), put_in[4..]);
    assert_eq!(claim(&bench, at(7), 9), []);
}

#[test]
fn a_claimed_mail_is_whole_and_its_end_is_kept() {
    let bench = Bench::new();
    let new = mail(1, Urgency::Alert);
    let id = put(&bench, new.clone(), at(0));
    let claimed = bench.store.write_blocking(|tx| tx.claim_mail(at(1), 9)).unwrap();
    assert_eq!(claimed[0].mail, new);
    assert_eq!((claimed[0].created_at, claimed[0].attempts), (at(0), 0));
    bench.store.write_blocking(move |tx| tx.mark_sent(id, at(2))).unwrap();
    let record = bench.store.read_blocking(|view| view.mail(id)).unwrap();
    assert_eq!((record.id, record.status, record.attempts), (id, MailStatus::Sent, 1));
    assert_eq!(bench.store.read_blocking(|view| view.raw_mail(id)).unwrap(), Some(new.raw));
}

#[test]
fn a_refused_try_waits_and_a_refusal_for_good_ends_it() {
    let bench = Bench::new();
    let id = put(&bench, mail(1, Urgency::Alert), at(0));
    claim(&bench, at(0), 1);
    bench.store.write_blocking(move |tx| tx.retry_mail(id, at(5), "greylisted")).unwrap();
    assert_eq!(claim(&bench, at(4), 1), []);
    assert_eq!(bench.store.read_blocking(|view| view.next_try()).unwrap(), Some(at(5)));
    assert_eq!(claim(&bench, at(5), 1), [id]);
    bench.store.write_blocking(move |tx| tx.mark_refused(id, "no such user", at(6))).unwrap();
    let record = bench.store.read_blocking(|view| view.mail(id)).unwrap();
    assert_eq!((record.status, record.attempts), (MailStatus::Refused, 2));
    assert_eq!(record.last_error.as_deref(), Some("no such user"));
    assert_eq!(bench.store.read_blocking(|view| view.next_try()).unwrap(), None);
}

#[test]
fn what_was_being_sent_when_the_service_ended_is_sent_again_under_its_own_message_id() {
    let bench = Bench::new();
    let id = put(&bench, mail(1, Urgency::Alert), at(0));
    claim(&bench, at(0), 1);
    assert_eq!(bench.store.write_blocking(|tx| tx.requeue_unfinished_mail()).unwrap(), 1);
    let again = bench.store.write_blocking(|tx| tx.claim_mail(at(0), 1)).unwrap();
    assert_eq!((again[0].id, again[0].attempts), (id, 1));
    assert_eq!(again[0].mail.message_id, "<1@clinic.example>");
}

#[test]
fn a_message_id_is_used_once() {
    let bench = Bench::new();
    let (one, two) = (bench.enroll("C-1"), bench.enroll("C-2"));
    // Made in one millisecond, and alike but for the secret: the Message-ID shows what is alike.
    let of = |follow_up: FollowUpId, secret: u8| {
        let mut random = [7; 16];
        random[15] = secret;
        let token = Token::from_random(at(0), random);
        let new = NewMail { follow_up: Some(follow_up), ..mail(1, Urgency::Alert) };
        bench.store.write_blocking(move |tx| {
            let meaning = TokenMeaning {
                follow_up: Some(follow_up),
                person: PersonRef::Contact(sample::contact()),
                target: RequestTarget::Other,
                outbox: Some(tx.put_mail(&new, at(0))?),
                made_at: at(0),
            };
            tx.put_token(&token, &meaning)
        })
    };
    of(one, 1).unwrap();
    of(two, 2).unwrap();
    assert!(matches!(of(one, 3), Err(StoreError::TokenShown)));
    let counts = bench.store.read_blocking(|view| view.outbox_counts()).unwrap();
    assert_eq!((counts.queued, counts.sending, counts.oldest), (2, 0, Some(at(0))));
}

#[test]
fn a_settled_look_withdraws_its_own_waiting_mail_only() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    let about = |number, look| NewMail {
        follow_up: Some(follow_up),
        target: RequestTarget::Look(LookId::new(look)),
        ..mail(number, Urgency::FirstLook)
    };
    let being_sent = put(&bench, about(1, 1), at(0));
    assert_eq!(claim(&bench, at(0), 1), [being_sent]);
    let waiting = put(&bench, about(2, 1), at(1));
    let other = put(&bench, about(3, 2), at(1));
    let target = RequestTarget::Look(LookId::new(1));
    let count =
        bench.store.write_blocking(move |tx| tx.withdraw_mail(follow_up, target, at(2))).unwrap();
    assert_eq!(count, 1);
    let status = |id| bench.store.read_blocking(move |view| view.mail(id)).unwrap().status;
    assert_eq!(status(waiting), MailStatus::Withdrawn);
    assert_eq!(status(being_sent), MailStatus::Sending);
    assert_eq!(status(other), MailStatus::Queued);
}

#[test]
fn taking_the_same_mail_in_twice_changes_nothing() {
    let bench = Bench::new();
    let place = Place::on_server("INBOX", 7, 12, "m1@home.example");
    let raw = b"Subject: ok\r\n\r\nclear\r\n";
    let put = move |at| {
        bench.store.write_blocking(move |tx| tx.put_received(place, raw, at)).map(|id| {
            let waiting = bench.store.read_blocking(|view| view.received_waiting());
            (id.is_some(), waiting.unwrap())
        })
    };
    assert_eq!(put(at(0)).unwrap(), (true, (1, Some(at(0)))));
    assert_eq!(put(at(9)).unwrap(), (false, (1, Some(at(0)))));
    assert_ne!(place, Place::on_server("INBOX", 8, 12, "m1@home.example"));
    assert_ne!(Place::by_bytes(raw), Place::by_bytes(b""));
}

#[test]
fn mail_is_taken_in_its_order_and_filed_with_what_follows_from_it() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    for raw in [&b"one"[..], b"two"] {
        bench
            .store
            .write_blocking(move |tx| tx.put_received(Place::by_bytes(raw), raw, at(0)))
            .unwrap();
    }
    let take = || bench.store.write_blocking(|tx| tx.take_received()).unwrap();
    let (one, two) = (take().unwrap(), take().unwrap());
    assert_eq!((one.raw.as_slice(), one.attempts), (&b"one"[..], 1));
    assert_eq!(two.raw, b"two");
    assert_eq!(take(), None);
    let filing = Filing {
        follow_up: Some(follow_up),
        person: Some(PersonRef::Contact(sample::contact())),
        note: "answer".to_owned(),
    };
    let (id, kept) = (one.id, filing.clone());
    bench.store.write_blocking(move |tx| tx.file_received(id, &kept)).unwrap();
    let record = bench.store.read_blocking(move |view| view.received(id)).unwrap();
    assert_eq!(record.status, InboxStatus::Filed);
    assert_eq!((record.follow_up, record.person), (filing.follow_up, filing.person));
    assert_eq!(
        bench.store.read_blocking(move |view| view.raw_received(id)).unwrap().as_deref(),
        Some(&b"one"[..])
    );
}

#[test]
fn mail_begun_twice_and_never_finished_is_set_aside_at_the_next_start() {
    let bench = Bench::new();
    let id = bench
        .store
        .write_blocking(|tx| tx.put_received(Place::by_bytes(b"odd"), b"odd", at(0)))
        .unwrap()
        .unwrap();
    let begin = || bench.store.write_blocking(|tx| tx.take_received()).unwrap();
    let recover = || bench.store.write_blocking(|tx| tx.recover_received()).unwrap();
    assert!(begin().is_some());
    assert_eq!(recover(), []);
    assert_eq!(begin().map(|mail| mail.attempts), Some(2));
    assert_eq!(recover(), [id]);
    assert_eq!(begin(), None);
    let aside = bench.store.read_blocking(|view| view.received_set_aside(9)).unwrap();
    assert_eq!(aside.iter().map(|record| record.id).collect::<Vec<_>>(), [id]);
}

#[test]
fn a_mail_of_twenty_mebibytes_comes_back_as_it_was() {
    let bench = Bench::new();
    let raw: Vec<u8> = (0..20 * 1024 * 1024).map(|n: u32| (n % 251) as u8).collect();
    let place = Place::by_bytes(&raw);
    let kept = raw.clone();
    bench.store.write_blocking(move |tx| tx.put_received(place, &kept, at(0))).unwrap();
    let taken = bench.store.write_blocking(|tx| tx.take_received()).unwrap().unwrap();
    assert!(taken.raw == raw);
}

#[test]
fn a_token_finds_its_request_and_a_guess_finds_nothing() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    let token = Token::from_random(at(0), [7; 16]);
    let mut other_secret = [7; 16];
    other_secret[15] = 8;
    let twin = Token::from_random(at(0), other_secret);
    assert_eq!(twin.to_string()[..13], token.to_string()[..13]);
    let meaning = TokenMeaning {
        follow_up: Some(follow_up),
        person: PersonRef::Contact(sample::contact()),
        target: RequestTarget::Announcement(SittingNumber::new(3)),
        outbox: None,
        made_at: at(0),
    };
    let twins_meaning = TokenMeaning { target: RequestTarget::Other, ..meaning.clone() };
    let kept = [(twin.clone(), twins_meaning.clone()), (token.clone(), meaning.clone())];
    bench
        .store
        .write_blocking(move |tx| kept.iter().try_for_each(|(one, is)| tx.put_token(one, is)))
        .unwrap();
    let find = |token: Token| bench.store.read_blocking(|view| view.token(&token)).unwrap();
    assert_eq!(find(twin), Some(twins_meaning));
    assert_eq!(find(token.to_string().to_uppercase().parse().unwrap()), Some(meaning));
    let mut guess = token.to_string();
    guess.pop();
    let guess = format!("{guess}{}", if token.to_string().ends_with('2') { '3' } else { '2' });
    assert_eq!(find(guess.parse().unwrap()), None);
    assert_eq!(find(Token::new(at(0)).unwrap()), None);
    let text = token.to_string();
    bench.with_hands(|host| {
        let bytes = host.bytes();
        let secret = &text.as_bytes()[13..];
        assert!(!bytes.windows(secret.len()).any(|found| found == secret));
    });
}

#[test]
fn people_are_found_by_reference_and_by_address_in_any_case() {
    let bench = Bench::new();
    let (one, two) = (bench.enroll("C-1"), bench.enroll("C-2"));
    let sam = Person {
        name: "Sam".to_owned(),
        mail: "Sam@home.example".to_owned(),
        language: "en".to_owned(),
    };
    let (kept, renewed) = (sam.clone(), Person { name: "Sami".to_owned(), ..sam.clone() });
    bench
        .store
        .write_blocking(move |tx| {
            tx.put_contact(one, &sample::contact(), &kept)?;
            tx.put_contact(two, &ContactId::new("aunt").unwrap(), &kept)?;
            tx.put_clinician(&ClinicianId::new("ot-1").unwrap(), &kept)?;
            tx.put_contact(one, &sample::contact(), &renewed)?;
            tx.put_call_name(one, "Kit")
        })
        .unwrap();
    bench
        .store
        .read_blocking(|view| {
            assert_eq!(view.contact(one, &sample::contact())?.unwrap().name, "Sami");
            assert!(view.contact(two, &sample::contact())?.is_none());
            assert_eq!(view.contacts_on_file(one)?, [sample::contact()]);
            assert_eq!(view.contacts_on_file(two)?, [ContactId::new("aunt").unwrap()]);
            assert_eq!(view.call_name(one)?.as_deref(), Some("Kit"));
            assert_eq!(view.call_name(two)?, None);
            let found = view.people_with_mail(" SAM@HOME.example")?;
            let who: Vec<_> = found.iter().map(|(follow_up, _)| *follow_up).collect();
            assert_eq!(who, [None, Some(two), Some(one)]);
            Ok::<_, StoreError>(())
        })
        .unwrap();
    assert!(!format!("{sam:?}").contains("Sam"));
}

#[test]
fn marks_and_remembered_instants_read_as_last_written() {
    let bench = Bench::new();
    let mark = |uid| MailboxMark { uid_validity: 3, uid };
    bench
        .store
        .write_blocking(move |tx| {
            tx.mark_mailbox("INBOX", mark(1))?;
            tx.mark_mailbox("INBOX", mark(2))?;
            tx.remember(RememberedInstant::LastAlive, at(1))?;
            tx.remember(RememberedInstant::LastAlive, at(2))
        })
        .unwrap();
    bench
        .store
        .read_blocking(|view| {
            assert_eq!(view.mailbox_mark("INBOX")?, Some(mark(2)));
            assert_eq!(view.mailbox_mark("Other")?, None);
            assert_eq!(view.remembered(RememberedInstant::LastAlive)?, Some(at(2)));
            assert_eq!(view.remembered(RememberedInstant::LastBackup)?, None);
            Ok::<_, StoreError>(())
        })
        .unwrap();
}

#[test]
fn strangers_mail_is_counted_by_what_is_kept_of_it_and_what_was_shortened() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    let from = move |person: Option<PersonRef>| Filing {
        follow_up: person.as_ref().map(|_| follow_up),
        person,
        note: "unknown sender".to_owned(),
    };
    bench
        .store
        .write_blocking(move |tx| {
            for (raw, minute) in
                [(vec![b'a'; 1000], 0), (vec![b'b'; 500], 10), (vec![b'c'; 70], 11)]
            {
                let place = Place::by_bytes(&raw);
                let id = tx.put_received(place, &raw, at(minute))?.unwrap();
                let known = PersonRef::Contact(ContactId::new("first").unwrap());
                let known = (raw[0] == b'c').then_some(known);
                tx.set_received_aside(id, &from(known))?;
                if raw[0] == b'b' {
                    tx.shorten_received(id, &raw[..40])?;
                }
            }
            Ok::<_, StoreError>(())
        })
        .unwrap();
    let since = |minute| {
        let count = bench.store.read_blocking(move |view| view.strangers_since(at(minute), 100));
        let count = count.unwrap();
        (count.mails, count.bytes, count.shortened)
    };
    assert_eq!(since(-1), (2, 1040, 1));
    assert_eq!(since(5), (1, 40, 1));
    let aside = bench.store.read_blocking(|view| view.received_set_aside(9)).unwrap();
    assert!(
        aside[1].note.starts_with("unknown sender; only its head is kept"),
        "{}",
        aside[1].note
    );
}

/// A follow-up's mail about a look, with the round that carries it and two others.
fn round(bench: &Bench) -> (OutboxId, Vec<OutboxId>, FollowUpId) {
    let parts: Vec<(OutboxId, FollowUpId)> = ["A7", "B7", "C3"]
        .into_iter()
        .zip(1..)
        .map(|(client, number)| {
            let client = ClientRef::new(client).unwrap();
            let follow_up =
                bench.store.write_blocking(move |tx| sample::enroll(tx, &client)).unwrap();
            let target = RequestTarget::Look(LookId::new(1));
            let own =
                NewMail { follow_up: Some(follow_up), target, ..mail(number, Urgency::FirstLook) };
            (put(bench, own, at(0)), follow_up)
        })
        .collect();
    let whole = put(bench, mail(9, Urgency::FirstLook), at(0));
    let carried: Vec<OutboxId> = parts.iter().map(|(part, _)| *part).collect();
    let all = carried.clone();
    bench.store.write_blocking(move |tx| tx.carry(whole, &all)).unwrap();
    (whole, carried, parts[1].1)
}

fn statuses(bench: &Bench, mails: &[OutboxId]) -> Vec<MailStatus> {
    let status = |id: &OutboxId| {
        let id = *id;
        bench.store.read_blocking(move |view| view.mail(id)).unwrap().status
    };
    mails.iter().map(status).collect()
}

#[test]
fn joined_mails_are_sent_as_one_and_share_its_fate() {
    let bench = Bench::new();
    let (whole, parts, _) = round(&bench);
    assert_eq!(claim(&bench, at(0), 9), [whole]);
    assert_eq!(statuses(&bench, &parts), [MailStatus::Carried; 3]);
    let read = bench.store.read_blocking(move |view| view.parts_of(whole)).unwrap();
    assert_eq!(read.iter().map(|part| part.id).collect::<Vec<_>>(), parts);
    bench.store.write_blocking(move |tx| tx.mark_sent(whole, at(1))).unwrap();
    assert_eq!(statuses(&bench, &parts), [MailStatus::Sent; 3]);
}

#[test]
fn where_one_of_joined_mails_is_withdrawn_the_others_go_by_themselves() {
    let bench = Bench::new();
    let (whole, parts, second) = round(&bench);
    let target = RequestTarget::Look(LookId::new(1));
    let withdrawn =
        bench.store.write_blocking(move |tx| tx.withdraw_mail(second, target, at(1))).unwrap();
    assert_eq!(withdrawn, 1);
    assert_eq!(statuses(&bench, &[whole, parts[1]]), [MailStatus::Withdrawn; 2]);
    assert_eq!(claim(&bench, at(1), 9), [parts[0], parts[2]]);
}

#[test]
fn a_round_that_is_being_sent_is_not_taken_apart() {
    let bench = Bench::new();
    let (whole, parts, second) = round(&bench);
    claim(&bench, at(0), 9);
    let target = RequestTarget::Look(LookId::new(1));
    bench.store.write_blocking(move |tx| tx.withdraw_mail(second, target, at(1))).unwrap();
    assert_eq!(statuses(&bench, &[whole, parts[1]]), [MailStatus::Sending, MailStatus::Carried]);
}

#[test]
fn forgetting_a_client_takes_a_waiting_round_apart_and_erases_the_address_on_one_that_left() {
    let bench = Bench::new();
    let (whole, parts, second) = round(&bench);
    let forgotten = bench.store.write_blocking(move |tx| tx.forget(second, "a test", at(1)));
    forgotten.unwrap();
    assert_eq!(statuses(&bench, &[whole, parts[1]]), [MailStatus::Withdrawn; 2]);
    assert_eq!(bench.store.read_blocking(move |view| view.raw_mail(whole)).unwrap(), None);
    assert_eq!(claim(&bench, at(1), 9), [parts[0], parts[2]]);
}
