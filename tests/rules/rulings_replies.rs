//! Choices that the text of the rules left open: which request a reply is said to, and what it
//! does there. The rulings themselves stand in `src/follow_up/rulings.rs`.

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// R2: at 10:30 the next sitting is planned an hour later.
#[test]
fn an_early_start_comes_before_taking_up_a_cancelled_sitting() {
    Story::new()
        .sittings_at("10:00 11:30")
        .says("06 10:02", "first", "no-sitting")
        .says("06 10:30", "first", "started")
        .says("06 10:46", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:02 no-credit 1 no-sitting
             06 10:30 sitting 2 step 1 15min
             06 10:30 started 2 at 10:30
             06 10:45 asked first 2 → first
             06 10:46 answered first 2 by first: clear
             06 10:46 credit 2 run 1",
        );
}

/// R2, fine print: somebody is sitting and nobody was asked to look.
#[test]
fn a_start_that_changes_nothing_is_set_aside_and_told() {
    let looked_at = Story::new()
        .sittings_at("10:00")
        .steps(&["40min 1 9 15min"])
        .says("06 10:16", "first", "clear");
    looked_at.clone().says("06 10:20", "first", "started to:start").days(1).gives_from(
        "06 10:16",
        "06 10:16 answered first 1 by first: clear
         06 10:20 set-aside first does-not-fit
         06 10:20 clinic-told unclear
         06 10:30 asked first 1 → first
         06 10:40 asked first 1 → first
         06 10:50 asked first 1 → first again 1
         06 11:00 asked first 1 → first again 1
         06 11:10 asked first 1 → second
         06 11:20 asked first 1 → second
         06 11:30 asked first 1 → second again 1
         06 11:40 asked first 1 → second again 1
         06 12:30 missed first 1
         06 12:30 clinic-told missed
         06 12:40 missed first 1
         06 12:40 clinic-told missed
         06 12:40 no-credit 1 missed",
    );
    // Said to a look it is the answer to it, and is not set aside as well.
    one_sitting()
        .says("06 10:16", "first", "clear")
        .says("06 10:20", "first", "started")
        .gives_from(
            "06 10:16",
            "06 10:16 answered first 1 by first: clear
         06 10:16 credit 1 run 1
         06 10:20 answered first 1 by first: started
         06 10:20 clinic-told unclear",
        );
}

/// R2: a start at 10:10 is the sitting that was looked at already; one of long ago is doubted, and
/// somebody who writes 'started' sits now.
#[test]
fn a_start_stated_before_the_last_look_does_not_begin_a_sitting_early() {
    let story = Story::new().sittings_at("10:00 11:30").says("06 10:16", "first", "clear");
    story.clone().says("06 10:40", "first", "started @10:10").gives_of(
        &["sitting", "started", "clinic-told"],
        "06 10:00 sitting 1 step 1 15min
         06 10:40 clinic-told unclear
         06 11:30 sitting 2 step 1 15min
         06 13:45 clinic-told missed",
    );
    story.says("06 10:40", "first", "started @08:00").gives_of(
        &["sitting", "started", "clinic-told"],
        "06 10:00 sitting 1 step 1 15min
         06 10:40 sitting 2 step 1 15min
         06 10:40 started 2 at 10:40
         06 12:55 clinic-told missed",
    );
}

/// R29: the routine look was first asked after the sitting's; reminders do not make it newer.
#[test]
fn the_look_asked_last_is_the_one_first_asked_last() {
    one_sitting()
        .look_at(&["10:20"])
        .says("06 10:36", "second", "marked heel-left")
        .says("06 10:39", "first", "clear to:look")
        .says("06 10:41", "second", "faded 5min to:recheck")
        .says("06 12:10", "clinic", "seen")
        .gives_from(
            "06 10:15",
            "06 10:15 asked first 1 → first
             06 10:20 asked routine → first
             06 10:35 asked first 1 → first again 1
             06 10:36 answered routine by second: marked heel-left
             06 10:39 answered first 1 by first: clear
             06 10:39 credit 1 run 1
             06 10:41 set-aside second not-asked
             06 11:06 asked recheck → second
             06 11:26 asked recheck → second again 1
             06 11:46 asked recheck → second again 2
             06 12:06 stopped recheck-unreported heel-left
             06 12:06 told-to-stop first
             06 12:06 told-to-stop second
             06 12:06 alerted clinic
             06 12:10 acknowledged clinic",
        );
}

