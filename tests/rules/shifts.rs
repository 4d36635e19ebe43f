//! Who is asked at which hours: contacts come in shifts (R12, R14).

use fadewatch::care::{AskedHours, ContactId, Reading};
use fadewatch::follow_up::Occasion;
use fadewatch::follow_up::event::Event;

use crate::live::{Live, unreachable};
use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15, again after 20 minutes each.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

fn id(contact: &str) -> ContactId {
    ContactId::new(contact).unwrap()
}

fn hours(contact: &str, stretches: &[&str]) -> Occasion {
    let stretches = stretches.iter().map(|stretch| stretch.parse().unwrap()).collect();
    Occasion::Hours { contact: id(contact), hours: AskedHours::new(stretches) }
}

/// R14: with hours.
#[test]
fn a_look_is_asked_of_the_first_whose_hours_hold_when_it_is_asked() {
    let story = one_sitting()
        .asked("first", &["Mon-Fri 14:00-22:00"])
        .asked("second", &["Mon-Fri 06:00-14:00", "Sat-Sun 22:00-23:00"])
        .days(2)
        .says("06 10:20", "second", "clear");
    story.gives_of(
        &["asked", "answered", "credit"],
        "06 10:15 asked first 1 → second
         06 10:20 answered first 1 by second: clear
         06 10:20 credit 1 run 1
         07 10:15 asked first 2 → first
         07 10:35 asked first 2 → first again 1
         07 10:55 asked first 2 → second
         07 11:15 asked first 2 → second again 1",
    );
}

/// R2: with hours.
#[test]
fn a_sitting_is_announced_to_the_first_whose_hours_hold_when_it_begins() {
    let mut live = Live::of(&one_sitting().asked("first", &["10:05-20:00"]));
    live.until("06 10:15");
    let announced_to: Vec<String> = live
        .events()
        .filter_map(|event| match event {
            Event::Sitting { to, .. } => Some(to.to_string()),
            _ => None,
        })
        .collect();
    assert_eq!(announced_to, ["second"]);
    live.gave_from("06 10:15", "06 10:15 asked first 1 → first");
}

/// R14: nobody is left out because of hours.
#[test]
fn those_on_shift_are_asked_first_and_the_others_after_them() {
    one_sitting()
        .contacts(&["first", "second", "third", "fourth"])
        .asked("first", &["20:00-22:00"])
        .asked("third", &["20:00-22:00"])
        .set("ask_again", "0")
        .gives_of(
            &["asked", "missed"],
            "06 10:15 asked first 1 → second
             06 10:35 asked first 1 → fourth
             06 10:55 asked first 1 → first
             06 11:15 asked first 1 → third
             06 12:15 missed first 1",
        );
}

/// R14: silence is never all clear, so somebody is asked.
#[test]
fn where_nobodys_hours_hold_the_calling_order_counts() {
    one_sitting().asked("first", &["20:00-22:00"]).asked("second", &["21:00-06:00"]).gives_of(
        &["asked"],
        "06 10:15 asked first 1 → first
         06 10:35 asked first 1 → first again 1
         06 10:55 asked first 1 → second
         06 11:15 asked first 1 → second again 1",
    );
}

/// R14: the shift changes while a look waits.
#[test]
fn a_reminder_goes_to_whoever_is_on_shift_by_then() {
    let story = one_sitting()
        .asked("first", &["06:00-10:30"])
        .asked("second", &["10:30-18:00"])
        .says("06 11:20", "first", "clear");
    story.gives(
        "06 10:00 sitting 1 step 1 15min
         06 10:15 asked first 1 → first
         06 10:35 asked first 1 → second
         06 10:55 asked first 1 → second again 1
         06 11:20 answered first 1 by first: clear
         06 11:20 credit 1 run 1",
    );
    // The time until the look is missed runs from its very first request.
    one_sitting().asked("first", &["06:00-10:30"]).gives_of(
        &["asked", "missed"],
        "06 10:15 asked first 1 → first
         06 10:35 asked first 1 → second
         06 10:55 asked first 1 → second again 1
         06 12:15 missed first 1",
    );
}

