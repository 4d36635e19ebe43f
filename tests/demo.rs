//! The demonstration, run as a newcomer runs it, and what its journal says afterwards.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use fadewatch::care::{ClientRef, ClinicianId, Reading};
use fadewatch::follow_up::Event;
use fadewatch::follow_up::event::{
    AlertSending, LookKind, NoCreditReason, RequestClock, StopReason, TellReason,
};
use fadewatch::store::{JournalLine, MailStatus, Mode, Store, StoreError};

/// Far above the few seconds that it takes, for slow machines with much else to do.
const LONGEST: Duration = Duration::from_secs(240);

/// What the demonstration left behind.
struct Played {
    out: String,
    store: Store,
    place: PathBuf,
    _folder: tempfile::TempDir,
}

impl Played {
    fn through() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("demo");
        let out = run(&place);
        let store = Store::open(&place.join("data"), Mode::Reading).unwrap();
        Self { out, store, place, _folder: folder }
    }

    fn journal(&self, client: &str) -> Vec<JournalLine> {
        let client = ClientRef::new(client).unwrap();
        self.store
            .read_blocking(|view| -> Result<_, StoreError> {
                let follow_up = view.follow_up_of(&client)?.unwrap();
                assert!(view.is_state_as_journalled(follow_up)?);
                view.journal_of(follow_up)
            })
            .unwrap()
    }
}

fn run(place: &Path) -> String {
    let mut demo = Command::new(env!("CARGO_BIN_EXE_fadewatch"))
        .args(["demo", "--seconds", "0", "--folder"])
        .arg(place)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let stdout = demo.stdout.take().unwrap();
    let reader = std::thread::spawn(move || std::io::read_to_string(stdout).unwrap());
    let begun = Instant::now();
    let status = loop {
        if let Some(status) = demo.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > LONGEST {
            demo.kill().unwrap();
            panic!("the demonstration did not end within {LONGEST:?}");
        }
        std::thread::sleep(Duration::from_millis(50));
    };
    let out = reader.join().unwrap();
    assert!(status.success(), "{status}:\n{out}");
    out
}

/// What an event is to be, in words and as a question.
type Wanted<'w> = (&'w str, &'w dyn Fn(&Event) -> bool);

/// Holds that the events contain some that match, in this order.
fn in_order(journal: &[JournalLine], wanted: &[Wanted<'_>]) {
    let mut events = journal.iter().map(|line| &line.entry.event);
    for (what, matches) in wanted {
        assert!(events.any(matches), "not in its place: {what}");
    }
}

fn count(journal: &[JournalLine], matches: impl Fn(&Event) -> bool) -> usize {
    journal.iter().filter(|line| matches(&line.entry.event)).count()
}

fn alerted(event: &Event, clinician: &str, how: AlertSending) -> bool {
    matches!(event, Event::Alerted { to, sending, .. }
        if *to == ClinicianId::new(clinician).unwrap() && *sending == how)
}

fn by(clinician: &ClinicianId, id: &str) -> bool {
    clinician.as_str() == id
}

#[test]
fn each_client_of_the_demonstration_lives_through_the_story_that_was_promised() {
    let played = Played::through();
    builds_up_cleanly(&played.journal("A7"));
    fades_more_slowly_each_day_and_goes_on(&played.journal("B2"));
    persists_and_is_resumed(&played.journal("C5"));
    falls_silent_and_answers_late(&played.journal("D1"));
    shows_an_alarming_sign(&played.journal("E3"));
    leaves_a_mark_unreported(&played.journal("F6"));
    nothing_is_left_over(&played);
    the_album_holds_four_alerts(&played.place.join("alerts"));
    let words = "María writes: “Todo bien, sin marcas.” → no marks";
    for shown in ["Day 12 · Tuesday 17 March 2026", words, "every hash fits", "fadewatch.db"] {
        assert!(played.out.contains(shown), "not shown: {shown}\n{}", played.out);
    }
    let widest = played.out.lines().filter(|line| !line.contains("demo/"));
    assert!(widest.map(|line| line.chars().count()).max() <= Some(100));
}

fn builds_up_cleanly(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("the late start", &|event| matches!(event, Event::Started { .. })),
            (
                "the last step",
                &|event| matches!(event, Event::Advanced { step, .. } if step.count() == 4),
            ),
            ("the routine phase", &|event| matches!(event, Event::Routine { .. })),
            ("a routine check in it", &|event| {
                matches!(event, Event::Answered { kind: LookKind::Routine, .. })
            }),
        ],
    );
    assert_eq!(count(journal, |event| matches!(event, Event::NoCredit { .. })), 0);
    assert_eq!(count(journal, |event| matches!(event, Event::Credit { .. })), 8);
}

