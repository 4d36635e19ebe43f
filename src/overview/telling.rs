//! The journal in plain words, a sentence an entry.
//!
//! Never here: names of people (references only), mail to people (`notice`), the words for a reason
//! (`rehearsal::phrases` has them for timetable and journal alike).
//! Promises: the match names every event, so that a new one cannot be forgotten; what only keeps
//! the books is told apart from what a reader of the journal looks for.

use super::moments::{clock, moment, time_of_day};
use crate::care::{Finding, Minutes, Site};
use crate::config::hours_in_words;
use crate::follow_up::event::{
    AlertSending, LookKind, NoCreditReason, PauseReason, RequestClock, TellDetail, TellReason,
    WithdrawReason,
};
use crate::follow_up::{Calendar, Event, SittingNumber};
use crate::rehearsal::phrases;

/// Whether an event only keeps the books: another entry beside it says what happened.
pub(crate) fn keeps_the_books(event: &Event) -> bool {
    matches!(
        event,
        Event::LookPlanned { .. }
            | Event::LookMoved { .. }
            | Event::ReminderPutOff { .. }
            | Event::RoutineDue { .. }
            | Event::Found { .. }
            | Event::NotUnderstood { .. }
            | Event::SitesNamed { .. }
            | Event::MidnightPassed { .. }
    )
}

/// An event in plain words; times are by the client's clock.
pub(crate) fn told(event: &Event, zone: &Calendar) -> String {
    sittings(event, zone)
        .or_else(|| looks(event, zone))
        .or_else(|| credit(event))
        .or_else(|| by_staff(event))
        .unwrap_or_else(|| clinic(event, zone))
}

fn sittings(event: &Event, zone: &Calendar) -> Option<String> {
    Some(match event {
        Event::Sitting { sitting, step, minutes, to, .. } => {
            format!("sitting {sitting} begins, step {step}, {minutes}; announced to {to}")
        }
        Event::Started { sitting, start } => {
            format!("sitting {sitting} started at {}", clock(zone, *start))
        }
        Event::TakenUp { sitting, start, .. } => {
            format!("sitting {sitting} is taken up again, from {}", clock(zone, *start))
        }
        Event::Dropped { why, slot, .. } => {
            let why = phrases::drop_reason(*why);
            format!("the sitting of {} is dropped: {why}", time_of_day(slot.1))
        }
        Event::SittingEnded { sitting, cut_short } => {
            let how = if *cut_short { ", cut short" } else { "" };
            format!("sitting {sitting} ended by a mark{how}")
        }
        Event::Reopened { sitting, run } => {
            format!("sitting {sitting} is to be settled anew; run {run}")
        }
        _ => return None,
    })
}

fn looks(event: &Event, zone: &Calendar) -> Option<String> {
    Some(match event {
        Event::LookPlanned { look, kind, sitting, due, .. } => {
            let at = moment(zone, *due);
            format!("look {look} ({}) planned for {at}", named(*kind, *sitting))
        }
        Event::LookMoved { look, due } => format!("look {look} moved to {}", moment(zone, *due)),
        Event::ReminderPutOff { look, until } => {
            format!("the reminder of look {look} waits until {}", moment(zone, *until))
        }
        Event::LookWithdrawn { look, why } => {
            let why = match why {
                WithdrawReason::Mark => "a mark ended the sitting",
                WithdrawReason::Moved => "the start moved, it is asked anew",
                WithdrawReason::NoSitting => "no sitting",
                WithdrawReason::Stop => "sitting is stopped",
                WithdrawReason::Closed => "the follow-up has ended",
                WithdrawReason::Away => "the service was away, a later look is asked",
                WithdrawReason::Paused => "the follow-up pauses",
            };
            format!("look {look} withdrawn: {why}")
        }
        Event::RoutineDue { look, slot } => {
            format!("the routine look of {} comes up as look {look}", time_of_day(slot.1))
        }
        Event::RoutinePassed { slot } => {
            let at = time_of_day(slot.1);
            format!("the routine look of {at} passed while the service was away")
        }
        Event::Asked { look, kind, sitting, to, again, clock, .. } => {
            let how = match (clock, again) {
                (RequestClock::Unchanged, _) => ", since the answer was unclear".to_owned(),
                (_, 0) => String::new(),
                (_, again) => format!(", time {}", again + 1),
            };
            format!("{to} asked for look {look} ({}){how}", named(*kind, *sitting))
        }
        Event::Unasked { look, kind, sitting, by } => {
            format!("{by} reports unasked: look {look} ({})", named(*kind, *sitting))
        }
        Event::Answered { look, kind, sitting, by, reading, sites, minutes } => {
            let minutes = minutes.map(|m| format!(", {m}")).unwrap_or_default();
            let (sites, kind) = (at_sites(sites), named(*kind, *sitting));
            format!("{by} answers look {look} ({kind}): {reading}{sites}{minutes}")
        }
        Event::Found { look, found, .. } => {
            let fade = found.fade.map(|fade| format!(", gone after {fade}")).unwrap_or_default();
            format!("look {look} stands as {}{fade}", finding(found.finding))
        }
        Event::NotUnderstood { look } => format!("words about look {look} could not be read"),
        Event::SitesNamed { sitting, sites } => {
            format!("noted for sitting {sitting}: a mark{}", at_sites(sites))
        }
        Event::Missed { look, kind, sitting } => {
            format!("look {look} ({}) missed: no answer in time", named(*kind, *sitting))
        }
        _ => return None,
    })
}

