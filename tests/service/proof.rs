//! What the clinic's own receiving server says of a sender (RFC 8601): a reply that it does not
//! vouch for is no answer (R29).

use fadewatch::care::Finding;
use fadewatch::follow_up::Event;

use crate::clinic::{Clinic, Day, minute_in};
use crate::mail::Mail;
use crate::peers::shared;
use crate::record;

const SERVER: &str = "mx.clinic.test";

/// An answer as it comes out of the receiving server, with these results on top.
fn with_results(clinic: &Clinic<'_>, request: &Mail, results: &[&str], words: &str) -> Vec<u8> {
    let headers: String =
        results.iter().map(|r| format!("Authentication-Results: {r}\r\n")).collect();
    [headers.into_bytes(), clinic.robin.draft_reply(request, words)].concat()
}

#[test]
fn a_reply_that_the_receiving_server_does_not_vouch_for_is_set_aside_and_shown() {
    let clinic = Clinic::new(shared(), "box11");
    clinic.add_to_mail(&format!("authserv_id = \"{SERVER}\""));
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let service = clinic.serve();
    let request = clinic.robin.await_mail("Skin check (");

    let failed = format!("{SERVER}; dkim=none; dmarc=fail header.from=clinic.test");
    let passed = format!("{SERVER}; dmarc=pass header.from=clinic.test");
    let foreign = "mx.elsewhere.test; dmarc=pass header.from=clinic.test";
    let spoofed: [&[&str]; 3] = [&[&failed, &passed], &[foreign, &passed], &[]];
    for (n, results) in spoofed.into_iter().enumerate() {
        let words = format!("No marks at all. ({n})");
        let raw = with_results(&clinic, &request, results, &words);
        clinic.robin.send(&request.reply_to, &raw);
        for mail in clinic.seating.await_mails("A mail was set aside", n + 1) {
            assert!(mail.text.contains("We cannot tell whether it really comes"), "{}", mail.text);
            assert!(mail.text.contains("No marks at all."), "{}", mail.text);
        }
    }
    let found = |event: &Event| matches!(event, Event::Found { .. });
    assert_eq!(record::count(&clinic.data(), found), 0, "{:?}", record::inbox(&clinic.data()));

    // The request stands on its clock (R14), and an answer that is vouched for is taken.
    let raw = with_results(&clinic, &request, &[&passed], "No marks at all, looked again.");
    clinic.robin.send(&request.reply_to, &raw);
    clinic.robin.await_mail("Noted");
    assert_eq!(record::count(&clinic.data(), found), 1);
    record::check(&clinic.data());
    drop(service);
}

#[test]
fn a_mark_is_heard_whatever_the_receiving_server_says() {
    let clinic = Clinic::new(shared(), "box12");
    clinic.add_to_mail(&format!("authserv_id = \"{SERVER}\""));
    clinic.enroll(&Day { look_at: vec![minute_in(20)], ..Day::default() });
    let service = clinic.serve();
    let request = clinic.robin.await_mail("Skin check (");
    let failed = format!("{SERVER}; dmarc=fail header.from=clinic.test");
    let raw = with_results(&clinic, &request, &[&failed], "There is a blister on the left heel.");
    clinic.robin.send(&request.reply_to, &raw);
    clinic.seating.await_mail("STOP");
    let alarming = |event: &Event| matches!(event, Event::Found { found, .. } if found.finding == Finding::Alarming);
    assert_eq!(record::count(&clinic.data(), alarming), 1);
    record::check(&clinic.data());
    drop(service);
}
