//! Answers of clinicians that come when there is a newer alert (R22, R23).

use fadewatch::care::{ClinicianId, Reading, StepChoice, Verdict};
use fadewatch::follow_up::event::{AlertSending, Event};
use fadewatch::follow_up::{AlertId, Answered, Occasion};

use crate::live::Live;
use crate::story::Story;

/// One sitting a day, two clinicians; a lasting mark at 10:16 raises alert 1, which bob takes up; an
/// alarming report while stopped raises alert 2 at 10:50, and nobody has taken that up.
fn alerted_twice() -> Live {
    let story =
        Story::new().sittings_at("10:00").steps(&["15min 1 3", "30min 1 3"]).cover(&["ann", "bob"]);
    let mut live = Live::of(&story);
    live.says("06 10:16", "first", Reading::Persisting);
    live.happens("06 10:20", &decides("bob", Reading::Seen, Some(Answered::Alert(alert(1)))));
    live.says("06 10:50", "first", Reading::Alarming);
    live
}

fn alert(number: u32) -> AlertId {
    AlertId::new(number)
}

fn decides(by: &str, reading: Reading, answers: Option<Answered>) -> Occasion {
    let by = ClinicianId::new(by).unwrap();
    Occasion::Decision { by, verdict: Verdict::bare(reading), answers }
}

/// R22: the newer alert goes on as if nothing had been said, and is shown to the one who answered.
#[test]
fn a_seen_to_an_older_alert_never_takes_a_newer_one_up() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("bob", Reading::Seen, Some(Answered::Alert(alert(1)))));
    live.until("06 11:51").gave_from(
        "06 11:00",
        "06 11:00 alerted bob
         06 11:00 set-aside bob overtaken
         06 11:20 alerted ann again 1
         06 11:50 alerted bob again 1",
    );
    let shown =
        |event: &Event| matches!(event, Event::Alerted { sending: AlertSending::Shown, .. });
    assert_eq!(live.events().filter(|event| shown(event)).count(), 1);
}

/// R23: no decision that answers an older alert lifts or ends anything.
#[test]
fn a_decision_on_an_older_alert_lifts_and_ends_nothing() {
    for reading in [Reading::Resume, Reading::KeepStopped, Reading::Close] {
        let mut live = alerted_twice();
        live.happens("06 11:00", &decides("bob", reading, Some(Answered::Alert(alert(1)))));
        live.until("06 11:10").gave_from(
            "06 11:00",
            "06 11:00 alerted bob
             06 11:00 set-aside bob overtaken",
        );
    }
}

/// R23: also where somebody else has taken the newer one up: whoever decides has to know of it.
#[test]
fn a_decision_on_an_older_alert_lifts_nothing_though_another_has_taken_the_newer_up() {
    let mut live = alerted_twice();
    live.happens("06 10:55", &decides("ann", Reading::Seen, Some(Answered::Alert(alert(2)))));
    live.happens("06 11:00", &decides("bob", Reading::Resume, Some(Answered::Alert(alert(1)))));
    live.until("06 11:10").gave_from(
        "06 10:55",
        "06 10:55 acknowledged ann
         06 11:00 alerted bob
         06 11:00 set-aside bob overtaken",
    );
}

/// R22, R23: an answer to the newest alert counts, and the journal says which alert it was.
#[test]
fn an_answer_to_the_newest_alert_takes_up_that_one() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("ann", Reading::Resume, Some(Answered::Alert(alert(2)))));
    live.gave_from(
        "06 11:00",
        "06 11:00 acknowledged ann
         06 11:00 resumed ann step 1",
    );
    let of_second = |event: &Event| matches!(event, Event::Acknowledged { alert: Some(id), .. } if *id == alert(2));
    assert!(live.events().any(of_second));
}

/// R23: any other notice counts by what its reader had been sent before it.
#[test]
fn an_answer_to_another_notice_counts_by_the_alerts_that_its_reader_had_been_sent() {
    let told_of = |told_of| Some(Answered::Notice { told_of });
    for (knew, lines) in [
        (None, "06 11:00 alerted ann again 1\n06 11:00 set-aside ann overtaken"),
        (Some(alert(1)), "06 11:00 alerted ann again 1\n06 11:00 set-aside ann overtaken"),
        (Some(alert(2)), "06 11:00 acknowledged ann\n06 11:00 kept-stopped ann"),
    ] {
        let mut live = alerted_twice();
        live.happens("06 11:00", &decides("ann", Reading::KeepStopped, told_of(knew)));
        live.gave_from("06 11:00", lines);
    }
}

