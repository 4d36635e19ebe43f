//! Acts on the board: the same as those of the command line, with the person who did them.

use chrono::Days;

use crate::clinic::{Clinic, until};
use crate::world::World;

#[test]
fn an_alert_is_taken_up_with_one_tap_and_the_clinic_is_answered() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    let mails = clinic.mails_to("seating").len();
    let taken = browser.submit("/client/A7", "/client/A7/decide", &[("decision", "seen")]);
    assert_eq!((taken.status, taken.header("location")), (303, Some("/client/A7")));
    let page = browser.get("/client/A7");
    assert!(page.shows("seating takes alert"), "{}", page.body);
    assert!(page.shows("Taken up by seating"), "{}", page.body);
    assert!(!browser.get("/client/A7").shows("role=\"status\""), "news is told once");
    assert_eq!(clinic.world.json(&["alerts", "--json"])[0]["acknowledged_by"], "seating");
    until("the service mailed what followed", || clinic.mails_to("seating").len() > mails);
}

#[test]
fn sitting_begins_again_only_after_what_would_follow_was_shown_and_wanted() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    let before = clinic.journal("A7");
    let fields = [("decision", "resume"), ("step", "1")];
    let asked = browser.submit("/client/A7/decide", "/client/A7/decide", &fields);
    assert!(asked.shows("This would follow"), "{}", asked.body);
    assert!(asked.shows("seating lets sitting begin again, at step 1"), "{}", asked.body);
    assert_eq!(clinic.journal("A7"), before, "nothing happened yet");
    // A form that claims to be confirmed without having been shown is shown again.
    let claims = [("decision", "resume"), ("step", "1"), ("confirmed", "yes")];
    assert_eq!(browser.submit("/client/A7/decide", "/client/A7/decide", &claims).status, 200);
    assert_eq!(clinic.journal("A7"), before);
    let confirmed = asked.field("confirmed");
    let fields = [("decision", "resume"), ("step", "1"), ("confirmed", &confirmed)];
    assert_eq!(browser.submit("/client/A7", "/client/A7/decide", &fields).status, 303);
    let journal = clinic.journal("A7");
    assert!(journal.contains("seating lets sitting begin again, at step 1"), "{journal}");
}

#[test]
fn an_observer_reads_and_an_assistant_reports_but_neither_decides() {
    let clinic = Clinic::busy();
    let before = clinic.journal("A7");
    let (observer, assistant) = (clinic.sign_in("guest"), clinic.sign_in("desk"));
    for path in ["decide", "report", "pause", "refit"] {
        let path = format!("/client/A7/{path}");
        assert_eq!(observer.get(&path).status, 403, "{path}");
        assert_eq!(observer.submit("/", &path, &[("decision", "seen")]).status, 403, "{path}");
    }
    for path in ["/enrol", "/cover/set", "/aside"] {
        assert_eq!(observer.get(path).status, 403, "{path}");
    }
    assert!(!observer.get("/client/A7").shows("What you can do"));
    let decide = assistant.submit("/", "/client/A7/decide", &[("decision", "seen")]);
    assert_eq!(decide.status, 403);
    assert_eq!(assistant.submit("/", "/client/A7/unpause", &[]).status, 403);
    assert_eq!(clinic.journal("A7"), before);
    let fields = [("by", "first"), ("reading", "marked"), ("site", "sacrum")];
    assert_eq!(assistant.submit("/", "/client/C3/report", &fields).status, 303);
    let journal = clinic.journal("C3");
    assert!(journal.contains("taken by desk"), "{journal}");
    assert!(journal.contains("marked at sacrum"), "{journal}");
}

#[test]
fn what_was_typed_is_kept_and_each_slip_stands_at_its_field() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = clinic.journal("C3");
    let words = "a darker patch, she says \"it itches\"";
    let fields = [("by", "second"), ("reading", "marked"), ("at", "25:99"), ("words", words)];
    let again = browser.submit("/client/C3/report", "/client/C3/report", &fields);
    assert_eq!(again.status, 422);
    assert!(again.shows("`25:99` is not a time of day"), "{}", again.body);
    assert!(again.shows("aria-describedby=\"at-error\""), "{}", again.body);
    assert!(again.shows("a darker patch, she says &#34;it itches&#34;"), "{}", again.body);
    assert!(again.shows("value=\"second\" checked"), "{}", again.body);
    assert_eq!(clinic.journal("C3"), before);
}

