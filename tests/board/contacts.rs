//! Contacts on the board: the same change, with the same checks, as by the command line.

use crate::clinic::{Clinic, until};
use crate::world::World;

fn contacts(clinic: &Clinic) -> serde_json::Value {
    clinic.world.json(&["contact", "B2", "list", "--json"])
}

fn mails_to(clinic: &Clinic, address: &str) -> usize {
    let folder = clinic.world.path(&format!("mail/out/{address}/new"));
    std::fs::read_dir(folder).map_or(0, Iterator::count)
}

#[test]
fn a_contact_who_could_not_be_reached_is_asked_again_at_another_address() {
    let world = World::busy();
    world.lose("B2", "first");
    let clinic = Clinic::serve(world);
    let browser = clinic.sign_in("desk");
    let page = browser.get("/client/B2");
    assert!(page.shows("href=\"/client/B2/contact/first\""), "{}", page.body);
    let path = "/client/B2/contact/first";
    let known = browser.get(path);
    assert!(known.shows("value=\"robin@home.example\""), "{}", known.body);
    let fields = [("name", "Robin"), ("mail", "robin@new.example"), ("language", "es")];
    let done = browser.submit(path, path, &fields);
    assert_eq!((done.status, done.header("location")), (303, Some("/client/B2")), "{}", done.body);
    let first = &contacts(&clinic)[0];
    assert_eq!((&first["mail"], &first["language"]), (&"robin@new.example".into(), &"es".into()));
    assert_eq!(first["reachable"], true);
    let page = browser.get("/client/B2");
    assert!(page.shows("contact first was changed"), "{}", page.body);
    assert!(clinic.journal("B2").contains("asked from now on: first, second"));
}

#[test]
fn a_new_name_alone_touches_no_open_look_on_the_board_either() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = clinic.journal("B2");
    let path = "/client/B2/contact/first";
    let fields = [("name", "Robin M."), ("mail", "robin@home.example"), ("language", "en")];
    assert_eq!(browser.submit(path, path, &fields).status, 303);
    assert_eq!(clinic.journal("B2"), before);
    assert_eq!(contacts(&clinic)[0]["name"], "Robin M.");
}

#[test]
fn a_contact_is_added_and_takes_over_and_whoever_is_not_chosen_is_asked_no_longer() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    let path = "/client/B2/contact";
    let fields =
        [("contact", "third"), ("name", "Lee"), ("mail", "lee@home.example"), ("language", "en")];
    assert_eq!(browser.submit(path, path, &fields).status, 303);
    assert_eq!(contacts(&clinic)[2]["id"], "third");
    let path = "/client/B2/contacts";
    let asked = browser.get(path);
    assert!(
        asked.shows("<option value=\"first\" selected>first: Robin</option>"),
        "{}",
        asked.body
    );
    let fields = [("asked_1", "third"), ("asked_2", ""), ("asked_3", "second")];
    let done = browser.submit(path, path, &fields);
    assert_eq!(done.status, 303, "{}", done.body);
    let order: Vec<_> =
        contacts(&clinic).as_array().unwrap().iter().map(|c| c["id"].clone()).collect();
    assert_eq!(order, ["third", "second"]);
    let page = browser.get("/client/B2");
    assert!(page.shows("no longer asked: first"), "{}", page.body);
    until("the new contact is asked", || mails_to(&clinic, "lee@home.example") > 0);
    // Whoever was asked before can be chosen again, without being typed again.
    let fields = [("asked_1", "first"), ("asked_2", "third")];
    assert_eq!(browser.submit(path, path, &fields).status, 303);
    assert_eq!(contacts(&clinic)[0]["mail"], "robin@home.example");
    let said: Vec<_> = clinic
        .world
        .json(&["journal", "B2", "--all", "--json"])
        .as_array()
        .unwrap()
        .iter()
        .map(ToString::to_string)
        .filter(|line| line.contains("contacts-changed"))
        .collect();
    assert_eq!(said.len(), 3);
}

#[test]
fn a_slip_in_a_contact_stands_at_its_field_and_changes_nothing() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = (contacts(&clinic), clinic.journal("B2"));
    for (path, fields, field, why) in [
        (
            "contact/first",
            [("mail", "kim@neighbour.example"), ("name", "R")],
            "mail",
            "contact `second` has this address",
        ),
        (
            "contact/first",
            [("mail", "checks@clinic.example"), ("name", "R")],
            "mail",
            "own address",
        ),
        (
            "contact/first",
            [("mail", "no address"), ("name", "R")],
            "mail",
            "a mail address has an `@`",
        ),
        ("contact/first", [("mail", "r@home.example"), ("name", "")], "name", "name"),
        (
            "contact",
            [("contact", "second"), ("mail", "l@home.example")],
            "contact",
            "has it, now or before",
        ),
        ("contact", [("contact", "Lee and Co"), ("mail", "l@home.example")], "contact", "letters"),
        (
            "contacts",
            [("asked_1", "first"), ("asked_2", "first")],
            "asked_2",
            "is asked earlier already",
        ),
        (
            "contacts",
            [("asked_1", "nobody-known"), ("asked_2", "first")],
            "asked_1",
            "choose from the list",
        ),
        ("contacts", [("asked_1", ""), ("asked_2", "")], "asked_1", "somebody has to be asked"),
    ] {
        let path = format!("/client/B2/{path}");
        let mut all = fields.to_vec();
        all.push(("language", "en"));
        let refused = browser.submit(&path, &path, &all);
        assert_eq!(refused.status, 422, "{path} {all:?}");
        assert!(refused.shows(&format!("id=\"{field}-error\"")), "{field}: {}", refused.body);
        assert!(refused.shows(why), "{why}: {}", refused.body);
    }
    assert_eq!((contacts(&clinic), clinic.journal("B2")), before);
}

