//! A state that the service still has at hand is never older than what its store holds.

use fadewatch::care::ClinicianId;
use fadewatch::follow_up::Instant;
use fadewatch::follow_up::event::PauseReason;
use fadewatch::service::{Office, ServiceError, acts_by_hand, due};
use fadewatch::store::{FollowUpId, StoreError, Tx};

use crate::desk::{Desk, at};

fn pause(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    now: Instant,
) -> Result<(), ServiceError> {
    let by = (&ClinicianId::new("seating").unwrap(), PauseReason::Holiday);
    acts_by_hand::pause(office, tx, follow_up, by, now).map(|_| ())
}

#[test]
fn an_act_that_was_taken_back_leaves_no_trace_in_the_next_one() {
    let mut desk = Desk::new();
    desk.runs_at("09:55");
    let before = desk.journal().len();
    let (office, follow_up) = (&desk.office, desk.follow_up);
    let failed = desk.store.write(|tx| {
        pause(office, tx, follow_up, at("09:56"))?;
        Err::<(), ServiceError>(StoreError::Closed.into())
    });
    assert!(failed.is_err());
    // Were the pause still at hand, no sitting would begin.
    desk.runs_at("10:00").runs_at("10:15");
    assert!(desk.journal().len() > before);
    assert!(!desk.state().is_paused());
    assert!(!desk.sent("10:15").is_empty());
}

#[test]
fn what_another_process_did_meanwhile_is_found() {
    let mut desk = Desk::new();
    desk.runs_at("10:00");
    // A command is another process, with an office of its own.
    let other = Desk::new().office;
    let follow_up = desk.follow_up;
    desk.store.write(|tx| pause(&other, tx, follow_up, at("10:01"))).unwrap();
    let office = &desk.office;
    desk.store.write(|tx| due::act_on_due(office, tx, at("10:15"))).unwrap();
    assert!(desk.state().is_paused());
}
