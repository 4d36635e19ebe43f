//! When a reply came, by a mail server whose clock shows something else than ours (R15).
//!
//! A sitting of 15 min at 10:00 by our clock; its look is missed at 12:15.

use fadewatch::follow_up::Event;
use fadewatch::follow_up::event::TellReason;
use fadewatch::service::waking;
use fadewatch::store::RememberedInstant;

use crate::desk::{Desk, Mail, at};
use crate::people::only;

const CONTACT: &str = "robin@home.example";

/// The answer to the announcement shows what the mail server's clock shows at 10:01; then the look
/// is asked.
fn asked(dated: &str) -> (Desk, Mail) {
    let mut desk = Desk::new();
    desk.runs_at("10:00");
    let announced = desk.sent("10:00").into_iter().find(|mail| mail.to == CONTACT).unwrap();
    desk.met(&announced, "Sitting now.", (dated, "10:01"), false);
    desk.runs_at("10:16");
    let look = only(&desk.sent("10:16"), CONTACT, "Please look").clone();
    (desk, look)
}

/// The service is off from one time to another, and meets the answer at its start.
fn met_after_absence(desk: &mut Desk, look: &Mail, dated: &str, (off, start): (&str, &str)) {
    desk.store.write(|tx| tx.remember(RememberedInstant::LastAlive, at(off))).unwrap();
    let office = &desk.office;
    assert!(desk.store.write(|tx| waking::begin(office, tx, at(start))).unwrap());
    desk.met(look, "No marks.", (dated, start), true);
    let office = &desk.office;
    desk.store.write(|tx| waking::wake(office, tx, at(start))).unwrap();
}

fn credits(desk: &mut Desk) -> usize {
    desk.journal().iter().filter(|entry| matches!(entry.event, Event::Credit { .. })).count()
}

fn was_told_late(desk: &mut Desk) -> bool {
    let told =
        |event: &Event| matches!(event, Event::ClinicTold { why: TellReason::LateReport, .. });
    desk.journal().iter().any(|entry| told(&entry.event))
}

#[test]
fn a_late_answer_that_waited_is_late_though_our_clock_is_hours_ahead() {
    // The mail server's 09:20 is our 12:20.
    let (mut desk, look) = asked("07:01");
    met_after_absence(&mut desk, &look, "09:20", ("10:30", "13:30"));
    assert_eq!(credits(&mut desk), 0);
}

#[test]
fn an_answer_in_time_that_waited_is_in_time_whatever_the_mail_servers_clock_shows() {
    for (dated, answered) in [("07:01", "09:10"), ("10:01", "12:10")] {
        let (mut desk, look) = asked(dated);
        met_after_absence(&mut desk, &look, answered, ("10:30", "13:30"));
        assert_eq!(credits(&mut desk), 1, "{answered}");
        assert!(!was_told_late(&mut desk), "{answered}");
    }
}

#[test]
fn a_reply_counts_as_come_when_it_was_met_while_no_mail_has_told_how_far_our_clock_is_ahead() {
    let mut desk = Desk::new();
    desk.runs_at("10:00").runs_at("10:15");
    let look = only(&desk.sent("10:15"), CONTACT, "Please look").clone();
    met_after_absence(&mut desk, &look, "10:20", ("10:30", "13:30"));
    assert_eq!(credits(&mut desk), 0);
}

#[test]
fn an_absence_may_hide_a_clock_that_was_set_on_until_mail_that_is_met_live_tells_otherwise() {
    for (live, expected) in [(false, 0), (true, 1)] {
        let (mut desk, look) = asked("10:01");
        desk.met(&look, "No marks.", ("10:20", "10:20"), false);
        assert_eq!(credits(&mut desk), 1);
        // Off from 10:30 to 13:30, which may as well have been a minute and a clock set on.
        desk.store.write(|tx| tx.remember(RememberedInstant::LastAlive, at("10:30"))).unwrap();
        let office = &desk.office;
        desk.store.write(|tx| waking::begin(office, tx, at("13:30"))).unwrap();
        desk.store.write(|tx| waking::wake(office, tx, at("13:30"))).unwrap();
        desk.runs_at("15:30");
        let mails = desk.sent("15:30");
        if live {
            let announced = mails.iter().find(|mail| mail.to == CONTACT).unwrap();
            desk.met(announced, "Sitting now.", ("15:31", "15:31"), false);
        }
        desk.runs_at("15:46");
        let look = only(&desk.sent("15:46"), CONTACT, "Please look").clone();
        met_after_absence(&mut desk, &look, "17:00", ("16:00", "19:00"));
        assert_eq!(credits(&mut desk), 1 + expected, "met live: {live}");
    }
}

#[test]
fn a_reply_that_the_mail_server_dates_ahead_of_us_teaches_nothing_that_could_make_another_early() {
    let (mut desk, look) = asked("10:01");
    desk.met(&look, "Not looked yet.", ("23:00", "10:20"), false);
    // The mail server's clock is right; one that lay there was dated wrongly.
    met_after_absence(&mut desk, &look, "12:20", ("10:30", "13:30"));
    assert_eq!(credits(&mut desk), 0);
}