fn fades_more_slowly_each_day_and_goes_on(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("words that cannot be read", &|event| {
                matches!(event, Event::Answered { reading: Reading::Unclear, .. })
            }),
            ("the choices spelled out", &|event| {
                matches!(event, Event::Asked { clock: RequestClock::Unchanged, .. })
            }),
            ("the mark", &|event| {
                matches!(event, Event::Answered { reading: Reading::Marked, .. })
            }),
            ("the slow fade", &|event| {
                matches!(event, Event::NoCredit { why: NoCreditReason::SlowFade, .. })
            }),
            ("the rise that is told", &|event| told(event, TellReason::Rising)),
            (
                "the next step",
                &|event| matches!(event, Event::Advanced { step, .. } if step.count() == 3),
            ),
            ("a mark that fades in time", &|event| {
                matches!(event, Event::Answered { reading: Reading::Faded, .. })
            }),
            ("its credit", &|event| matches!(event, Event::Credit { .. })),
            (
                "the last step",
                &|event| matches!(event, Event::Advanced { step, .. } if step.count() == 4),
            ),
        ],
    );
    assert_eq!(count(journal, |event| matches!(event, Event::Stopped { .. })), 0);
}

fn persists_and_is_resumed(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("the mark", &|event| {
                matches!(event, Event::Answered { reading: Reading::Marked, .. })
            }),
            ("the recheck", &|event| {
                matches!(
                    event,
                    Event::Answered { reading: Reading::Persisting, kind: LookKind::Recheck, .. }
                )
            }),
            ("the stop", &|event| {
                matches!(event, Event::Stopped { why: StopReason::Persisting, step, .. }
            if step.count() == 3)
            }),
            (
                "the first contact is told",
                &|event| matches!(event, Event::ToldToStop { to } if to.as_str() == "first"),
            ),
            (
                "the second contact is told",
                &|event| matches!(event, Event::ToldToStop { to } if to.as_str() == "second"),
            ),
            ("the alert", &|event| alerted(event, "seating", AlertSending::Raised)),
            ("its repeat", &|event| alerted(event, "seating", AlertSending::Repeated)),
            ("its passing on", &|event| alerted(event, "duty", AlertSending::PassedOn)),
            (
                "its taking up",
                &|event| matches!(event, Event::Acknowledged { by: who, .. } if by(who, "duty")),
            ),
            ("its coming back", &|event| alerted(event, "duty", AlertSending::BroughtBack)),
            ("two steps lower", &|event| {
                matches!(event, Event::Resumed { by: who, step }
            if by(who, "duty") && step.count() == 1)
            }),
            ("credit again", &|event| matches!(event, Event::Credit { run: 2, .. })),
            (
                "a step up again",
                &|event| matches!(event, Event::Advanced { step, .. } if step.count() == 3),
            ),
        ],
    );
}

fn falls_silent_and_answers_late(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("the second contact's answer", &|event| {
                matches!(event, Event::Answered { by, .. }
            if by.as_str() == "second")
            }),
            ("a reminder", &|event| matches!(event, Event::Asked { again: 2, .. })),
            ("a missed look", &|event| {
                matches!(event, Event::Missed { kind: LookKind::First, .. })
            }),
            ("no credit", &|event| {
                matches!(event, Event::NoCredit { why: NoCreditReason::Missed, .. })
            }),
            ("the suspension", &|event| matches!(event, Event::Suspended)),
            ("a late answer", &|event| {
                matches!(event, Event::Answered { by, .. }
            if by.as_str() == "first")
            }),
            ("its lifting", &|event| matches!(event, Event::Unsuspended)),
            ("the next sitting", &|event| matches!(event, Event::Sitting { .. })),
            ("its credit", &|event| matches!(event, Event::Credit { .. })),
        ],
    );
    assert_eq!(count(journal, |event| matches!(event, Event::Stopped { .. })), 0);
}

