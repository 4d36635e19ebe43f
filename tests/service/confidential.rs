//! The log of a run that says everything it can: it names nobody and quotes nothing.

use crate::clinic::{Clinic, Day, minute_in};
use crate::peers::shared;
use crate::program::Running;

/// What must never be in a log: names, addresses, words, secrets.
const PERSONAL: [&str; 14] = [
    "Sam",
    "Robin",
    "Kim",
    "Ada",
    "Ben",
    "alice",
    "bob+",
    "nobody@",
    "outside.test",
    "crimson",
    "sit bone",
    "STOP",
    "box10-pw",
    "Hilltop",
];

#[test]
fn the_log_at_its_most_talkative_holds_no_personal_data() {
    let clinic = Clinic::new(shared(), "box10");
    let nobody = shared().address("nobody");
    let contacts = [("robin", &clinic.robin.address[..]), ("kim", &nobody)];
    clinic.enroll_with(&Day { look_at: vec![minute_in(20)], ..Day::default() }, &contacts);
    let mut serve = clinic.command(&["serve", "--log-json"]);
    serve.env("FADEWATCH_LOG", "trace");
    let mut service = Running::start(&mut serve, clinic.folder()).ready();

    let request = clinic.robin.await_mail("Skin check (");
    crate::submission::send(
        shared(),
        "someone@outside.test",
        &request.reply_to,
        b"From: Bob <someone@outside.test>\r\nSubject: crimson\r\n\r\ncrimson words\r\n",
    );
    clinic.seating.await_mail("A mail was set aside");
    clinic.robin.reply(&request, "crimson mark on the left sit bone, still there after 40 minutes");
    let alert = clinic.seating.await_mail("STOP: a mark has lasted");
    clinic.seating.await_mail("A contact cannot be reached");
    clinic.seating.reply(&alert, "Seen, tell Robin");
    clinic.seating.await_mail("you have taken up the alert");
    service.terminate();
    service.ended();

    let log = service.log();
    assert!(log.contains("the service runs"), "{log}");
    for words in PERSONAL {
        let line = log.lines().find(|line| line.contains(words));
        assert_eq!(line, None, "“{words}” is in the log");
    }
    let token = request.reply_to.split(['+', '@']).nth(1).unwrap();
    assert!(!log.contains(token), "a token is in the log");
}
