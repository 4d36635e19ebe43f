//! Every notice at one invented moment each, and their texts as snapshots.
//!
//! Never here: checks of form (`form`).
//! Promises: every kind of notice is among the moments.

use std::sync::Arc;

use chrono::NaiveDate;
use fadewatch::care::{ClientRef, Finding, Minutes, Reading, Verdict};
use fadewatch::follow_up::event::{
    AlertCause, AlertSending, AsideReason, LookKind, NoCreditReason, PauseReason, RequestClock,
    StopReason, TellDetail, TellReason,
};
use fadewatch::follow_up::state::{Alert, Phase, Standing};
use fadewatch::follow_up::{Entry, Event, LookId, Noticed, SittingNumber, State, StepNumber};
use fadewatch::notice::{
    Backdrop, DayCalendar, Desk, DueMeanwhile, Languages, Notice, Picture, Recipient, Said,
    Standings, UnreadMail, UnreadReason, for_event, for_reply,
};

use crate::fixture::*;

/// A notice with the moment that it belongs to.
pub struct Moment {
    pub name: &'static str,
    pub recipient: Option<Recipient>,
    pub notice: Notice,
}

/// The notices of one event; the name says what led to it.
fn told(
    people: &People,
    name: &'static str,
    state: &State,
    when: &str,
    event: Event,
    backdrop: &Backdrop<'_>,
) -> Vec<Moment> {
    let entry = Entry { at: at(when), event };
    let notices = for_event(&entry, state, &plan(), &people.setting(), backdrop);
    notices
        .into_iter()
        .map(|(recipient, draft)| Moment {
            name,
            recipient: Some(recipient),
            notice: draft.addressed(REPLY_ADDRESS),
        })
        .collect()
}

fn asked(look: LookId, kind: LookKind, to: &str, again: u32, clock: RequestClock) -> Event {
    let sitting = (kind != LookKind::Routine).then_some(SittingNumber::new(1));
    Event::Asked { look, kind, sitting, to: contact_id(to), again, clock }
}

fn first_clock() -> RequestClock {
    RequestClock::First { wait_until: Some(at("6T10:35")), over_at: at("6T12:15") }
}

fn again_clock() -> RequestClock {
    RequestClock::Again { wait_until: Some(at("6T10:55")), repeats: 1 }
}

fn sitting(offsets: &[u32]) -> Event {
    Event::Sitting {
        sitting: SittingNumber::new(3),
        step: StepNumber::new(if offsets.len() > 1 { 4 } else { 2 }),
        minutes: Minutes::new(*offsets.last().unwrap()),
        start: at("6T10:00"),
        slot: (NaiveDate::from_ymd_opt(2026, 3, 6).unwrap(), "10:00:00".parse().unwrap()),
        to: contact_id("first"),
        offsets: offsets.iter().map(|offset| Minutes::new(*offset)).collect(),
    }
}

