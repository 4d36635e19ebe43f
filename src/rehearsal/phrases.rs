//! Phrases that depend on nothing but themselves: those of a timetable, and the reasons that the
//! journal on the command line gives in the same words.
//!
//! Never here: names of people, the plan, the rules.
//! Promises: each kind of thing has its phrase; a new kind cannot be forgotten.

use chrono::NaiveTime;

use crate::care::{Minutes, Reading};
use crate::follow_up::event::{
    AlertCause, AlertSending, AsideReason, DropReason, LookKind, NoCreditReason, StopReason,
    TellReason,
};
use crate::follow_up::{SittingNumber, StepNumber, Terms};

pub(super) fn enrolled(terms: &Terms) -> String {
    format!("Enrolled at risk level {}; begins on {}", terms.risk, terms.begins.format("%-d %B"))
}

pub(super) fn started(sitting: SittingNumber, at: &str, words: Option<&str>) -> String {
    let said = words.map_or_else(String::new, |words| format!("“{}” → ", few(words)));
    format!("{said}Sitting {sitting} began at {at}")
}

pub(super) fn dropped(why: DropReason, planned: NaiveTime) -> String {
    format!("No sitting at {}: {}", planned.format("%H:%M"), drop_reason(why))
}

pub(crate) fn drop_reason(why: DropReason) -> &'static str {
    match why {
        DropReason::Unsettled => "something is still unsettled",
        DropReason::Resting => "the skin rests after a mark",
        DropReason::Away => "the service was away",
    }
}

pub(super) fn ended(sitting: SittingNumber, cut_short: bool) -> String {
    let how = if cut_short { " before its time" } else { "" };
    format!("The mark ends sitting {sitting}{how}")
}

pub(super) fn passed(planned: NaiveTime) -> String {
    format!("The check of {} was not asked: the service was away", planned.format("%H:%M"))
}

pub(super) fn held(step: StepNumber, expect_tenths: i64) -> String {
    let expect = one_decimal(expect_tenths);
    format!(
        "Held on step {step}: on the next a mark is expected to last {expect} min; the count \
         starts again"
    )
}

pub(super) fn awoke(since: &str) -> String {
    format!("The service was away since {since}")
}

pub(crate) fn one_decimal(tenths: i64) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

/// The most of a reply's words that a line repeats, in characters.
const WORDS_CHARS_MAX: usize = 60;

/// The beginning of somebody's words, on one line.
pub(super) fn few(words: &str) -> String {
    let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
    match line.char_indices().nth(WORDS_CHARS_MAX) {
        Some((end, _)) => {
            let cut = line[..end].rfind(' ').unwrap_or(end);
            format!("{} …", &line[..cut])
        }
        None => line,
    }
}

/// A duration as people write it.
pub(super) fn duration(minutes: Minutes) -> String {
    match (minutes.count() / 60, minutes.count() % 60) {
        (0, rest) => format!("{rest} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest} min"),
    }
}

pub(super) fn look_name(kind: LookKind, sitting: Option<SittingNumber>) -> String {
    match (kind, sitting) {
        (LookKind::First, Some(number)) => format!("look of sitting {number}"),
        (LookKind::First, None) => "look".to_owned(),
        (LookKind::Recheck, _) => "second look at the mark".to_owned(),
        (LookKind::Routine, _) => "routine check".to_owned(),
    }
}

pub(super) fn reading_words(reading: Reading) -> &'static str {
    match reading {
        Reading::Clear => "no marks",
        Reading::Marked => "a mark",
        Reading::Faded => "a mark that has gone",
        Reading::Persisting => "a mark that lasts",
        Reading::Alarming => "a sign for a clinician to see at once",
        Reading::NotLooked => "not looked yet",
        Reading::NoSitting => "no sitting took place",
        Reading::Started => "started",
        Reading::Unclear => "not safely understood",
        Reading::Automatic => "an automatic answer",
        Reading::Seen => "seen",
        Reading::Resume => "sitting may begin again",
        Reading::KeepStopped => "keep stopped",
        Reading::Close => "close",
    }
}

pub(super) fn no_credit(sitting: SittingNumber, why: NoCreditReason) -> String {
    match why {
        NoCreditReason::NoSitting => {
            format!("Sitting {sitting} did not take place; the count stands")
        }
        NoCreditReason::Missed => {
            format!("Sitting {sitting} does not count: a look was missed; the count starts again")
        }
        NoCreditReason::SlowFade => {
            format!("Sitting {sitting} does not count: a slow fade; the count starts again")
        }
        NoCreditReason::CutShort => {
            format!("Sitting {sitting} does not count: cut short by a mark; the count starts again")
        }
    }
}

pub(crate) fn stop_reason(why: StopReason) -> &'static str {
    match why {
        StopReason::Persisting => "a mark has lasted",
        StopReason::Alarming => "an alarming sign",
        StopReason::RecheckUnreported => "nobody reported whether the mark has gone",
        StopReason::Clinician => "a clinician's decision",
    }
}

pub(super) fn alerted(to: &str, cause: AlertCause, sending: AlertSending) -> String {
    let about = alert_cause(cause);
    match sending {
        AlertSending::Raised => format!("ALERT to {to}: {about}; please take it up"),
        AlertSending::Repeated => format!("ALERT to {to} again: nobody has taken it up"),
        AlertSending::PassedOn => format!("ALERT passed on to {to}: nobody has taken it up"),
        AlertSending::BroughtBack => format!("ALERT to {to} again: taken up, but not decided"),
        AlertSending::Shown => format!("ALERT shown to {to}, who answered an earlier one"),
    }
}

pub(crate) fn alert_cause(cause: AlertCause) -> &'static str {
    match cause {
        AlertCause::Stop => "sitting is stopped",
        AlertCause::AlarmingAgain => "an alarming sign while stopped",
        AlertCause::NobodyReachable => "nobody can be reached",
    }
}

pub(crate) fn tell_reason(why: TellReason) -> &'static str {
    match why {
        TellReason::Missed => "a look was not answered",
        TellReason::Unclear => "an answer could not be read safely",
        TellReason::RepeatMarks => "the same place marked again",
        TellReason::Rising => "fade times are rising",
        TellReason::Projection => "held on the step by the projected fade time",
        TellReason::Correction => "a report was corrected toward better",
        TellReason::LateReport => "a late report",
        TellReason::Suspended => "sitting is suspended",
    }
}

pub(crate) fn aside_reason(why: AsideReason) -> &'static str {
    match why {
        AsideReason::NotAsked => "nobody had asked for it",
        AsideReason::NoOpenAlert => "no alert is open",
        AsideReason::NothingStopped => "sitting is not stopped",
        AsideReason::NoSuchStep => "the plan has no such step",
        AsideReason::DoesNotFit => "it is not an answer that fits here",
        AsideReason::Closed => "the follow-up has ended",
        AsideReason::Overtaken => "it answers an earlier alert, and there is a newer alert or stop",
    }
}