fn credit(event: &Event) -> Option<String> {
    let faded = |fade: &Option<Minutes>| {
        let fade = fade.filter(|fade| *fade > Minutes::ZERO);
        fade.map(|fade| format!(", mark gone after {fade}")).unwrap_or_default()
    };
    Some(match event {
        Event::Credit { sitting, run, fade } => {
            format!("sitting {sitting} earns credit{}; run {run}", faded(fade))
        }
        Event::NoCredit { sitting, why, fade } => {
            let why = match why {
                NoCreditReason::NoSitting => "it did not take place",
                NoCreditReason::Missed => "a look was missed",
                NoCreditReason::SlowFade => "a mark faded slowly",
                NoCreditReason::CutShort => "it was cut short",
            };
            format!("sitting {sitting} earns no credit: {why}{}", faded(fade))
        }
        Event::RunBroken => "slow fade at a routine look: the run starts again".to_owned(),
        Event::Suspended => "sitting is suspended until somebody looks and answers".to_owned(),
        Event::Unsuspended => "the suspension is lifted".to_owned(),
        Event::Advanced { step, .. } => format!("advances to step {step}"),
        Event::Held { step, expect_tenths, .. } => {
            let expect = phrases::one_decimal(*expect_tenths);
            format!("held on step {step}: the next would take {expect}min to fade")
        }
        Event::Routine { .. } => "the routine phase begins".to_owned(),
        Event::MidnightPassed { .. } => {
            "midnight decides nothing: something is unsettled".to_owned()
        }
        Event::Review { day } => format!("review due: day {day} of the routine phase"),
        _ => return None,
    })
}

fn by_staff(event: &Event) -> Option<String> {
    Some(match event {
        Event::Acknowledged { by, alert: Some(alert) } => format!("{by} takes alert {alert} up"),
        Event::Acknowledged { by, alert: None } => format!("{by} takes the alert up"),
        Event::Resumed { by, step } => format!("{by} lets sitting begin again, at step {step}"),
        Event::KeptStopped { by } => format!("{by} keeps sitting stopped"),
        Event::Closed { by } => format!("{by} closes the follow-up"),
        Event::PlanAdopted { by, plan, step, .. } => {
            let at =
                step.map_or("in the routine phase".to_owned(), |step| format!("on step {step}"));
            format!("{by} adopts plan version {plan}, {at}; the run starts again")
        }
        Event::Paused { by, why } => {
            let why = match why {
                PauseReason::Hospital => ": hospital",
                PauseReason::Holiday => ": holiday",
                PauseReason::Other => "",
            };
            format!("{by} pauses the follow-up{why}")
        }
        Event::Unpaused { by, step } => {
            let at = step.map(|step| format!(", at step {step}")).unwrap_or_default();
            format!("{by} ends the pause{at}")
        }
        Event::Enrolled { terms, .. } => format!(
            "enrolled at risk level {}, plan version {}; begins {}; asked are {}",
            terms.risk,
            terms.plan,
            terms.begins,
            list(&terms.contacts)
        ),
        _ => return None,
    })
}