fn told(event: &Event, reason: TellReason) -> bool {
    matches!(event, Event::ClinicTold { why, .. } if *why == reason)
}

fn stopped(event: &Event, reason: StopReason) -> bool {
    matches!(event, Event::Stopped { why, .. } if *why == reason)
}

fn shows_an_alarming_sign(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("the stop", &|event| stopped(event, StopReason::Alarming)),
            ("the alert", &|event| alerted(event, "seating", AlertSending::Raised)),
            (
                "its taking up",
                &|event| matches!(event, Event::Acknowledged { by: who, .. } if by(who, "seating")),
            ),
            ("the decision", &|event| matches!(event, Event::KeptStopped { .. })),
        ],
    );
}

fn leaves_a_mark_unreported(journal: &[JournalLine]) {
    in_order(
        journal,
        &[
            ("the mark", &|event| {
                matches!(event, Event::Answered { reading: Reading::Marked, .. })
            }),
            ("the stop", &|event| stopped(event, StopReason::RecheckUnreported)),
            ("the alert", &|event| alerted(event, "seating", AlertSending::Raised)),
            ("the resumption", &|event| matches!(event, Event::Resumed { .. })),
        ],
    );
}

/// Whether texts follow each other in this order.
fn reads_top_down(text: &str, wanted: &[&str]) {
    let mut rest = text;
    for part in wanted {
        let (_, after) = rest
            .split_once(part)
            .unwrap_or_else(|| panic!("“{part}” is not in its place:\n{text}"));
        rest = after;
    }
}

fn the_album_holds_four_alerts(album: &Path) {
    let stops = ["persisting-mark", "alarming-sign", "recheck-unreported"];
    for name in stops.into_iter().chain(["rising-trend"]) {
        let read =
            |ending: &str| fs::read_to_string(album.join(format!("{name}.{ending}"))).unwrap();
        let html = read("html");
        for picture in ["course", "marks"] {
            let file = format!("{name}-{picture}.png");
            assert!(fs::read(album.join(&file)).unwrap().starts_with(b"\x89PNG"), "{file}");
            assert!(html.contains(&format!("src=\"{file}\" alt=\"")), "{name}: {picture}");
        }
        assert!(!html.contains("cid:"), "{name}");
        assert!(read("eml").contains("Auto-Submitted: auto-generated"), "{name}");
        let text = read("txt");
        let facts = ["Picture: Course", "Last sittings", "Fitting", "What to examine first"];
        if stops.contains(&name) {
            let head = ["Sitting is stopped.", "Since", "All contacts were told", "Seen"];
            reads_top_down(&text, &[&head[..], &facts, &["Your decision", "Resume"]].concat());
        } else {
            reads_top_down(&text, &[&["rising"][..], &facts, &["stop sitting"]].concat());
        }
    }
    let read = |name: &str| fs::read_to_string(album.join(name)).unwrap();
    // A mark on a site that the fitting says bears nothing, where one side is levelled by a piece.
    assert!(read("persisting-mark.txt").contains("1. This site should bear nothing."));
    assert!(read("persisting-mark.txt").contains("low on the right, flexible, levelled"));
    assert!(read("alarming-sign.txt").contains("1. See the skin in person"));
    assert!(read("recheck-unreported.txt").contains("1. Nobody has reported on this mark"));
}

fn nothing_is_left_over(played: &Played) {
    played
        .store
        .read_blocking(|view| -> Result<_, StoreError> {
            let verified = view.verify_journal()?;
            assert!(verified.findings.is_empty(), "{:?}", verified.findings);
            for mail in view.newest_mails(u32::MAX)? {
                assert_eq!(mail.status, MailStatus::Sent, "{mail:?}");
                assert_eq!(mail.attempts, 1, "{mail:?}");
            }
            assert_eq!(view.received_waiting()?, (0, None));
            let aside = view.received_set_aside(100)?;
            assert!(aside.is_empty(), "{aside:?}");
            Ok(())
        })
        .unwrap();
}

#[test]
fn a_folder_that_holds_something_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("notes.txt"), "mine").unwrap();
    let refused = Command::new(env!("CARGO_BIN_EXE_fadewatch"))
        .args(["demo", "--folder"])
        .arg(folder.path())
        .output()
        .unwrap();
    assert!(!refused.status.success());
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(said.contains("holds something already; name an empty folder"), "{said}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}