/// R14: whose shift begins while somebody off shift is asked takes over.
#[test]
fn who_comes_on_shift_is_asked_before_the_others_are_asked_again() {
    one_sitting()
        .contacts(&["first", "second", "third"])
        .asked("first", &["20:00-22:00"])
        .asked("second", &["20:00-22:00"])
        .asked("third", &["10:30-22:00"])
        .gives_of(
            &["asked"],
            "06 10:15 asked first 1 → first
             06 10:35 asked first 1 → third
             06 10:55 asked first 1 → third again 1
             06 11:15 asked first 1 → second
             06 11:35 asked first 1 → second again 1",
        );
}

/// R14: nobody is asked about one look more often than the plan says.
#[test]
fn at_the_end_of_a_shift_without_anybody_new_the_one_who_is_asked_is_asked_on() {
    one_sitting()
        .contacts(&["first", "second"])
        .asked("first", &["06:00-10:30"])
        .asked("second", &["06:00-10:30"])
        .gives_of(
            &["asked"],
            "06 10:15 asked first 1 → first
             06 10:35 asked first 1 → first again 1
             06 10:55 asked first 1 → second
             06 11:15 asked first 1 → second again 1",
        );
}

/// R12: the one who reported the mark has gone home.
#[test]
fn a_recheck_goes_to_the_reporter_unless_somebody_elses_shift_has_begun() {
    let marked = |story: Story| story.says("06 10:20", "second", "marked sacrum");
    let second_first = || one_sitting().asked("first", &["10:30-20:00"]);
    marked(second_first().asked("second", &["06:00-10:30"])).gives_of(
        &["asked", "stopped"],
        "06 10:15 asked first 1 → second
         06 10:50 asked recheck 1 → first
         06 11:10 asked recheck 1 → first again 1
         06 11:30 asked recheck 1 → second
         06 11:50 stopped recheck-unreported sacrum",
    );
    marked(second_first().asked("second", &["06:00-11:00"])).gives_of(
        &["asked", "stopped"],
        "06 10:15 asked first 1 → second
         06 10:50 asked recheck 1 → second
         06 11:10 asked recheck 1 → first
         06 11:30 asked recheck 1 → first again 1
         06 11:50 stopped recheck-unreported sacrum",
    );
    // Nobody is on shift by then: whoever saw the mark knows where to look.
    let night = one_sitting().asked("first", &["20:00-22:00"]).asked("second", &["06:00-10:30"]);
    marked(night).gives_of(
        &["asked", "stopped"],
        "06 10:15 asked first 1 → second
         06 10:50 asked recheck 1 → second
         06 11:10 asked recheck 1 → second again 1
         06 11:30 asked recheck 1 → first
         06 11:50 stopped recheck-unreported sacrum",
    );
}

/// R12: a recheck is asked until it is answered or a stop.
#[test]
fn a_recheck_that_everybody_was_asked_about_goes_on_with_whoever_is_on_shift() {
    one_sitting()
        .asked("second", &["20:00-22:00"])
        .set("ask_again", "0")
        .set("recheck_within", "\"2h\"")
        .says("06 10:20", "first", "marked sacrum")
        .gives_of(
            &["asked"],
            "06 10:15 asked first 1 → first
             06 10:50 asked recheck 1 → first
             06 11:10 asked recheck 1 → second
             06 11:30 asked recheck 1 → first again 1
             06 11:50 asked recheck 1 → first again 2
             06 12:10 asked recheck 1 → first again 3
             06 12:30 asked recheck 1 → first again 4",
        );
}

/// R27: with hours.
#[test]
fn in_place_of_somebody_who_cannot_be_reached_the_next_on_shift_is_asked() {
    let story = one_sitting().contacts(&["first", "second", "third"]);
    let mut live = Live::of(&story.asked("second", &["20:00-22:00"]));
    live.happens("06 10:20", &unreachable("first")).until("06 11:30").gave_from(
        "06 10:15",
        "06 10:15 asked first 1 → first
         06 10:20 asked first 1 → third
         06 10:40 asked first 1 → third again 1
         06 11:00 asked first 1 → second
         06 11:20 asked first 1 → second again 1",
    );
}

/// R24: the quiet hours hold a reminder back, and the hours of their end count.
#[test]
fn a_reminder_after_the_quiet_hours_goes_to_whoever_is_on_shift_then() {
    one_sitting()
        .quiet("10:30", "12:00")
        .sittings_at("10:00")
        .asked("second", &["11:00-20:00"])
        .asked("first", &["06:00-11:00"])
        .gives_of(
            &["asked"],
            "06 10:15 asked first 1 → first
             06 12:00 asked first 1 → second",
        );
}