/// Requests and announcements.
pub fn requests(people: &People) -> Vec<Moment> {
    let bare = Backdrop::default();
    let mut all = Vec::new();
    let mut tell = |name, state: &State, when, event, backdrop: &Backdrop<'_>| {
        all.extend(told(people, name, state, when, event, backdrop));
    };
    tell("a sitting begins", &state(2), "6T10:00", sitting(&[30]), &bare);
    tell("a sitting with looks inside begins", &state(4), "6T10:00", sitting(&[30, 60, 90]), &bare);

    let mut first = state(1);
    let look = sit(&mut first, "6T10:00", 15);
    ask(&mut first, look, "first", "6T10:15");
    let event = asked(look, LookKind::First, "first", 0, first_clock());
    tell("first look at the end", &first, "6T10:15", event, &bare);
    let event = asked(look, LookKind::First, "first", 0, RequestClock::Unchanged);
    let said = Said { who: Some("Ana Ruiz"), at: at("6T10:20"), words: "ok i guess, bit odd" };
    let words = Backdrop { said: Some(said), ..Backdrop::default() };
    tell("first look, words unclear", &first, "6T10:20", event, &words);
    ask(&mut first, look, "first", "6T10:35");
    let event = asked(look, LookKind::First, "first", 1, again_clock());
    tell("first look asked again", &first, "6T10:35", event, &bare);
    ask(&mut first, look, "second", "6T11:15");
    let event = asked(look, LookKind::First, "second", 0, again_clock());
    tell("first look, next contact", &first, "6T11:15", event.clone(), &bare);
    first.unreachable.insert(contact_id("first"));
    tell("first look, contact unreachable", &first, "6T11:15", event, &bare);

    let mut inside = state(4);
    let look = sit_with_looks(&mut inside, "6T10:00", &[30, 60, 90])[0];
    ask(&mut inside, look, "first", "6T10:30");
    let event = asked(look, LookKind::First, "first", 0, first_clock());
    tell("first look inside a sitting", &inside, "6T10:30", event, &bare);

    let mut marked = state(1);
    let look = sit(&mut marked, "6T10:00", 15);
    find(&mut marked, look, Finding::Marked, None, &["ischium-left"]);
    let again = recheck(&mut marked, look);
    ask(&mut marked, again, "first", "6T10:48");
    let event = asked(again, LookKind::Recheck, "first", 0, first_clock());
    tell("recheck", &marked, "6T10:48", event, &bare);
    let event = asked(again, LookKind::Recheck, "first", 0, RequestClock::Unchanged);
    tell("recheck, words unclear", &marked, "6T10:52", event, &words);
    let mut unplaced = state(1);
    let look = sit(&mut unplaced, "6T10:00", 15);
    find(&mut unplaced, look, Finding::Marked, None, &[]);
    let again = recheck(&mut unplaced, look);
    ask(&mut unplaced, again, "first", "6T10:48");
    let event = asked(again, LookKind::Recheck, "first", 0, first_clock());
    tell("recheck, place not named", &unplaced, "6T10:48", event, &bare);

    let mut routine = state(4);
    let look = routine_look(&mut routine, "6T08:00");
    ask(&mut routine, look, "first", "6T08:00");
    let event = asked(look, LookKind::Routine, "first", 0, first_clock());
    tell("routine look", &routine, "6T08:00", event, &bare);
    all
}

fn stop_entry(why: StopReason, sites: &[&str]) -> Entry {
    let sites = sites.iter().map(|id| site(id)).collect();
    let event = Event::Stopped { why, sites, step: StepNumber::new(4), look: None, by: None };
    Entry { at: at("9T17:36"), event }
}

/// How things stand, to the contacts.
pub fn standings(people: &People) -> Vec<Moment> {
    let bare = Backdrop::default();
    let mut all = Vec::new();
    let mut tell = |name, state: &State, when, event, backdrop: &Backdrop<'_>| {
        let moments = told(people, name, state, when, event, backdrop);
        all.extend(moments.into_iter().take(1));
    };
    for (name, why, sites) in [
        ("stop: a mark lasts", StopReason::Persisting, &["ischium-left"][..]),
        ("stop: alarming sign", StopReason::Alarming, &["heel-left", "heel-right", "sacrum"]),
        ("stop: recheck unreported", StopReason::RecheckUnreported, &[]),
        ("stop: by a clinician", StopReason::Clinician, &[]),
    ] {
        let stop = stop_entry(why, sites);
        let backdrop = Backdrop { stop: Some(&stop), ..Backdrop::default() };
        let event = Event::ToldToStop { to: contact_id("first") };
        tell(name, &stopped(), "9T17:36", event, &backdrop);
    }
    let by = clinician_id("lee");
    let mut open = stopped();
    (open.standing, open.alert) = (Standing::Open, None);
    let resumed = Event::Resumed { by: by.clone(), step: StepNumber::new(2) };
    open.phase = Phase::BuildUp { step: StepNumber::new(2) };
    tell("resumed", &open, "9T18:10", resumed, &bare);
    let mut closed = open.clone();
    closed.standing = Standing::Closed;
    tell("closed", &closed, "9T18:10", Event::Closed { by: by.clone() }, &bare);
    let mut suspended = open.clone();
    (suspended.standing, suspended.missed_in_a_row) = (Standing::Suspended, 2);
    tell("suspended", &suspended, "9T18:10", Event::Suspended, &bare);
    tell("unsuspended", &open, "9T18:10", Event::Unsuspended, &bare);
    let mut paused = open.clone();
    let why = PauseReason::Hospital;
    paused.standing = Standing::Paused { since: at("9T18:10"), why };
    tell("paused", &paused, "9T18:10", Event::Paused { by: by.clone(), why }, &bare);
    tell("pause over", &open, "9T18:10", Event::Unpaused { by, step: None }, &bare);
    let date = NaiveDate::from_ymd_opt(2026, 3, 10).unwrap();
    tell("routine phase", &open, "10T00:00", Event::Routine { date }, &bare);
    all
}

