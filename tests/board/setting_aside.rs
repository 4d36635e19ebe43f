//! Mail that was set aside: read and filed on the board.

use crate::clinic::{Clinic, until};

#[test]
fn a_mail_of_an_unknown_sender_is_shown_and_filed_for_whom_it_is_about() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    clinic.deliver("one", "neighbour@elsewhere.example", "A <b>darker</b> patch on the sacrum.");
    until("the mail is set aside", || browser.get("/aside").shows("neighbour@elsewhere.example"));
    let page = browser.get("/aside");
    assert!(page.shows("A &#60;b&#62;darker&#60;/b&#62; patch"), "{}", page.body);
    let (_, rest) = page.body.split_once("action=\"/aside/").unwrap();
    let path = format!("/aside/{}", rest.split('"').next().unwrap());
    let nobody = browser.submit("/aside", &path, &[("act", "file"), ("reading", "marked")]);
    assert_eq!(nobody.status, 422);
    assert!(nobody.shows("choose who wrote it"));
    assert!(nobody.shows("value=\"marked\" selected"), "what was chosen is kept");
    let fields = [("act", "file"), ("speaker", "C3/second"), ("reading", "marked")];
    assert_eq!(browser.submit("/aside", &path, &fields).status, 303);
    let journal = clinic.journal("C3");
    assert!(journal.contains("taken by desk"), "{journal}");
    assert!(journal.contains("marked"), "{journal}");
    assert!(!browser.get("/aside").shows("neighbour@elsewhere.example"));
    // Somebody who had the page open all the time files it a second time.
    assert_eq!(browser.submit("/aside", &path, &fields).status, 404);
}

#[test]
fn a_mail_with_nothing_to_record_is_put_away_and_changes_no_follow_up() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    clinic.deliver("two", "shop@elsewhere.example", "Your order has been sent.");
    until("the mail is set aside", || browser.get("/aside").shows("shop@elsewhere.example"));
    let before = clinic.journal("C3");
    let page = browser.get("/aside");
    let (_, rest) = page.body.split_once("action=\"/aside/").unwrap();
    let path = format!("/aside/{}", rest.split('"').next().unwrap());
    assert_eq!(browser.submit("/aside", &path, &[("act", "drop")]).status, 303);
    assert!(!browser.get("/aside").shows("shop@elsewhere.example"));
    assert_eq!(clinic.journal("C3"), before);
}