#[test]
fn only_who_reports_changes_contacts_and_only_while_the_follow_up_runs() {
    let clinic = Clinic::busy();
    let before = contacts(&clinic);
    let (observer, assistant) = (clinic.sign_in("guest"), clinic.sign_in("desk"));
    let fields = [
        ("contact", "third"),
        ("name", "Lee"),
        ("mail", "lee@home.example"),
        ("language", "en"),
        ("asked_1", "second"),
    ];
    for path in ["contact", "contact/first", "contacts"] {
        let path = format!("/client/B2/{path}");
        assert_eq!(observer.get(&path).status, 403, "{path}");
        assert_eq!(observer.submit("/", &path, &fields).status, 403, "{path}");
        let bare = assistant.post(&path, &fields);
        assert_eq!(bare.status, 403, "without the key of the form: {path}");
        assert_eq!(clinic.browser().get(&path).header("location"), Some("/sign-in"));
    }
    assert!(!observer.get("/client/B2").shows("Change first"));
    assert_eq!(contacts(&clinic), before);
    assert!(!assistant.get("/client/D4").shows("Change who is asked"));
    for path in ["contact", "contact/first", "contacts"] {
        let path = format!("/client/D4/{path}");
        let refused = assistant.submit("/", &path, &fields);
        assert_eq!(refused.status, 422, "{path}");
        assert!(refused.shows("the follow-up has ended"), "{}", refused.body);
    }
    assert_eq!(assistant.get("/client/B2/contact/nobody").status, 404);
    assert_eq!(assistant.get("/client/Z9/contacts").status, 404);
}

#[test]
fn hours_are_set_and_cleared_on_the_board_and_shown_in_plain_words() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let path = "/client/B2/contact/first";
    let with = |hours| {
        [("name", "Robin"), ("mail", "robin@home.example"), ("language", "en"), ("hours", hours)]
    };
    let done = browser.submit(path, path, &with("Mon-Fri 07:00-08:00\r\nSat 22:00-06:00"));
    assert_eq!(done.status, 303, "{}", done.body);
    let asked = serde_json::json!(["Mon-Fri 07:00-08:00", "Sat 22:00-06:00"]);
    assert_eq!(contacts(&clinic)[0]["asked"], asked);
    let page = browser.get("/client/B2");
    let told = "Monday to Friday 07:00 to 08:00; Saturday 22:00 to 06:00";
    assert!(page.shows(told) && !page.shows("nobody is on"), "{}", page.body);
    assert!(browser.get(path).shows("Mon-Fri 07:00-08:00\nSat 22:00-06:00</textarea>"));
    // The other contact's hours leave looks to nobody, which is said at once and stays on the page.
    let second = "/client/B2/contact/second";
    let kim = [
        ("name", "Kim"),
        ("mail", "kim@neighbour.example"),
        ("language", "es"),
        ("hours", "17:00-23:00"),
    ];
    assert_eq!(browser.submit(second, second, &kim).status, 303);
    let page = browser.get("/client/B2");
    assert!(page.shows("nobody is on; the first contact is asked"), "{}", page.body);
    assert_eq!(browser.submit(path, path, &with("")).status, 303);
    assert_eq!(contacts(&clinic)[0]["asked"], serde_json::json!([]));
    assert!(!browser.get("/client/B2").shows("first contact is asked."));
}

#[test]
fn a_slip_in_hours_stands_at_their_field_with_what_was_meant() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = clinic.journal("B2");
    let path = "/client/B2/contact/first";
    let fields = [
        ("name", "Robin"),
        ("mail", "robin@home.example"),
        ("language", "en"),
        ("hours", "Mo-Fr 7-15"),
    ];
    let refused = browser.submit(path, path, &fields);
    assert_eq!(refused.status, 422);
    assert!(refused.shows("did you mean `Mon-Fri 07:00-15:00`?"), "{}", refused.body);
    assert!(refused.shows("Mo-Fr 7-15"), "what was typed is kept");
    assert_eq!(clinic.journal("B2"), before);
}