/// Confirmations to the one who replied.
pub fn confirmations(people: &People) -> Vec<Moment> {
    let mut marked = state(1);
    let look = sit(&mut marked, "6T10:00", 15);
    find(&mut marked, look, Finding::Marked, None, &["ischium-left"]);
    let found = Event::Found { look, found: marked.look(look).found.clone().unwrap(), gone: false };
    let planned = |due| Event::LookPlanned {
        look: LookId::new(2),
        kind: LookKind::Recheck,
        sitting: Some(SittingNumber::new(1)),
        of: Some(look),
        due: at(due),
    };
    let mut open = state(1);
    let open_look = sit(&mut open, "6T10:00", 15);
    ask(&mut open, open_look, "first", "6T10:15");
    let verdict = |reading, sites: &[&str], minutes: Option<u32>| Verdict {
        sites: sites.iter().map(|id| site(id)).collect(),
        minutes: minutes.map(Minutes::new),
        ..Verdict::bare(reading)
    };
    let stop = stop_entry(StopReason::Alarming, &["sacrum"]).event;
    let number = SittingNumber::new(1);
    let cancelled = Event::NoCredit { sitting: number, why: NoCreditReason::NoSitting, fade: None };
    let started = Event::Started { sitting: number, start: at("6T10:05") };
    let late = Event::ClinicTold {
        why: TellReason::LateReport,
        to: clinician_id("lee"),
        detail: TellDetail::Look { look },
    };
    let left = ["ischium-left"];
    let cases = [
        ("noted clear", &open, verdict(Reading::Clear, &[], None), vec![]),
        ("noted faded", &open, verdict(Reading::Faded, &left, None), vec![]),
        ("noted faded after", &open, verdict(Reading::Faded, &left, Some(20)), vec![]),
        (
            "noted marked",
            &marked,
            verdict(Reading::Marked, &left, None),
            vec![found.clone(), planned("6T10:48")],
        ),
        (
            "noted marked, recheck at once",
            &marked,
            verdict(Reading::Marked, &left, None),
            vec![found.clone(), planned("6T10:20")],
        ),
        ("noted marked late", &marked, verdict(Reading::Marked, &[], None), vec![found, late]),
        ("noted persisting", &open, verdict(Reading::Persisting, &[], None), vec![stop.clone()]),
        ("noted alarming", &open, verdict(Reading::Alarming, &["sacrum"], None), vec![stop]),
        ("noted not looked", &open, verdict(Reading::NotLooked, &[], None), vec![]),
        ("noted no sitting", &open, verdict(Reading::NoSitting, &[], None), vec![cancelled]),
        ("noted started", &open, verdict(Reading::Started, &[], None), vec![started]),
    ];
    cases
        .into_iter()
        .map(|(name, state, verdict, events)| {
            let at = at("6T10:21");
            let entries: Vec<_> = events.into_iter().map(|event| Entry { at, event }).collect();
            let by = contact_id("first");
            let (recipient, draft) =
                for_reply(at, &by, &verdict, &entries, state, &plan(), &people.setting()).unwrap();
            let notice = draft.addressed(REPLY_ADDRESS);
            Moment { name, recipient: Some(recipient), notice }
        })
        .collect()
}

