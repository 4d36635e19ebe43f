//! The whole path: a due look, the request, the reply, the stop, the alert, its acknowledgement,
//! the decision, the next sitting.

use fadewatch::care::Finding;
use fadewatch::follow_up::event::{AlertSending, StopReason};
use fadewatch::follow_up::state::Standing;
use fadewatch::follow_up::{Event, StepNumber};

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::python_mails;
use crate::record;

#[test]
fn a_lasting_mark_leads_from_the_look_to_a_stop_and_a_clinician_resumes() {
    let clinic = Clinic::new(shared(), "box1");
    let first = minute_in(20);
    let day = Day { sittings_at: vec![first], look_at: vec![] };
    clinic.enroll(&day);
    let service = clinic.serve();

    let announced = clinic.robin.await_mail("Sitting starts");
    assert!(announced.text.contains("Sam: sitting starts now"), "{}", announced.text);
    let request = clinic.robin.await_mail("Please look at the skin (");
    clinic
        .robin
        .reply(&request, "Red mark on the left sit bone, still there after 40 minutes\n\nRobin");

    for contact in [&clinic.robin, &clinic.kim] {
        let told = contact.await_mail("Keep off the seat, please");
        assert!(told.text.contains("Keep weight off the place"), "{}", told.text);
        assert!(told.text.contains("call your emergency doctor now"), "{}", told.text);
    }
    let alert = clinic.seating.await_mail("STOP: a mark has lasted");
    assert!(alert.text.contains("Red mark on the left sit bone"), "{}", alert.text);
    assert!(!alert.text.contains("sitting starts now"), "quoted words count as said");
    assert_eq!(clinic.duty.mails().len(), 0, "an alert goes to one clinician at a time");

    clinic.seating.reply(&alert, "Seen");
    clinic.seating.await_mail("you have taken up the alert");
    assert!(record::state(&clinic.data()).is_stopped());
    clinic.seating.reply(&alert, "resume at step 1");
    clinic.seating.await_mail("may sit again from step 1");
    for contact in [&clinic.robin, &clinic.kim] {
        contact.await_mail("Sitting may begin again");
    }
    assert_eq!(record::state(&clinic.data()).standing, Standing::Open);
    check_journal(&clinic);
    python_mails::check_sent(&clinic);
    drop(service);
}

fn check_journal(clinic: &Clinic<'_>) {
    let data = clinic.data();
    record::check(&data);
    let journal = record::journal(&data);
    let position = |what: &str, is_it: &dyn Fn(&Event) -> bool| {
        journal
            .iter()
            .position(|line| is_it(&line.entry.event))
            .unwrap_or_else(|| panic!("{what} is not in the journal: {journal:#?}"))
    };
    let steps = [
        position("sitting", &|event| matches!(event, Event::Sitting { .. })),
        position("asked", &|event| matches!(event, Event::Asked { .. })),
        position("found", &|event| {
            matches!(event, Event::Found { found, .. }
                if found.finding == Finding::Persisting && found.sites == ["ischium-left".parse().unwrap()])
        }),
        position("stopped", &|event| {
            matches!(event, Event::Stopped { why: StopReason::Persisting, .. })
        }),
        position("told to stop", &|event| matches!(event, Event::ToldToStop { .. })),
        position("alerted", &|event| {
            matches!(event, Event::Alerted { sending: AlertSending::Raised, .. })
        }),
        position("acknowledged", &|event| matches!(event, Event::Acknowledged { .. })),
        position(
            "resumed",
            &|event| matches!(event, Event::Resumed { step, .. } if *step == StepNumber::new(1)),
        ),
    ];
    assert!(steps.is_sorted(), "{journal:#?}");
    let acknowledged = |event: &Event| matches!(event, Event::Acknowledged { .. });
    assert_eq!(record::count(&data, acknowledged), 1);
}
