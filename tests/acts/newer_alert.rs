//! A clinician's answer that comes when there is a newer alert (R22, R23), by mail.

use fadewatch::follow_up::state::Standing;
use fadewatch::follow_up::{AlertId, Event};
use fadewatch::store::RequestTarget;

use crate::desk::{Desk, Mail, at};
use crate::people::{mails_to, only};

const CONTACT: &str = "robin@home.example";
const CLINICIAN: &str = "seating@clinic.example";

/// Sitting is stopped at 10:20 by a lasting mark (alert 1), which is taken up; at 10:40 an alarming
/// report raises alert 2. Gives both alerts, in order.
fn alerted_twice(desk: &mut Desk) -> [Mail; 2] {
    desk.runs_at("10:00").runs_at("10:15");
    let look = only(&desk.sent("10:15"), CONTACT, "Please look").clone();
    desk.answered(&look, "Red mark on the left sit bone, still there after 40 minutes", "10:20");
    let mails = desk.sent("10:20");
    let first = only(&mails, CLINICIAN, "STOP").clone();
    let stop = only(&mails, CONTACT, "Keep off the seat").clone();
    desk.answered(&first, "Seen", "10:30");
    desk.answered(&stop, "The skin is broken and bleeding now", "10:40");
    let second = desk.sent("10:40");
    let second = mails_to(&second, CLINICIAN).find(|mail| is_alert(mail, 2)).unwrap().clone();
    [first, second]
}

fn is_alert(mail: &Mail, number: u32) -> bool {
    mail.target == RequestTarget::Alert(AlertId::new(number))
}

#[test]
fn a_late_seen_to_an_older_alert_leaves_the_newer_open_and_shows_it() {
    let mut desk = Desk::new();
    let [first, _] = alerted_twice(&mut desk);
    desk.answered(&first, "Seen", "10:50");
    let state = desk.state();
    assert_eq!(state.alert.unwrap().acknowledged, None);

    let mails = desk.sent("10:50");
    let aside = only(&mails, CLINICIAN, "an answer changed nothing");
    assert!(aside.text.contains("It answers an earlier alert"), "{}", aside.text);
    let shown = mails_to(&mails, CLINICIAN).find(|mail| is_alert(mail, 2)).unwrap();
    assert!(!shown.text.contains("“Seen”"), "{}", shown.text);

    // It goes on by its own clock, and the answer to what was shown takes it up.
    let shown = shown.clone();
    desk.runs_at("11:10");
    assert!(desk.sent("11:10").iter().any(|mail| is_alert(mail, 2)));
    desk.answered(&shown, "Seen", "11:15");
    assert!(desk.state().alert.unwrap().acknowledged.is_some());
}

#[test]
fn a_late_resume_to_an_older_alert_lifts_nothing_and_one_to_the_newer_does() {
    let mut desk = Desk::new();
    let [first, second] = alerted_twice(&mut desk);
    desk.answered(&first, "Resume at step 1", "10:50");
    assert!(desk.state().is_stopped());
    desk.answered(&second, "Resume at step 1", "11:00");
    assert_eq!(desk.state().standing, Standing::Open);
    let acknowledged: Vec<_> = desk
        .journal()
        .into_iter()
        .filter_map(|entry| match entry.event {
            Event::Acknowledged { alert, .. } => Some((entry.at, alert.unwrap().count())),
            _ => None,
        })
        .collect();
    assert_eq!(acknowledged, [(at("10:30"), 1), (at("11:00"), 2)]);
}

#[test]
fn an_answer_to_the_mail_that_set_it_aside_counts_as_one_to_the_newer_alert() {
    let mut desk = Desk::new();
    let [first, _] = alerted_twice(&mut desk);
    desk.answered(&first, "Keep stopped", "10:50");
    let aside = only(&desk.sent("10:50"), CLINICIAN, "an answer changed nothing").clone();
    desk.answered(&aside, "Keep stopped", "10:55");
    assert_eq!(desk.state().alert, None);
    assert!(desk.state().is_stopped());
}
