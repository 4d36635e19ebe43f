//! A machine's clock that is set back (R22, R26), by what the service does on its store.

use fadewatch::follow_up::Event;
use fadewatch::post::{Outcome, Refusal};
use fadewatch::service::{sending, set_back, waking};
use fadewatch::store::{RememberedInstant, Solo, StoreError};

use crate::desk::{Desk, at};
use crate::people::only;

const CONTACT: &str = "robin@home.example";
const CLINICIAN: &str = "seating@clinic.example";

/// Sitting is stopped at 10:20; the alert is due again at 10:50.
fn alerted() -> Desk {
    let mut desk = Desk::new();
    desk.runs_at("10:00").runs_at("10:15");
    let look = only(&desk.sent("10:15"), CONTACT, "Please look").clone();
    desk.answered(&look, "Red mark on the left sit bone, still there after 40 minutes", "10:20");
    only(&desk.sent("10:20"), CLINICIAN, "STOP");
    desk
}

fn last_alive(store: &mut Solo) -> Option<fadewatch::follow_up::Instant> {
    store.read(|view| view.remembered(RememberedInstant::LastAlive)).unwrap()
}

#[test]
fn noticed_while_the_service_runs_an_alert_goes_out_again_on_time_and_the_clinic_is_told() {
    let mut desk = alerted();
    let office = &desk.office;
    // At 10:30 the clock is set back by two hours.
    desk.store.write(|tx| set_back::noticed_at_once(office, tx, at("10:30"), at("08:30"))).unwrap();
    let told = desk.sent("08:30");
    let told = only(&told, CLINICIAN, "clock was set back by 2 h");
    assert!(told.text.contains("Waits go on"), "{}", told.text);
    assert_eq!(last_alive(&mut desk.store), Some(at("08:30")));

    desk.runs_at("08:49");
    assert!(desk.sent("08:49").is_empty());
    desk.runs_at("08:50");
    only(&desk.sent("08:50"), CLINICIAN, "STOP");
    desk.state();
}

#[test]
fn noticed_at_the_start_an_alert_goes_out_at_once_and_a_second_start_notices_nothing() {
    let mut desk = alerted();
    let alive = at("10:30");
    desk.store.write(|tx| tx.remember(RememberedInstant::LastAlive, alive)).unwrap();
    let office = &desk.office;
    desk.store.write(|tx| waking::begin(office, tx, at("08:00"))).unwrap();
    let mails = desk.sent("08:00");
    only(&mails, CLINICIAN, "STOP");
    let told = only(&mails, CLINICIAN, "clock was set back");
    assert!(told.text.contains("The service was off meanwhile"), "{}", told.text);

    let entries = desk.journal().len();
    let office = &desk.office;
    desk.store.write(|tx| waking::begin(office, tx, at("08:01"))).unwrap();
    assert!(desk.sent("08:01").is_empty());
    assert_eq!(desk.journal().len(), entries);
}

#[test]
fn an_entry_that_lies_ahead_shows_a_clock_that_was_set_back_without_any_sign_of_life() {
    let mut desk = alerted();
    let office = &desk.office;
    desk.store.write(|tx| waking::begin(office, tx, at("08:00"))).unwrap();
    only(&desk.sent("08:00"), CLINICIAN, "STOP");
    let steps = |event: &Event| matches!(event, Event::ClockSetBack { .. });
    assert_eq!(desk.journal().iter().filter(|entry| steps(&entry.event)).count(), 1);
}

#[test]
fn a_refusal_that_comes_before_the_step_is_noticed_keeps_the_journals_order() {
    let mut desk = Desk::new();
    desk.runs_at("10:00").runs_at("10:15");
    let claimed = desk.store.write(|tx| tx.claim_mail(at("10:15"), 10)).unwrap();
    let request = claimed.iter().find(|mail| mail.mail.address == CONTACT).unwrap();
    let refused = Outcome::Refused(Refusal {
        code: 550,
        permanent: true,
        recipient_at_fault: true,
        text: String::new(),
    });
    let office = &desk.office;
    desk.store
        .write(|tx| sending::settle_mail(office, tx, request, &refused, at("09:15")))
        .unwrap();
    let journal = desk.journal();
    assert!(journal.windows(2).all(|pair| pair[0].at <= pair[1].at));
    let unreachable = |event: &Event| matches!(event, Event::Unreachable { .. });
    assert!(journal.iter().any(|entry| unreachable(&entry.event)));
    let folded = desk.store.read(|view| view.verify_journal()).map_err(|e: StoreError| e);
    assert!(folded.unwrap().findings.is_empty());
}
