//! Mail servers that stop and come back while the service runs.

use std::time::{Duration, Instant};

use fadewatch::follow_up::Event;
use fadewatch::follow_up::state::Standing;

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::Peers;
use crate::record;

fn until(what: &str, mut question: impl FnMut() -> bool) {
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(120) {
        if question() {
            return;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("waited in vain: {what}");
}

#[test]
fn servers_that_restart_at_every_step_lose_nothing() {
    let peers = Peers::start();
    let clinic = Clinic::new(&peers, "box1");
    let data = clinic.data();
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let service = clinic.serve();
    until("the mailbox is watched", || service.log().contains("the mailbox is watched"));
    let has = |is_like: fn(&Event) -> bool| record::count(&data, is_like) > 0;

    // No way out when the look is due.
    peers.stop("smtp");
    until("the look is due", || has(|event| matches!(event, Event::Asked { .. })));
    until("sending fails", || service.log().contains("could not be handed over"));
    peers.start_again("smtp");
    let request = clinic.robin.await_mail("Skin check (");

    // No way in when the reply comes, and no way out when it is taken in.
    peers.stop("imap");
    until("the outage is seen", || service.log().contains("the mailbox is out of reach"));
    clinic.robin.reply(&request, "Red mark on the left sit bone, still there after 40 minutes");
    peers.mail_with("box1", "still there after 40 minutes");
    peers.stop("smtp");
    peers.start_again("imap");
    until("sitting is stopped", || has(|event| matches!(event, Event::Stopped { .. })));
    peers.start_again("smtp");
    clinic.robin.await_mail("Keep off the seat, please");
    clinic.kim.await_mail("Keep off the seat, please");
    let alert = clinic.seating.await_mail("STOP: a mark has lasted");

    // Both are away when the clinician answers and come back in the other order.
    peers.stop("imap");
    clinic.seating.reply(&alert, "Seen");
    peers.mail_with("box1", &format!("From: Somebody <{}>", clinic.seating.address));
    peers.stop("smtp");
    peers.start_again("smtp");
    peers.start_again("imap");
    until("the alert is taken up", || has(|event| matches!(event, Event::Acknowledged { .. })));
    clinic.seating.await_mail("you have taken up the alert");
    clinic.seating.reply(&alert, "Resume at step 1");
    clinic.robin.await_mail("Sitting may begin again");

    assert_eq!(record::state(&data).standing, Standing::Open);
    let answered = |event: &Event| matches!(event, Event::Answered { .. });
    assert_eq!(record::count(&data, answered), 1);
    record::check(&data);
    assert_eq!(record::inbox(&data).len(), 3, "a mail was taken twice");
}