/// Alerts to clinicians.
pub fn alerts(people: &People) -> Vec<Moment> {
    let stop = stop_entry(StopReason::Persisting, &["ischium-left"]);
    let said = Said {
        who: Some("Ana Ruiz"),
        at: at("9T17:36"),
        words: "still there, darker than before\nand warm",
    };
    let full = Backdrop {
        stop: Some(&stop),
        said: Some(said),
        pictures: vec![Picture {
            content_id: "course@a7".to_owned(),
            described: "sitting minutes and fade times".to_owned(),
            png: Arc::from(&b"PNG"[..]),
        }],
        fitting: vec!["Fitted 4 March".to_owned(), "Clearance left 16 mm, right 12 mm".to_owned()],
        guide: vec!["Clearance under the left sit bone".to_owned(), "Position".to_owned()],
    };
    let mut all = Vec::new();
    let mut tell = |name, state: &State, when, event, backdrop: &Backdrop<'_>| {
        all.extend(told(people, name, state, when, event, backdrop));
    };
    let raised = alerted(AlertCause::Stop, AlertSending::Raised, "lee");
    tell("alert: a mark lasts", &stopped(), "9T17:36", raised.clone(), &full);
    for (name, why) in [
        ("alert: alarming sign", StopReason::Alarming),
        ("alert: recheck unreported", StopReason::RecheckUnreported),
    ] {
        let stop = stop_entry(why, &["sacrum"]);
        let backdrop = Backdrop { stop: Some(&stop), ..Backdrop::default() };
        tell(name, &stopped(), "9T17:36", raised.clone(), &backdrop);
    }
    let less = Backdrop { stop: Some(&stop), ..Backdrop::default() };
    let repeated = alerted(AlertCause::Stop, AlertSending::Repeated, "lee");
    tell("alert repeated", &stopped(), "9T18:06", repeated, &less);
    let mut passed = stopped();
    passed.alert.as_mut().unwrap().sent.insert(clinician_id("marsh"), 1);
    let passed_on = alerted(AlertCause::Stop, AlertSending::PassedOn, "marsh");
    tell("alert passed on", &passed, "9T18:36", passed_on, &less);
    let mut taken = stopped();
    taken.alert.as_mut().unwrap().acknowledged = Some((clinician_id("lee"), at("9T18:00")));
    let back = alerted(AlertCause::Stop, AlertSending::BroughtBack, "lee");
    tell("alert brought back", &taken, "10T08:00", back, &less);
    let late = Said { who: None, at: at("9T18:10"), words: "Seen, thanks" };
    let late = Backdrop { said: Some(late), ..less.clone() };
    let shown = alerted(AlertCause::Stop, AlertSending::Shown, "lee");
    tell("alert shown to who answered an earlier one", &stopped(), "9T18:10", shown.clone(), &late);
    tell("alert shown, taken up by another", &taken, "9T18:10", shown, &late);
    let again = alerted(AlertCause::AlarmingAgain, AlertSending::Raised, "lee");
    tell("alert: alarming again", &stopped(), "10T09:00", again, &Backdrop::default());
    let mut unreached = state(1);
    unreached.alert = Some(Alert { cause: AlertCause::NobodyReachable, ..taken.alert.unwrap() });
    let nobody = alerted(AlertCause::NobodyReachable, AlertSending::Raised, "lee");
    tell("alert: nobody reachable", &unreached, "9T17:36", nobody, &Backdrop::default());
    all
}

/// What clinicians are told beside alerts.
pub fn told_to_clinicians(people: &People) -> Vec<Moment> {
    let mut open = stopped();
    (open.standing, open.alert) = (Standing::Open, None);
    open.missed_in_a_row = 2;
    let said = Said { who: Some("Ana Ruiz"), at: at("9T17:30"), words: "Hmm not sure <b>" };
    let words = Backdrop { said: Some(said), ..Backdrop::default() };
    let bare = Backdrop::default();
    let look = |id| TellDetail::Look { look: LookId::new(id) };
    let sites = TellDetail::RepeatedSites {
        sitting: SittingNumber::new(6),
        sites: vec![site("ischium-left")],
    };
    let trend = TellDetail::Trend { points: 5, s: 8, p_millionths: 41_667 };
    let projection = TellDetail::Projection { expect_tenths: 325, at_sit: Minutes::new(90) };
    let announcement = TellDetail::Announcement { sitting: SittingNumber::new(6) };
    let is_stopped = stopped();
    let cases = [
        ("told: missed", &open, TellReason::Missed, look(3), &bare),
        ("told: unclear", &open, TellReason::Unclear, look(7), &words),
        ("told: unclear start", &open, TellReason::Unclear, announcement, &words),
        ("told: repeated marks", &open, TellReason::RepeatMarks, sites, &bare),
        ("told: rising", &open, TellReason::Rising, trend, &bare),
        ("told: projection", &open, TellReason::Projection, projection, &bare),
        ("told: correction", &open, TellReason::Correction, look(2), &words),
        ("told: late report", &open, TellReason::LateReport, look(2), &words),
        ("told: late report while stopped", &is_stopped, TellReason::LateReport, look(8), &words),
        ("told: suspended", &open, TellReason::Suspended, TellDetail::Nothing, &bare),
    ];
    let mut all = Vec::new();
    for (name, state, why, detail, backdrop) in cases {
        let event = Event::ClinicTold { why, to: clinician_id("lee"), detail };
        all.extend(told(people, name, state, "9T17:36", event, backdrop));
    }
    all
}