#[test]
fn words_alone_are_read_but_count_only_when_somebody_agrees() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = clinic.journal("C3");
    let fields = [("by", "first"), ("words", "There is a blister on the left heel")];
    let asked = browser.submit("/client/C3/report", "/client/C3/report", &fields);
    assert!(asked.shows("the words read as: An alarming sign"), "{}", asked.body);
    assert_eq!(clinic.journal("C3"), before);
}

#[test]
fn a_pause_is_made_and_ended_and_a_stop_cannot_be_paused_away() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    let refused = browser.submit("/", "/client/A7/pause", &[("why", "holiday")]);
    assert_eq!(refused.status, 422);
    assert!(refused.shows("sitting is stopped; a clinician has to decide first"));
    assert_eq!(browser.submit("/", "/client/C3/pause", &[("why", "hospital")]).status, 303);
    assert!(browser.get("/").shows("</svg>paused</span>"));
    let asked = browser.submit("/", "/client/C3/unpause", &[("step", "1")]);
    assert!(asked.shows("This would follow"), "{}", asked.body);
    let fields = [("step", "1"), ("confirmed", &asked.field("confirmed"))];
    assert_eq!(browser.submit("/", "/client/C3/unpause", &fields).status, 303);
    assert!(clinic.journal("C3").contains("seating ends the pause, at step 1"));
}

#[test]
fn a_client_is_enrolled_by_the_checks_of_a_client_file() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let zone = clinic.world.zone.zone_name().to_owned();
    let begins = (clinic.world.today + Days::new(1)).to_string();
    let mut fields = vec![
        ("ref", "E5"),
        ("call_name", "Lee \"L\""),
        ("risk", "high"),
        ("plan", "patient"),
        ("begins", begins.as_str()),
        ("sittings_at", "09:00, 11:00"),
        ("quiet", "21:00 07:00"),
        ("time_zone", zone.as_str()),
        ("name_1", "Robin"),
        ("mail_1", "robin at home"),
        ("language_1", "en"),
    ];
    let wrong = browser.submit("/enrol", "/enrol", &fields);
    assert_eq!(wrong.status, 422);
    assert!(wrong.shows("id=\"mail_1-error\""), "{}", wrong.body);
    assert!(wrong.shows("Lee &#34;L&#34;"), "{}", wrong.body);
    fields[9] = ("mail_1", "robin@home.example");
    let enrolled = browser.submit("/enrol", "/enrol", &fields);
    assert_eq!(enrolled.header("location"), Some("/client/E5"), "{}", enrolled.body);
    assert!(browser.get("/client/E5").shows("Lee &#34;L&#34;"));
    let again = browser.submit("/enrol", "/enrol", &fields);
    assert!(again.shows("another client has this reference"), "{}", again.body);
    // What is typed stays a text: it cannot add a key to the file.
    fields[0] = ("ref", "F6\"\nrisk = \"low");
    assert_eq!(browser.submit("/enrol", "/enrol", &fields).status, 422);
}

#[test]
fn a_fitting_with_a_problem_changes_nothing() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let before = clinic.journal("C3");
    let fields = [("fitting", "[fitting]\ndate = \"soon\"\n")];
    let refused = browser.submit("/", "/client/C3/refit", &fields);
    assert_eq!(refused.status, 422);
    assert!(refused.shows("line 2:"), "{}", refused.body);
    assert!(refused.shows("date = &#34;soon&#34;"), "{}", refused.body);
    assert_eq!(clinic.journal("C3"), before);
}

#[test]
fn cover_is_set_for_days_by_whoever_reports_and_only_clinicians_are_called() {
    let clinic = Clinic::serve(World::busy());
    let browser = clinic.sign_in("desk");
    let today = clinic.world.today.to_string();
    let wrong = browser.submit("/", "/cover/set", &[("from", &today), ("first", "desk")]);
    assert_eq!(wrong.status, 422);
    let set = browser.submit("/", "/cover/set", &[("from", &today), ("first", "duty")]);
    assert_eq!(set.status, 303, "{}", set.body);
    assert!(browser.get("/").shows("On cover: B. Example."));
    assert_eq!(clinic.world.json(&["cover", "--json"])["now"][0], "duty");
}