/// R25: with hours over midnight and on the nights of clock changes.
#[test]
fn hours_cross_midnight_and_keep_to_the_clients_clock_on_the_nights_of_clock_changes() {
    let on = |hours: &'static str, at: &str| {
        let live = Live::of(&one_sitting().zone("Europe/Paris").asked("first", &[hours]));
        let at: chrono::DateTime<chrono::Utc> = at.parse().unwrap();
        live.state().is_on_shift(&id("first"), at)
    };
    // Friday's night ends on Saturday morning, at 6 in Paris.
    for (at, is_on) in [
        ("2026-03-06T20:59:00Z", false),
        ("2026-03-06T21:00:00Z", true),
        ("2026-03-07T04:59:00Z", true),
        ("2026-03-07T05:00:00Z", false),
        ("2026-03-07T21:00:00Z", false),
    ] {
        assert_eq!(on("Fri 22:00-06:00", at), is_on, "{at}");
    }
    // On 29 March 2026 the clocks go from 02:00 to 03:00 (01:00 in UTC): hours that end at 02:30
    // end there, and hours that begin at 02:30 begin there.
    for (at, is_on) in [("2026-03-29T00:59:59Z", true), ("2026-03-29T01:00:00Z", false)] {
        assert_eq!(on("22:00-02:30", at), is_on, "{at}");
        assert_eq!(on("02:30-06:00", at), !is_on, "{at}");
    }
    // On 25 October 2026 02:30 comes twice (00:30 and 01:30 in UTC): the first counts.
    for (at, is_on) in [
        ("2026-10-25T00:29:59Z", true),
        ("2026-10-25T00:30:00Z", false),
        ("2026-10-25T01:15:00Z", false),
    ] {
        assert_eq!(on("22:00-02:30", at), is_on, "{at}");
        assert_eq!(on("02:30-06:00", at), !is_on, "{at}");
    }
    assert!(on("Sun 00:00-24:00", "2026-10-25T22:59:59Z"));
    assert!(!on("Sun 00:00-24:00", "2026-10-25T23:00:00Z"));
}

/// R14: hours that are said count from the next request on.
#[test]
fn hours_said_while_a_look_waits_move_its_next_request_and_nothing_else() {
    let mut live = Live::of(&one_sitting());
    live.happens("06 10:20", &hours("first", &["20:00-22:00"]));
    live.happens("06 10:21", &hours("first", &["20:00-22:00"]));
    live.until("06 10:55").gave_from(
        "06 10:15",
        "06 10:15 asked first 1 → first
         06 10:35 asked first 1 → second
         06 10:55 asked first 1 → second again 1",
    );
    let said = live.events().filter(|event| matches!(event, Event::HoursSaid { .. })).count();
    assert_eq!(said, 1, "the same hours again are no news");
    live.happens("06 18:00", &hours("first", &[]))
        .until("07 10:15")
        .gave_from("07 10:15", "07 10:15 asked first 2 → first");
    assert!(live.state().hours.is_empty());
}

/// R27: hours stay on file with their contact.
#[test]
fn who_is_chosen_again_has_the_hours_that_they_had() {
    let mut live = Live::of(&one_sitting().asked("first", &["20:00-22:00"]));
    let order = |names: &[&str]| Occasion::Contacts {
        contacts: names.iter().map(|name| id(name)).collect(),
        readdressed: Vec::new(),
    };
    live.happens("06 09:00", &order(&["second"]));
    live.happens("06 09:30", &order(&["first", "second"]));
    live.until("06 10:15").gave_from("06 10:15", "06 10:15 asked first 1 → second");
}

/// R29: who is on shift says nothing about whose answer counts.
#[test]
fn a_mark_from_a_contact_off_shift_counts_as_from_anybody_on_file() {
    let mut live = Live::of(&one_sitting().asked("second", &["20:00-22:00"]));
    live.says("06 10:20", "second", Reading::Marked).until("06 10:50").gave_from(
        "06 10:15",
        "06 10:15 asked first 1 → first
         06 10:20 answered first 1 by second: marked
         06 10:50 asked recheck 1 → first",
    );
}