/// R2, R29: the look was withdrawn by the moved start, but it was asked.
#[test]
fn an_announcement_stays_closed_once_a_look_was_asked() {
    one_sitting()
        .says("06 10:17", "first", "started @10:10")
        .says("06 10:20", "second", "marked sacrum")
        .says("06 10:51", "second", "faded 5min")
        .gives_from(
            "06 10:17",
            "06 10:17 answered first 1 by first: started
             06 10:17 started 1 at 10:10
             06 10:20 answered first 1 by second: marked sacrum
             06 10:20 clinic-told late-report
             06 10:50 asked recheck 1 → second
             06 10:51 answered recheck 1 by second: faded 5min
             06 10:51 no-credit 1 cut-short",
        );
}

/// R17.
#[test]
fn unclear_to_a_closed_look_is_told_and_not_asked_again() {
    one_sitting()
        .says("06 10:16", "first", "clear")
        .says("06 10:20", "first", "unclear")
        .gives_from(
            "06 10:16",
            "06 10:16 answered first 1 by first: clear
         06 10:16 credit 1 run 1
         06 10:20 answered first 1 by first: unclear
         06 10:20 clinic-told unclear",
        );
}

/// R2, R17: the sitting stays cancelled, the mark is looked at again.
#[test]
fn a_mark_said_to_the_announcement_of_a_cancelled_sitting_is_its_unasked_look() {
    one_sitting()
        .says("06 10:02", "first", "no-sitting")
        .says("06 10:20", "first", "marked sacrum")
        .says("06 10:51", "first", "faded 9min")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:02 no-credit 1 no-sitting
             06 10:20 answered first 1 by first: marked sacrum
             06 10:50 asked recheck 1 → first
             06 10:51 answered recheck 1 by first: faded 9min
             06 10:51 no-credit 1 no-sitting",
        );
}

/// R2, R10, R11: the unasked mark closed the announcement, and its recheck was asked; a second mark
/// said to the announcement is a lasting one, and starts no fresh wait.
#[test]
fn after_an_unasked_mark_a_mark_said_to_the_announcement_answers_its_recheck() {
    one_sitting()
        .says("06 10:05", "first", "marked sacrum")
        .says("06 10:40", "first", "marked to:start")
        .gives_of(
            &["answered", "asked", "stopped"],
            "06 10:05 answered first 1 by first: marked sacrum
             06 10:35 asked recheck 1 → first
             06 10:40 answered recheck 1 by first: marked
             06 10:40 stopped persisting sacrum",
        );
}

/// R29.
#[test]
fn a_reply_to_a_kind_that_was_never_asked_is_set_aside() {
    one_sitting()
        .says("06 10:16", "first", "clear to:recheck")
        .says("06 10:17", "first", "clear")
        .gives_from(
            "06 10:16",
            "06 10:16 set-aside first not-asked
             06 10:17 answered first 1 by first: clear
             06 10:17 credit 1 run 1",
        );
}

/// R18: what R11 stops on ranks with `persisting`, so that it is worse, not the same.
#[test]
fn minutes_too_long_make_the_same_mark_a_lasting_one() {
    one_sitting()
        .says("06 10:16", "first", "marked sacrum")
        .says("06 10:40", "first", "marked 45min")
        .gives_of(&["stopped"], "06 10:40 stopped persisting sacrum");
}

/// R17: a finding in the sitting comes first, even where another look was missed.
#[test]
fn no_sitting_after_a_finding_is_a_correction() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["30min 1 9 15min"])
        .says("06 10:31", "first", "clear")
        .says("06 12:20", "first", "no-sitting to:look")
        .gives_from(
            "06 12:15",
            "06 12:15 missed first 1
             06 12:15 clinic-told missed
             06 12:15 no-credit 1 missed
             06 12:20 answered first 1 by first: no-sitting
             06 12:20 clinic-told correction",
        );
}
