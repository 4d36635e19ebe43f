//! Many looks that fall due at once: what was worked out ahead of their transaction is written down as
//! it stands, unless something has changed meanwhile.

use std::collections::BTreeSet;
use std::sync::Arc;

use fadewatch::care::{ClinicianId, ContactId};
use fadewatch::config::parse_clinic;
use fadewatch::follow_up::event::PauseReason;
use fadewatch::notice::Languages;
use fadewatch::reply::Lexicons;
use fadewatch::service::ahead::{self, Ahead};
use fadewatch::service::{Office, ServiceError, acts_by_hand, covering, due, enrolling};
use fadewatch::store::{ClaimedMail, FollowUpId, Mode, Person, Store, StoreError};

use crate::desk::{Desk, at, client};

/// Address, Message-ID and bytes.
type Sent = (String, String, Vec<u8>);

/// A desk with so many clients, all asked at 10:00.
fn crowd(clients: usize) -> (Desk, Vec<FollowUpId>) {
    let mut desk = Desk::new();
    let mut all = vec![desk.follow_up];
    let office = &desk.office;
    let enrolled = desk.store.write(|tx| {
        let enroll = |n| {
            let client = client(&office.clinic, &format!("C{n}"));
            Ok(enrolling::enroll(office, tx, &client, "a test", at("09:00"))?.follow_up)
        };
        (1..clients).map(enroll).collect::<Result<Vec<_>, ServiceError>>()
    });
    all.extend(enrolled.unwrap());
    (desk, all)
}

fn ahead(desk: &mut Desk, due: &[FollowUpId]) -> Ahead {
    let (office, due) = (&desk.office, due.to_vec());
    desk.store.read(|view| ahead::work_out(office, view, due, at("10:00"))).unwrap()
}

fn acted_ahead(desk: &mut Desk, ahead: Ahead) -> Vec<Sent> {
    let office = &desk.office;
    desk.store.write(|tx| due::act_on_ahead(office, tx, at("10:00"), ahead)).unwrap();
    sent(desk)
}

fn acted(desk: &mut Desk) -> Vec<Sent> {
    let office = &desk.office;
    desk.store.write(|tx| due::act_on_due(office, tx, at("10:00"))).unwrap();
    sent(desk)
}

fn sent(desk: &mut Desk) -> Vec<Sent> {
    let claimed = desk.store.write(|tx| tx.claim_mail(at("10:00"), 1000));
    let claimed: Result<Vec<_>, StoreError> = claimed;
    let mails = claimed.unwrap().into_iter().map(|claimed| claimed.mail);
    mails.map(|mail| (mail.address, mail.message_id, mail.raw)).collect()
}

/// What is sent where somebody does this after the acts were worked out ahead, and where it is done
/// before anything is worked out.
fn with_and_without(
    between: impl Fn(&mut Desk, &[FollowUpId]),
) -> ((Desk, Vec<Sent>), (Desk, Vec<Sent>)) {
    let (mut desk, all) = crowd(40);
    let worked_out = ahead(&mut desk, &all);
    assert_eq!(worked_out.acts(), 40);
    between(&mut desk, &all);
    let late = acted_ahead(&mut desk, worked_out);
    let (mut other, all) = crowd(40);
    between(&mut other, &all);
    let first = acted(&mut other);
    ((desk, late), (other, first))
}

fn addresses(sent: &[Sent]) -> Vec<&str> {
    let mut all: Vec<&str> = sent.iter().map(|(address, _, _)| address.as_str()).collect();
    all.sort_unstable();
    all
}

fn seating() -> ClinicianId {
    ClinicianId::new("seating").unwrap()
}

#[test]
fn what_is_worked_out_ahead_is_written_down_to_the_byte_as_the_writer_would_have_worked_it_out() {
    let ((mut desk, ahead), (mut other, at_once)) = with_and_without(|_, _| {});
    assert_eq!(ahead.len(), 40);
    assert_eq!(ahead, at_once);
    assert!(ahead.iter().all(|(_, id, raw)| String::from_utf8_lossy(raw).contains(id.as_str())));
    assert_eq!(desk.journal(), other.journal());
    let verified = desk.store.read(|view| view.verify_journal()).unwrap();
    assert_eq!(verified, other.store.read(|view| view.verify_journal()).unwrap());
    assert_eq!(verified.findings, []);
}

#[test]
fn who_has_nothing_due_any_more_when_the_writer_comes_to_it_is_passed_over() {
    let (mut desk, all) = crowd(3);
    let worked_out = ahead(&mut desk, &all);
    assert_eq!(acted(&mut desk).len(), 3);
    assert_eq!(acted_ahead(&mut desk, worked_out), []);
}

