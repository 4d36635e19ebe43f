//! The report on paper: two sheets, whatever the follow-up holds, in every language.

use fadewatch::care::{Reading, Verdict};
use fadewatch::follow_up::event::LookKind;
use fadewatch::notice::{Languages, LetterOf, letter};

use crate::fixture::People;
use crate::lived::{Lived, Request, Script, clear, lived, scripts, with};
use crate::print::sheets;

/// A course with marks, stops and silence nearly every day, so that both tables are full.
fn eventful(request: &Request) -> Option<Verdict> {
    let many = ["ischium-left", "thigh-right", "sacrum", "thigh-left", "trochanter-right"];
    let number = request.sitting as usize;
    let places = [many[number % 5], many[(number + 2) % 5]];
    match (request.kind, number) {
        (LookKind::First, _) if number % 7 == 3 => Some(with(Reading::Marked, &places, None)),
        (LookKind::Recheck, _) if number % 14 == 3 => Some(with(Reading::Persisting, &[], None)),
        (LookKind::Recheck, _) => None,
        (LookKind::First, _) if number % 5 == 1 => Some(with(Reading::Faded, &places, Some(22))),
        (LookKind::First, _) if number % 9 == 8 => None,
        _ => Some(clear()),
    }
}

/// As long as the three lines of a fitting get: with doubts, and with a seat that is described well.
const FITTING: &str = "Fitted on 2026-03-04 (version 85021bb62fc1): moulded foam seat with a relief \
     under the sit bones, 41 cm wide, 42 cm deep, on a firm base. Not ok or not checked: foot \
     support, position on the seat, by the trochanters.";

fn printed(lived: &Lived, language: &str, fitting: &[String]) -> Vec<String> {
    let people = People::writing(language);
    let report = letter(LetterOf {
        state: &lived.state,
        plan: &lived.plan,
        entries: &lived.entries,
        setting: &people.setting(),
        fitting,
        language,
        now: lived.entries.last().unwrap().at,
    });
    sheets(&report.html)
}

fn holds_both_sheets(sheets: &[String], language: &str) {
    assert_eq!(sheets.len(), 2, "{language}");
    let languages = Languages::shipped();
    let text = |wanted: &str| {
        let mut texts = languages.wording(language).texts();
        texts.find(|(key, _)| *key == wanted).unwrap().1
    };
    for (sheet, key) in [
        (0, "letter.title"),
        (0, "letter.course"),
        (0, "letter.places"),
        (0, "alert.fitting"),
        (1, "letter.findings"),
        (1, "letter.decisions"),
        (1, "letter.signature"),
    ] {
        let text = text(key);
        assert!(sheets[sheet].contains(&text), "{language}: sheet {sheet} lacks “{text}”");
        assert!(sheets[1].contains("Sam (A7)"), "{language}: the second sheet says whose it is");
    }
}

#[test]
fn the_report_of_sixty_eventful_days_prints_to_two_sheets_in_every_language() {
    let lived = lived(&Script { days: 60, answer: eventful, resume: Some((20, 1)) });
    let fitting = vec![FITTING.to_owned(); 3];
    for language in Languages::shipped().codes() {
        holds_both_sheets(&printed(&lived, language, &fitting), language);
    }
}

#[test]
fn the_report_of_two_quiet_days_prints_to_two_sheets_as_well() {
    let (_, script) = scripts().into_iter().find(|(name, _)| *name == "short").unwrap();
    holds_both_sheets(&printed(&lived(&script), "en", &[]), "en");
}