/// To clinicians about their own answers, and about what was set aside.
pub fn decisions(people: &People) -> Vec<Moment> {
    let by = clinician_id("lee");
    let said = Said { who: None, at: at("9T18:00"), words: "Resume at step 9" };
    let words = Backdrop { said: Some(said), ..Backdrop::default() };
    let mut taken = stopped();
    taken.alert.as_mut().unwrap().acknowledged = Some((by.clone(), at("9T18:00")));
    let mut open = stopped();
    (open.standing, open.alert) = (Standing::Open, None);
    open.unreachable.insert(contact_id("first"));
    let aside = |by: &str, why| Event::SetAside { by: by.to_owned(), why };
    let cases = [
        ("decided: seen", &taken, Event::Acknowledged { by: by.clone(), alert: None }),
        ("decided: resumed", &open, Event::Resumed { by: by.clone(), step: StepNumber::new(2) }),
        ("decided: kept stopped", &taken, Event::KeptStopped { by: by.clone() }),
        ("decided: closed", &open, Event::Closed { by }),
        ("review due", &open, Event::Review { day: 7 }),
        ("set aside: no such step", &taken, aside("lee", AsideReason::NoSuchStep)),
        ("set aside: not asked", &open, aside("second", AsideReason::NotAsked)),
        ("set aside: overtaken", &taken, aside("lee", AsideReason::Overtaken)),
        ("contact unreachable", &open, Event::Unreachable { contact: contact_id("first") }),
    ];
    let mut all = Vec::new();
    for (name, state, event) in cases {
        let moments = told(people, name, state, "9T18:00", event, &words);
        let is_clinicians =
            |moment: &Moment| !matches!(moment.recipient, Some(Recipient::Contact(_)));
        all.extend(moments.into_iter().filter(is_clinicians));
    }
    all
}

/// About the clinic as a whole.
pub fn desk(people: &People, language: &str) -> Vec<Moment> {
    let zone = zone();
    let desk = Desk { languages: &people.languages, language, zone: &zone, now: at("9T08:00") };
    let client = |id: &str| ClientRef::new(id).unwrap();
    let mail = UnreadMail {
        why: UnreadReason::UnknownSender,
        came_at: at("9T07:58"),
        sender: Some("someone@elsewhere.example"),
        words: Some("No marks on Sam today"),
    };
    let due = [
        DueMeanwhile { client: client("A7"), looks: 2, sittings: 1 },
        DueMeanwhile { client: client("B2"), looks: 0, sittings: 0 },
        DueMeanwhile { client: client("C4"), looks: 1, sittings: 0 },
    ];
    let calm = Standings { follow_ups: 1, ..Standings::default() };
    let busy = Standings {
        follow_ups: 12,
        stopped: vec![(client("E1"), at("8T12:40"))],
        suspended: vec![client("B2"), client("D9")],
        overdue: vec![(client("A7"), at("9T07:15")), (client("C4"), at("8T20:00"))],
    };
    let problems = ["two-week.toml:7:14: `sit` is longer than a day".to_owned()];
    [
        ("mail set aside", desk.mail_set_aside(&mail)),
        ("service away", desk.service_was_away(at("6T21:30"), &due)),
        ("service away, nothing due", desk.service_was_away(at("9T07:10"), &[])),
        ("clock set back", desk.clock_was_set_back(at("9T10:00"), Noticed::AtOnce)),
        ("clock set back, unseen", desk.clock_was_set_back(at("9T10:00"), Noticed::AtStart)),
        ("plan with problems", desk.plan_has_problems("two-week.toml", &problems)),
        ("daily report, calm", desk.still_alive(&calm, DayCalendar::Nothing)),
        ("daily report, busy", desk.still_alive(&busy, DayCalendar::File(String::new()))),
        ("daily report, crowded", desk.still_alive(&calm, DayCalendar::TooLong)),
        ("trial message", desk.trial("Riverside Seating Clinic")),
        ("trial message to itself", desk.trial_to_itself("Riverside Seating Clinic")),
    ]
    .into_iter()
    .map(|(name, draft)| Moment { name, recipient: None, notice: draft.addressed(REPLY_ADDRESS) })
    .collect()
}