#[test]
fn who_is_paused_after_it_was_worked_out_is_not_asked() {
    let ((mut desk, ahead), (mut other, at_once)) = with_and_without(|desk, all| {
        let office = &desk.office;
        let by = seating();
        let paused = desk.store.write(|tx| {
            let by = (&by, PauseReason::Holiday);
            acts_by_hand::pause(office, tx, all[0], by, at("09:59")).map(|_| ())
        });
        paused.unwrap();
    });
    assert!(desk.state().is_paused());
    assert_eq!(desk.journal(), other.journal());
    assert_eq!(addresses(&ahead), addresses(&at_once));
}

#[test]
fn an_address_that_is_changed_after_it_was_worked_out_is_the_one_that_is_written_to() {
    let ((_, ahead), (_, at_once)) = with_and_without(|desk, all| {
        let office = &desk.office;
        let contact = ContactId::new("first").unwrap();
        let person = Person {
            name: "Person New".to_owned(),
            mail: "new@home.example".to_owned(),
            language: "en".to_owned(),
        };
        let changed = desk.store.write(|tx| {
            let who = (&seating(), &contact, &person);
            acts_by_hand::set_contact(office, tx, all[3], who, at("09:59")).map(|_| ())
        });
        changed.unwrap();
    });
    let to = addresses(&ahead);
    assert!(to.contains(&"new@home.example"), "{to:?}");
    assert_eq!(to, addresses(&at_once));
}

#[test]
fn a_new_cover_has_everything_worked_out_anew() {
    let (mut desk, all) = crowd(40);
    let worked_out = ahead(&mut desk, &all);
    let day = desk.office.calendar.date(at("09:59"));
    let shift = covering::shift(day, day, vec![seating()], day).unwrap();
    let by = seating();
    let Desk { office, store, .. } = &mut desk;
    store.write(|tx| covering::set_shift(office, tx, (&by, shift), at("09:59"))).unwrap();
    // Seeded tokens tell: those of the acts that were thrown away are spent.
    let spent = acted_ahead(&mut desk, worked_out);
    let (mut other, _) = crowd(40);
    let at_once = acted(&mut other);
    assert_eq!(spent.len(), at_once.len());
    assert!(spent.iter().zip(&at_once).all(|(one, other)| one.1 != other.1));
}

#[test]
fn a_crowd_is_worked_off_in_pieces_each_client_once_and_the_record_is_whole() {
    const CLIENTS: u32 = 1_100;
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path(), Mode::Service).unwrap();
    let clinic = parse_clinic("clinic.toml", include_str!("../config/right/clinic.toml"));
    let clinic = clinic.unwrap().value;
    let clients: Vec<_> = (0..CLIENTS).map(|n| client(&clinic, &format!("C{n}"))).collect();
    let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped());
    let office = Arc::new(office.unwrap().with_seed(1));
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let due = at("10:00");
    runtime.block_on(async {
        let enrolling_office = Arc::clone(&office);
        let enrolled = store.write(move |tx| {
            clients.iter().try_for_each(|client| {
                enrolling::enroll(&enrolling_office, tx, client, "a test", at("09:00")).map(|_| ())
            })
        });
        enrolled.await.unwrap();
        let crowd = store.read(move |view| view.due_follow_ups(due, u32::MAX));
        let crowd: Vec<FollowUpId> = crowd.await.unwrap();
        let mut commits = 0;
        let now = || std::future::ready(due);
        let batch = ahead::act_on_crowd(&store, &office, &crowd, now, || commits += 1).await;
        assert_eq!(batch.unwrap().follow_ups, CLIENTS as usize);
        // At 1,000 a piece there are two, which may go together.
        assert!((1..=2).contains(&commits), "{commits}");
        let claimed: Result<Vec<ClaimedMail>, StoreError> =
            store.write(move |tx| tx.claim_mail(due, u32::MAX)).await;
        let to: BTreeSet<Option<FollowUpId>> =
            claimed.unwrap().iter().map(|claimed| claimed.mail.follow_up).collect();
        assert_eq!(to, crowd.iter().copied().map(Some).collect());
        let verified = store.read(|view| view.verify_journal()).await.unwrap();
        assert_eq!(verified.findings, []);
        let left = store.read(move |view| view.due_follow_ups(due, 1)).await.unwrap();
        assert_eq!(left, []);
    });
}