/// R23: whoever decides where the present standing is shown, decides on that.
#[test]
fn a_decision_that_answers_no_mail_is_about_the_newest_alert() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("ann", Reading::Seen, None));
    live.gave_from("06 11:00", "06 11:00 acknowledged ann");
}

/// R23: an alert that was decided belongs to its own stop, not to a later one of a clinician.
#[test]
fn a_late_resume_to_the_alert_of_an_earlier_stop_does_not_lift_a_clinicians_later_stop() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("ann", Reading::Resume, Some(Answered::Alert(alert(2)))));
    live.happens("06 11:10", &decides("ann", Reading::KeepStopped, None));
    live.happens("06 11:20", &decides("bob", Reading::Resume, Some(Answered::Alert(alert(2)))));
    live.until("06 12:00").gave_from("06 11:20", "06 11:20 set-aside bob overtaken");
    let answers = Some(Answered::Notice { told_of: None });
    let verdict = Verdict { step: Some(StepChoice::Step(1)), ..Verdict::bare(Reading::Resume) };
    let by = ClinicianId::new("bob").unwrap();
    live.happens("06 12:01", &Occasion::Decision { by, verdict, answers });
    live.gave_from("06 12:01", "06 12:01 resumed bob step 1");
}

/// R23: said to the alert that they kept, a clinician's later `resume` counts.
#[test]
fn a_resume_to_an_alert_that_was_kept_stopped_before_lifts_that_stop() {
    let mut live = alerted_twice();
    let second = Some(Answered::Alert(alert(2)));
    live.happens("06 11:00", &decides("ann", Reading::KeepStopped, second));
    live.happens("08 09:00", &decides("ann", Reading::Resume, second));
    live.gave_from("08 09:00", "08 09:00 resumed ann step 1");
}

/// R23: a stop is never too late, whatever it answers; a newer alert goes on beside it.
#[test]
fn keep_stopped_to_an_older_alert_stops_sitting_that_goes_on() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("ann", Reading::Resume, Some(Answered::Alert(alert(2)))));
    for contact in ["first", "second"] {
        live.happens("06 11:10", &crate::live::unreachable(contact));
    }
    live.happens(
        "06 11:20",
        &decides("bob", Reading::KeepStopped, Some(Answered::Alert(alert(1)))),
    );
    live.until("06 11:41").gave_from(
        "06 11:10",
        "06 11:10 alerted ann
         06 11:20 stopped clinician
         06 11:20 told-to-stop first
         06 11:20 told-to-stop second
         06 11:40 alerted ann again 1",
    );
    let by_bob = |event: &Event| matches!(event, Event::Stopped { by: Some(by), .. } if by.as_str() == "bob");
    assert!(live.events().any(by_bob), "the journal says who stopped");
}

/// R22, R23: an alert that is open is the newest, although sitting was stopped by hand since it was
/// raised: whoever answers it is heard.
#[test]
fn an_answer_to_the_open_alert_counts_though_sitting_was_stopped_since() {
    let mut live = alerted_twice();
    live.happens("06 11:00", &decides("ann", Reading::Resume, Some(Answered::Alert(alert(2)))));
    for contact in ["first", "second"] {
        live.happens("06 11:10", &crate::live::unreachable(contact));
    }
    live.happens(
        "06 11:20",
        &decides("bob", Reading::KeepStopped, Some(Answered::Alert(alert(1)))),
    );
    live.happens("06 11:30", &decides("ann", Reading::Seen, Some(Answered::Alert(alert(3)))));
    live.happens("06 11:31", &decides("ann", Reading::Resume, Some(Answered::Alert(alert(3)))));
    live.gave_from(
        "06 11:30",
        "06 11:30 acknowledged ann
         06 11:31 resumed ann step 1",
    );
}

/// R23: nor where the newer alert of the same stop was decided meanwhile.
#[test]
fn a_late_resume_to_an_older_alert_lifts_nothing_though_the_newer_was_decided() {
    let mut live = alerted_twice();
    let (first, second) = (Answered::Alert(alert(1)), Answered::Alert(alert(2)));
    live.happens("06 11:00", &decides("ann", Reading::KeepStopped, Some(second)));
    live.happens("06 11:10", &decides("bob", Reading::Resume, Some(first)));
    live.gave_from("06 11:10", "06 11:10 set-aside bob overtaken");
}
