//! Mails about several clients: each client's answers go to that client's request, and the answer for
//! all names everybody.

use fadewatch::care::{ClientRef, Finding};
use fadewatch::follow_up::event::{LookKind, RequestClock};
use fadewatch::follow_up::{Entry, Event, SittingNumber};
use fadewatch::notice::{
    Backdrop, Client, Draft, Languages, Notice, RoundKind, RoundPart, Said, for_event, round,
};

use crate::fixture::*;
use crate::moments::{Moment, shown};

const CLIENTS: [(&str, &str); 3] = [("A7", "Sam"), ("B7", "Tove"), ("C3", "Mrs Ode")];

/// What asks for one client's look.
fn ask(language: &str, (reference, name): (&str, &str), kind: RoundKind) -> Draft {
    let mut people = People::writing(language);
    people.client = Client::new(ClientRef::new(reference).unwrap(), name);
    let mut state = state(2);
    let look = sit(&mut state, "6T10:00", 30);
    let clock = match kind {
        RoundKind::Unclear => RequestClock::Unchanged,
        RoundKind::Looks | RoundKind::Noted => {
            RequestClock::First { wait_until: Some(at("6T10:50")), over_at: at("6T12:30") }
        }
    };
    let asked = Event::Asked {
        look,
        kind: LookKind::First,
        sitting: Some(SittingNumber::new(1)),
        to: contact_id("first"),
        again: u32::from(kind == RoundKind::Unclear),
        clock,
    };
    let entry = Entry { at: at("6T10:30"), event: asked };
    let said = Some(Said { who: None, at: at("6T10:30"), words: "no marks" });
    let backdrop = Backdrop { said, ..Backdrop::default() };
    let (_, draft) = for_event(&entry, &state, &plan(), &people.setting(), &backdrop).remove(0);
    assert_eq!(draft.round_kind(), Some(kind));
    draft
}

fn joined(language: &str, kind: RoundKind) -> Notice {
    let drafts = CLIENTS.map(|client| ask(language, client, kind));
    let labels = CLIENTS.map(|(reference, name)| format!("{name} ({reference})"));
    let addresses = CLIENTS.map(|(reference, _)| format!("checks+{reference}@clinic.example"));
    let parts: Vec<RoundPart<'_>> = (0..CLIENTS.len())
        .map(|at| RoundPart {
            draft: &drafts[at],
            reference: CLIENTS[at].0,
            label: &labels[at],
            name: CLIENTS[at].1,
            answer_to: &addresses[at],
        })
        .collect();
    round(&Languages::shipped(), &parts).unwrap().addressed(REPLY_ADDRESS)
}

#[test]
fn a_round_reads_as_agreed_in_every_shipped_language() {
    for language in Languages::shipped().codes() {
        let moments = [
            ("asked", joined(language, RoundKind::Looks)),
            ("not understood", joined(language, RoundKind::Unclear)),
        ]
        .map(|(name, notice)| Moment { name, recipient: None, notice });
        insta::assert_snapshot!(format!("{language}-rounds"), shown(&moments));
    }
}

#[test]
fn a_tap_under_a_name_answers_for_that_client_alone() {
    let notice = joined("en", RoundKind::Looks);
    let own = |reference: &str| {
        let address = format!("mailto:checks%2B{reference}@clinic.example?");
        notice.taps.iter().filter(|tap| tap.mailto.starts_with(&address)).count()
    };
    assert_eq!([own("A7"), own("B7"), own("C3")], [5, 5, 5]);
    assert_eq!(notice.taps.len(), 16);
}

#[test]
fn the_answer_for_all_names_everybody_and_fills_nobody_in() {
    for language in Languages::shipped().codes() {
        let notice = joined(language, RoundKind::Looks);
        let all = notice.taps.last().unwrap();
        assert!(
            all.mailto.ends_with("&body=Sam%3A%20%0ATove%3A%20%0AMrs%20Ode%3A%20%0A"),
            "{}",
            all.mailto
        );
    }
}

#[test]
fn cautions_stand_once_in_a_round() {
    let notice = joined("en", RoundKind::Looks);
    assert_eq!(notice.text.matches("local emergency number").count(), 1, "{}", notice.text);
    assert_eq!(notice.text.matches("not an emergency service").count(), 1, "{}", notice.text);
}

#[test]
fn what_goes_by_itself_makes_no_round() {
    let mut state = state(2);
    let look = sit(&mut state, "6T10:00", 30);
    find(&mut state, look, Finding::Marked, None, &["ischium-left"]);
    let again = recheck(&mut state, look);
    let people = People::writing("en");
    let asked = Event::Asked {
        look: again,
        kind: LookKind::Recheck,
        sitting: Some(SittingNumber::new(1)),
        to: contact_id("first"),
        again: 0,
        clock: RequestClock::First { wait_until: Some(at("6T10:50")), over_at: at("6T12:30") },
    };
    let entry = Entry { at: at("6T10:30"), event: asked };
    let (_, draft) =
        for_event(&entry, &state, &plan(), &people.setting(), &Backdrop::default()).remove(0);
    assert_eq!(draft.round_kind(), None);
    assert!(round(&people.languages, &[]).is_none());
}
