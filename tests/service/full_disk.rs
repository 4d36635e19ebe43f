//! A disk without room while a reply comes in.

use std::time::{Duration, Instant};

use fadewatch::care::Finding;
use fadewatch::follow_up::Event;

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::program::Running;
use crate::record;
use crate::room::Room;

/// A photograph in a reply: more than what is left of any room once it is full.
const PHOTO_BYTES: usize = 1_000_000;

#[test]
fn on_a_full_disk_the_service_goes_on_and_takes_the_reply_once_there_is_room() {
    let clinic = Clinic::new(shared(), "box6");
    let room = Room::prepare(&clinic.data());
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let serve = Room::without_signal(&clinic.command(&["serve"]));
    let mut service = Running::start(&mut { serve }, clinic.folder()).ready();
    let request = clinic.robin.await_mail("Skin check (");

    room.take_away(&service);
    let words = "Red mark on the left sit bone, still there after 40 minutes";
    let mut reply = clinic.robin.draft_reply(&request, words);
    // Below the words: nobody reads so far.
    reply
        .extend(b"\r\n> 0123456789abcdef0123456789abcdef0123456789abcdef".repeat(PHOTO_BYTES / 52));
    clinic.robin.send(&request.reply_to, &reply);
    await_log(&service, "storing a mail");
    assert!(shared().mails_in("box6", "cur").iter().all(|(name, _)| !name.ends_with(",Sa")));
    let found = |event: &Event| matches!(event, Event::Found { .. });
    assert_eq!(record::count(&clinic.data(), found), 0);

    room.give_back(&service);
    clinic.robin.await_mail("Keep off the seat, please");
    clinic.seating.await_mail("STOP: a mark has lasted");
    let lasting = |event: &Event| matches!(event, Event::Found { found, .. } if found.finding == Finding::Persisting);
    assert_eq!(record::count(&clinic.data(), lasting), 1);
    record::check(&clinic.data());
    assert_eq!(record::inbox(&clinic.data()).len(), 1);
    service.terminate();
    assert!(service.ended().0.success());
}

fn await_log(service: &Running, words: &str) {
    let begun = Instant::now();
    while !service.log().contains(words) {
        assert!(begun.elapsed() < Duration::from_secs(60), "no “{words}”:\n{}", service.log());
        std::thread::sleep(Duration::from_millis(50));
    }
}
