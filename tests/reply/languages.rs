//! The language files: one-tap answers, and answers in a language that is not the contact's.
//!
//! Never here: how well a language is read in general.
//! Promises: every tap of every language is read as it is meant, alone and with words around it.

use fadewatch::care::{Reading, Site, StepChoice};
use fadewatch::reply::{Answering, Lexicons, SHIPPED, read};

/// The reading of every tap, with a word list put around its body.
fn each_tap(around: impl Fn(&str) -> String, check: impl Fn(&str, Reading, Reading)) {
    let lexicons = Lexicons::shipped();
    for (code, _) in SHIPPED {
        let lexicon = lexicons.get(code).expect("a shipped language");
        for answering in Answering::ALL {
            for tap in lexicon.taps(answering) {
                let text = around(&tap.body.replace("{step}", "2"));
                let found = read(&lexicons, code, answering, &text);
                check(&format!("{code} {answering} {text:?}"), tap.reading, found.verdict.reading);
            }
        }
    }
}

#[test]
fn every_tap_is_read_as_it_is_meant() {
    each_tap(str::to_owned, |what, meant, got| assert_eq!(got, meant, "{what}"));
    each_tap(str::to_uppercase, |what, meant, got| assert_eq!(got, meant, "{what}"));
}

#[test]
fn words_around_a_tap_that_say_nothing_change_nothing() {
    let around = |body: &str| format!("Hello,\n\n{body}\n\nKind regards\nJo");
    each_tap(around, |what, meant, got| assert_eq!(got, meant, "{what}"));
}

#[test]
fn a_worrying_word_beside_a_calm_tap_wins() {
    let around = |body: &str| format!("{body}\n\nthere is a blister on the left heel");
    each_tap(around, |what, meant, got| {
        if !meant.is_clinicians() {
            assert_eq!(got, Reading::Alarming, "{what}");
        }
    });
}

#[test]
fn the_site_written_after_a_tap_is_taken_with_it() {
    let lexicons = Lexicons::shipped();
    let tap = &lexicons.get("en").expect("English").taps(Answering::Look)[1];
    let text = format!("{}\n{} left heel", tap.body, tap.asks.as_deref().expect("a question"));
    let found = read(&lexicons, "en", Answering::Look, &text);
    assert_eq!(found.verdict.reading, Reading::Marked);
    assert_eq!(found.verdict.sites, ["heel-left".parse::<Site>().expect("a site")]);
}

#[test]
fn the_step_in_a_tap_is_the_step_to_resume_at() {
    let lexicons = Lexicons::shipped();
    for (code, _) in SHIPPED {
        let taps = lexicons.get(code).expect("a shipped language").taps(Answering::Alert);
        let tap = taps.iter().find(|tap| tap.reading == Reading::Resume).expect("a tap to resume");
        let text = tap.body.replace("{step}", "3");
        let found = read(&lexicons, code, Answering::Alert, &text);
        assert_eq!(found.verdict.step, Some(StepChoice::Step(3)), "{code}");
    }
}

#[test]
fn a_reply_in_another_language_than_the_contacts_is_read_too() {
    let lexicons = Lexicons::shipped();
    for (text, reading) in [
        ("tiene una ampolla en el talón", Reading::Alarming),
        ("une rougeur au talon gauche", Reading::Marked),
        ("keine Rötung", Reading::Clear),
        ("no marks", Reading::Clear),
    ] {
        for first in ["en", "es", "fr", "de", "xx"] {
            let found = read(&lexicons, first, Answering::Look, text);
            assert_eq!(found.verdict.reading, reading, "{text} for {first}");
        }
    }
}

#[test]
fn a_language_file_with_a_mistake_is_refused_with_the_place() {
    let (_, english) = SHIPPED[0];
    let wrong = english.replace("\nwarm = ", "\nwarmish = ");
    let error = Lexicons::parse([("en", wrong.as_str())]).expect_err("a mistake");
    assert_eq!(error.to_string(), "lexicon `en`, table `say`: no concept is named `warmish`");
}

#[test]
fn a_worrying_sentence_beside_a_calm_one_in_another_language_wins() {
    let lexicons = Lexicons::shipped();
    for (text, reading) in [
        ("All other areas clear. Está sangrando.", Reading::Alarming),
        ("Todo limpio. There is a red patch on the left heel.", Reading::Marked),
        ("Alles gut, keine Rötung. La peau est ouverte au talon.", Reading::Alarming),
    ] {
        for first in ["en", "es", "fr", "de"] {
            let found = read(&lexicons, first, Answering::Look, text);
            assert_eq!(found.verdict.reading, reading, "{text} for {first}");
        }
    }
}

#[test]
fn a_tap_with_a_doubt_or_an_exception_beside_it_is_no_clear_answer() {
    let lexicons = Lexicons::shipped();
    for text in [
        "I looked at the skin and there are no marks. Not sure though.",
        "I looked at the skin and there are no marks apart from his heel",
        "No marks. I can't tell on her skin.",
    ] {
        let found = read(&lexicons, "en", Answering::Look, text);
        assert_ne!(found.verdict.reading, Reading::Clear, "{text}");
    }
}
