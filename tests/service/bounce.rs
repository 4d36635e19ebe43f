//! Contacts whose mail comes back (R27).

use chrono::TimeDelta;
use fadewatch::care::ContactId;
use fadewatch::follow_up::event::AlertCause;
use fadewatch::follow_up::{Event, Instant};

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::record;

fn asked_at(clinic: &Clinic<'_>, contact: &str) -> Instant {
    let contact = ContactId::new(contact).unwrap();
    let journal = record::journal(&clinic.data());
    let asked = |event: &Event| matches!(event, Event::Asked { to, .. } if *to == contact);
    journal.iter().find(|line| asked(&line.entry.event)).expect("the contact was asked").entry.at
}

#[test]
fn when_a_mail_bounces_the_next_contact_is_asked_at_once_and_the_clinic_is_told() {
    let clinic = Clinic::new(shared(), "box2");
    let day = Day { look_at: vec![minute_in(20)], ..Day::default() };
    let nobody = shared().address("nobody");
    clinic.enroll_with(&day, &[("robin", &nobody), ("kim", &clinic.kim.address)]);
    let _service = clinic.serve();

    let request = clinic.kim.await_mail("Our mail does not reach Robin. Now we ask you.");
    let told = clinic.seating.await_mail("A contact cannot be reached");
    assert!(told.text.contains("We now ask Kim"), "{}", told.text);
    // Waiting for the first contact would have taken eight minutes.
    let between = asked_at(&clinic, "kim") - asked_at(&clinic, "robin");
    assert!(between < TimeDelta::seconds(60), "{between}");

    clinic.kim.reply(&request, "No marks, all fine");
    clinic.kim.await_mail("Noted: no marks");
    let unreachable = |event: &Event| matches!(event, Event::Unreachable { .. });
    assert_eq!(record::count(&clinic.data(), unreachable), 1);
    record::check(&clinic.data());
    assert_eq!(
        record::inbox(&clinic.data()),
        [("filed".into(), "delivery report".into()), ("filed".into(), "answer".into())]
    );
}

#[test]
fn when_no_contact_can_be_reached_the_clinic_is_alerted() {
    let clinic = Clinic::new(shared(), "box3");
    let day = Day { look_at: vec![minute_in(20)], ..Day::default() };
    // The first is refused while the mail is handed over; for the second a report comes back.
    let (refused, full) = (shared().address("refused"), shared().address("full"));
    clinic.enroll_with(&day, &[("robin", &refused), ("kim", &full)]);
    let _service = clinic.serve();

    let alert = clinic.seating.await_mail("Nobody can be reached");
    assert!(alert.text.contains("Please call the home"), "{}", alert.text);
    clinic.seating.reply(&alert, "Seen, I call them");
    clinic.seating.await_mail("you have taken up the alert");
    let raised =
        |event: &Event| matches!(event, Event::Alerted { cause: AlertCause::NobodyReachable, .. });
    assert_eq!(record::count(&clinic.data(), raised), 1);
    record::check(&clinic.data());
}
