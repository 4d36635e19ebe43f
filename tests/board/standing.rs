//! Today and the pages of clients: what stands where, and how it is shown.

use std::fs;

use fadewatch::care::{ClientRef, Reading, Verdict};

use crate::clinic::Clinic;
use crate::world::{PLAN, World, site};

/// Where a text stands first.
fn place(page: &str, text: &str) -> usize {
    page.find(text).unwrap_or_else(|| panic!("no {text} in {page}"))
}

#[test]
fn a_stopped_client_stands_before_an_overdue_one_and_that_before_one_who_is_asked() {
    let world = World::empty();
    // An answer is overdue after half an hour, and nothing is missed for hours.
    let plan = PLAN.replace("answer_within = \"4h\"", "answer_within = \"30min\"");
    let plan = plan.replace("ask_again = 1", "ask_again = 12").replace("\"9h\"", "\"13h\"");
    fs::write(world.path("plans/patient.toml"), plan).unwrap();
    for client in ["A1", "B2", "C3", "D4"] {
        world.enroll(client);
    }
    let clear = Verdict::bare(Reading::Clear);
    let yesterday = world.today.pred_opt().unwrap();
    for (day, time) in [(yesterday, 9), (yesterday, 11), (world.today, 9)] {
        world.pass_until(day, time, 20);
        for client in ["A1", "B2", "C3", "D4"] {
            world.say(client, "first", &clear, world.at(day, time, 20));
        }
    }
    // C3 is silent from a quarter past eleven on; D4 alarms; A1 is marked.
    world.pass_until(world.today, 11, 20);
    world.say("B2", "first", &clear, world.at(world.today, 11, 20));
    let alarming = Verdict { sites: vec![site("heel-left")], ..Verdict::bare(Reading::Alarming) };
    world.say("D4", "first", &alarming, world.at(world.today, 11, 20));
    let mark = Verdict { sites: vec![site("sacrum")], ..Verdict::bare(Reading::Marked) };
    world.say("A1", "first", &mark, world.at(world.today, 11, 50));
    world.pass_until(world.today, 11, 55);
    let clinic = Clinic::serve(world);
    let page = clinic.sign_in("guest").get("/").body;
    let places = ["D4", "C3", "A1", "B2"].map(|client| place(&page, &format!("/client/{client}")));
    assert!(places.is_sorted(), "{places:?} in {page}");
    for word in ["stopped, alert open", "overdue", "mark", "nothing open"] {
        assert!(page.contains(&format!("</svg>{word}</span>")), "no {word} in {page}");
    }
    assert!(page.contains("Ring first"), "{page}");
}

#[test]
fn a_clients_page_shows_standing_pictures_contacts_and_journal_in_words() {
    let clinic = Clinic::busy();
    let page = clinic.sign_in("guest").get("/client/A7");
    for text in [
        "A7 (Sam)",
        "stopped, alert open",
        "Nobody has taken it up; it is with seating",
        "robin@home.example",
        "STOPPED on step 1: ",
        "aria-current=\"step\"",
        "src=\"data:image/svg+xml;base64,",
    ] {
        assert!(page.shows(text), "no {text} in {}", page.body);
    }
    assert_eq!(clinic.sign_in("guest").get("/client/Z9").status, 404);
}

#[test]
fn a_name_with_html_in_it_is_shown_as_text() {
    let world = World::busy();
    world.write(|_, tx| {
        let id = tx.follow_up_of(&ClientRef::new("A7").unwrap())?.unwrap();
        Ok(tx.put_call_name(id, "<script>alert(1)</script>")?)
    });
    let clinic = Clinic::serve(world);
    let browser = clinic.sign_in("guest");
    for path in ["/", "/client/A7"] {
        let page = browser.get(path);
        assert!(!page.shows("<script>alert"), "{path}");
        assert!(page.shows("&#60;script&#62;alert(1)"), "{path}: {}", page.body);
    }
}

#[test]
fn what_has_ended_is_listed_apart() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("guest");
    assert!(!browser.get("/").shows("/client/D4"));
    assert!(browser.get("/ended").shows("/client/D4"));
    assert!(browser.get("/client/D4").shows("closes the follow-up"));
}
