//! A machine's clock that is set back (R12, R14, R15, R22, R26).

use fadewatch::care::{ClinicianId, ContactId, Reading, Verdict};
use fadewatch::follow_up::event::Event;
use fadewatch::follow_up::{Aim, Noticed, Occasion};

use crate::live::{Live, instant};
use crate::story::Story;

/// One sitting a day at 10:00 whose look is asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// R22: raised at 10:16 and sent again every half hour; the clock is set back by two hours at
/// 10:30, and 16 minutes later the alert goes out again.
#[test]
fn an_alert_is_sent_again_as_soon_as_without_the_step() {
    let mut live = Live::of(&one_sitting());
    live.says("06 10:16", "first", Reading::Persisting);
    live.until("06 10:30").sets_back("06 10:30", "06 08:30", Noticed::AtOnce);
    live.until("06 09:20").gave_since_set_back(
        "06 08:46 alerted clinic again 1
         06 09:16 alerted clinic again 2",
    );
}

/// R14, R15: reminders and the miss of an open look keep their distance.
#[test]
fn reminders_and_a_miss_come_as_soon_as_without_the_step() {
    let mut live = Live::of(&one_sitting());
    live.until("06 10:20").sets_back("06 10:20", "06 08:20", Noticed::AtOnce);
    live.until("06 10:16").gave_since_set_back(
        "06 08:35 asked first 1 → first again 1
         06 08:55 asked first 1 → second
         06 09:15 asked first 1 → second again 1
         06 10:15 missed first 1
         06 10:15 clinic-told missed
         06 10:15 no-credit 1 missed",
    );
}

/// R12: a mark that nobody reports on is a stop as soon as without the step.
#[test]
fn a_recheck_that_waits_becomes_a_stop_as_soon_as_without_the_step() {
    let mut live = Live::of(&one_sitting().contacts(&["first"]));
    live.says("06 10:16", "first", Reading::Marked);
    live.until("06 10:40").sets_back("06 10:40", "06 09:40", Noticed::AtOnce);
    live.until("06 10:46").gave_since_set_back(
        "06 09:46 asked recheck 1 → first
         06 10:06 asked recheck 1 → first again 1
         06 10:26 asked recheck 1 → first again 2
         06 10:46 stopped recheck-unreported
         06 10:46 told-to-stop first
         06 10:46 alerted clinic",
    );
}

/// R2, R3: a look inside a sitting that runs keeps its distance; a sitting that was announced is not
/// announced a second time when its time of day comes again.
#[test]
fn a_time_of_day_that_comes_twice_is_worked_through_once() {
    let mut live = Live::of(&Story::new().sittings_at("10:00 15:00").steps(&["15min 2 9"]));
    live.until("06 10:05").sets_back("06 10:05", "06 08:05", Noticed::AtOnce);
    live.says("06 08:20", "first", Reading::Clear);
    live.until("06 15:00").gave_since_set_back(
        "06 08:15 asked first 1 → first
         06 08:20 answered first 1 by first: clear
         06 08:20 credit 1 run 1
         06 15:00 sitting 2 step 1 15min",
    );
}

/// R6: the time that a mark took to fade is elapsed time.
#[test]
fn a_fade_time_is_not_shortened_by_the_step() {
    let mut live = Live::of(&one_sitting());
    live.says("06 10:16", "first", Reading::Marked);
    live.until("06 10:20").sets_back("06 10:20", "06 08:20", Noticed::AtOnce);
    // 24 minutes after the look: a slow fade.
    live.says("06 08:40", "first", Reading::Faded);
    live.until("06 08:50").gave_since_set_back(
        "06 08:40 answered recheck 1 by first: faded
         06 08:40 no-credit 1 slow-fade",
    );
}

/// R22, R12, R26: noticed only when the service starts, nobody knows how much longer it was away.
#[test]
fn noticed_at_the_start_a_waiting_alert_and_a_recheck_go_out_at_once() {
    let mut stopped = Live::of(&one_sitting());
    stopped.says("06 10:16", "first", Reading::Persisting);
    stopped.until("06 10:30").sets_back("06 10:30", "06 09:00", Noticed::AtStart);
    stopped.until("06 09:17").gave_since_set_back(
        "06 09:00 alerted clinic again 1
         06 09:16 alerted clinic again 2",
    );

    let mut marked = Live::of(&one_sitting());
    marked.says("06 10:16", "first", Reading::Marked);
    marked.until("06 10:50").sets_back("06 10:50", "06 09:00", Noticed::AtStart);
    marked.until("06 09:21").gave_since_set_back(
        "06 09:00 asked recheck 1 → first again 1
         06 09:20 asked recheck 1 → second",
    );
}

/// R22: one that was taken up is brought back at its time of day, and no sooner.
#[test]
fn an_alert_that_was_taken_up_waits_for_its_time_of_day() {
    let mut live = Live::of(&one_sitting());
    live.says("06 10:16", "first", Reading::Persisting);
    let seen = Occasion::Decision {
        by: ClinicianId::new("clinic").unwrap(),
        verdict: Verdict::bare(Reading::Seen),
        answers: None,
    };
    live.happens("06 10:20", &seen);
    live.until("06 10:30").sets_back("06 10:30", "06 07:30", Noticed::AtStart);
    live.until("06 12:00").gave_since_set_back("06 08:00 alerted clinic again 1");
}

/// The step is written down once, with what the clock would have shown, and is the only entry that
/// is earlier than the one before it.
#[test]
fn only_the_entry_about_the_step_is_earlier_than_the_one_before_it() {
    let mut live = Live::of(&one_sitting());
    live.until("06 10:20").sets_back("06 10:20", "06 08:20", Noticed::AtOnce);
    let late = Occasion::Reply {
        by: ContactId::new("first").unwrap(),
        verdict: Verdict::bare(Reading::Clear),
        aim: Aim::Newest,
    };
    live.happens("06 08:30", &late);
    let entries = live.entries();
    let earlier: Vec<&Event> = entries
        .windows(2)
        .filter(|pair| pair[1].at < pair[0].at)
        .map(|pair| &pair[1].event)
        .collect();
    let [Event::ClockSetBack { instead_of }] = earlier[..] else { panic!("{earlier:?}") };
    assert_eq!(*instead_of, instant("06 10:20"));
}