/// Everything that contacts get.
pub fn to_contacts(people: &People) -> Vec<Moment> {
    [requests(people), standings(people), confirmations(people)].into_iter().flatten().collect()
}

/// Everything that clinicians get.
pub fn to_clinicians(people: &People, language: &str) -> Vec<Moment> {
    [alerts(people), told_to_clinicians(people), decisions(people), desk(people, language)]
        .into_iter()
        .flatten()
        .collect()
}

pub fn shown(moments: &[Moment]) -> String {
    let mut out = String::new();
    for Moment { name, recipient, notice } in moments {
        let to = match recipient {
            Some(Recipient::Contact(id)) => format!("contact {id}"),
            Some(Recipient::Clinician(id)) => format!("clinician {id}"),
            Some(Recipient::OnCover) | None => "on cover".to_owned(),
        };
        out.push_str(&format!("==== {name} → {to}\nSubject: {}\n\n", notice.subject));
        out.push_str(&notice.text);
        out.push('\n');
    }
    out
}

#[test]
fn every_notice_reads_as_agreed_in_every_shipped_language() {
    for language in Languages::shipped().codes() {
        let people = People::writing(language);
        insta::assert_snapshot!(format!("{language}-requests"), shown(&requests(&people)));
        insta::assert_snapshot!(format!("{language}-standings"), shown(&standings(&people)));
        insta::assert_snapshot!(
            format!("{language}-confirmations"),
            shown(&confirmations(&people))
        );
        insta::assert_snapshot!(format!("{language}-alerts"), shown(&alerts(&people)));
        insta::assert_snapshot!(format!("{language}-told"), shown(&told_to_clinicians(&people)));
        insta::assert_snapshot!(format!("{language}-decisions"), shown(&decisions(&people)));
        insta::assert_snapshot!(format!("{language}-desk"), shown(&desk(&people, language)));
    }
}

#[test]
fn an_alert_says_why_even_where_the_entry_of_the_stop_is_not_at_hand() {
    let people = People::writing("en");
    let text = |state: &State, stop: Option<&Entry>| {
        let backdrop = Backdrop { stop, ..Backdrop::default() };
        let raised = alerted(AlertCause::Stop, AlertSending::Raised, "lee");
        told(&people, "alert", state, "9T17:36", raised, &backdrop).remove(0).notice.text
    };
    let stop = stop_entry(StopReason::Persisting, &["ischium-left"]);
    assert_eq!(text(&stopped(), Some(&stop)), text(&stopped(), None));

    let mut silent = state(4);
    let look = sit(&mut silent, "9T15:30", 90);
    find(&mut silent, look, Finding::Marked, None, &["heel-left"]);
    let again = recheck(&mut silent, look);
    ask(&mut silent, again, "first", "9T15:36");
    let stop = stop_entry(StopReason::RecheckUnreported, &["heel-left"]);
    silent.apply(&stop);
    assert_eq!(text(&silent, Some(&stop)), text(&silent, None));
    assert!(text(&silent, None).contains("nobody has reported on the mark on the left heel"));

    let mut decided = state(4);
    decided.apply(&stop_entry(StopReason::Clinician, &[]));
    assert!(text(&decided, None).starts_with("Sam (A7): sitting is stopped."));
}