fn clinic(event: &Event, zone: &Calendar) -> String {
    match event {
        Event::Stopped { why, sites, step, .. } => {
            let why = phrases::stop_reason(*why);
            format!("STOPPED on step {step}: {why}{}", at_sites(sites))
        }
        Event::ToldToStop { to } => format!("{to} told: off the seat"),
        Event::Alerted { alert, cause, sending, to, .. } => {
            let cause = phrases::alert_cause(*cause);
            match sending {
                AlertSending::Raised => format!("alert {alert} raised to {to}: {cause}"),
                AlertSending::Repeated => format!("alert {alert} sent again to {to}"),
                AlertSending::PassedOn => format!("alert {alert} passed on to {to}"),
                AlertSending::BroughtBack => {
                    format!("alert {alert} brought back to {to}: not decided")
                }
                AlertSending::Shown => {
                    format!("alert {alert} shown to {to}, who answered an earlier one")
                }
            }
        }
        Event::ClinicTold { why, to, detail } => format!("{to} told: {}", told_why(*why, detail)),
        Event::SetAside { by, why } => {
            format!("set aside, from {by}: {}", phrases::aside_reason(*why))
        }
        Event::Fitted { version, date, in_spite_of } => {
            let spite = in_spite_of
                .as_ref()
                .map_or(String::new(), |by| format!("; not ready, begun by decision of {by}"));
            format!("the fitting of {date}, version {version}, is tested from now on{spite}")
        }
        Event::Unreachable { contact } => format!("mail does not reach {contact}"),
        Event::ContactsChanged { contacts, .. } => format!("asked from now on: {}", list(contacts)),
        Event::HoursSaid { contact, hours } => {
            format!("{contact} is asked from now on: {}", hours_in_words(hours))
        }
        Event::Awoke { away_since } => {
            format!("the service is back; away since {}", moment(zone, *away_since))
        }
        Event::ClockSetBack { instead_of } => {
            let before = moment(zone, *instead_of);
            format!("the machine's clock was set back; it would show {before}")
        }
        // The other functions of this file have these.
        Event::Sitting { .. }
        | Event::Started { .. }
        | Event::TakenUp { .. }
        | Event::Dropped { .. }
        | Event::SittingEnded { .. }
        | Event::Reopened { .. }
        | Event::LookPlanned { .. }
        | Event::LookMoved { .. }
        | Event::ReminderPutOff { .. }
        | Event::LookWithdrawn { .. }
        | Event::RoutineDue { .. }
        | Event::RoutinePassed { .. }
        | Event::Asked { .. }
        | Event::Unasked { .. }
        | Event::Answered { .. }
        | Event::Found { .. }
        | Event::NotUnderstood { .. }
        | Event::SitesNamed { .. }
        | Event::Missed { .. }
        | Event::Credit { .. }
        | Event::NoCredit { .. }
        | Event::RunBroken
        | Event::Suspended
        | Event::Unsuspended
        | Event::Advanced { .. }
        | Event::Held { .. }
        | Event::Routine { .. }
        | Event::MidnightPassed { .. }
        | Event::Review { .. }
        | Event::Acknowledged { .. }
        | Event::Resumed { .. }
        | Event::KeptStopped { .. }
        | Event::Closed { .. }
        | Event::PlanAdopted { .. }
        | Event::Paused { .. }
        | Event::Unpaused { .. }
        | Event::Enrolled { .. } => unreachable!("told above"),
    }
}

fn told_why(why: TellReason, detail: &TellDetail) -> String {
    let what = phrases::tell_reason(why);
    match detail {
        TellDetail::Nothing => what.to_owned(),
        TellDetail::Look { look } => format!("{what} (look {look})"),
        TellDetail::Announcement { sitting } => format!("{what} (sitting {sitting})"),
        TellDetail::RepeatedSites { sites, .. } => format!("{what}:{}", at_sites(sites)),
        TellDetail::Projection { expect_tenths, at_sit } => {
            format!("{what} ({}min at {at_sit})", phrases::one_decimal(*expect_tenths))
        }
        TellDetail::Trend { points, s, p_millionths } => {
            format!("{what} ({points} sittings, S = {s}, p = 0.{p_millionths:06})")
        }
    }
}

/// `first look, sitting 3`, `recheck`, `routine look`.
pub(crate) fn named(kind: LookKind, sitting: Option<SittingNumber>) -> String {
    let kind = match kind {
        LookKind::First => "first look",
        LookKind::Recheck => "recheck",
        LookKind::Routine => "routine look",
    };
    sitting.map_or_else(|| kind.to_owned(), |sitting| format!("{kind}, sitting {sitting}"))
}

/// A finding in words.
pub(crate) fn finding(finding: Finding) -> &'static str {
    match finding {
        Finding::Clear => "clear",
        Finding::Faded => "faded",
        Finding::Marked => "marked",
        Finding::Persisting => "persisting",
        Finding::Alarming => "alarming",
    }
}

/// ` at ischium-left, coccyx`, or nothing.
pub(crate) fn at_sites(sites: &[Site]) -> String {
    if sites.is_empty() { String::new() } else { format!(" at {}", list(sites)) }
}

fn list<T: ToString>(items: &[T]) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}
