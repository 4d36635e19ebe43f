//! Families of phrasing that once were misread, one or two sentences of each, with the reason.
//!
//! Never here: long lists of labelled replies (the fixtures have those).
//! Promises: each sentence is read as it says, in the language it is written in.

use fadewatch::care::Reading::{
    self, Alarming, Clear, Faded, KeepStopped, Marked, NoSitting, NotLooked, Persisting, Resume,
    Seen, Started, Unclear,
};
use fadewatch::reply::Answering::{self, Alert, Look, Recheck, Start};
use fadewatch::reply::{Lexicons, read};

/// Reads each sentence of a table.
fn check(language: &str, table: &[(Answering, &str, Reading)]) {
    let lexicons = Lexicons::shipped();
    for (answering, text, meant) in table {
        let found = read(&lexicons, language, *answering, text);
        assert_eq!(found.verdict.reading, *meant, "{text:?}: {found:?}");
    }
}

fn sites(answering: Answering, text: &str) -> Vec<String> {
    let found = read(&Lexicons::shipped(), "en", answering, text);
    found.verdict.sites.iter().map(ToString::to_string).collect()
}

#[test]
fn an_order_that_is_only_spoken_of_is_no_order() {
    check(
        "en",
        &[
            (Alert, "defer restart", KeepStopped),
            (Alert, "unsafe to restart", KeepStopped),
            (Alert, "OT to advise on resuming", Unclear),
            (Alert, "He restarted on Monday against advice", Unclear),
            (Alert, "Plan: review Thursday, ?restart Friday", Unclear),
            (Alert, "finish the antibiotics then restart", Unclear),
            (Alert, "resume after photo", Unclear),
            (Alert, "I'd say resume but check with DN", Unclear),
            (Alert, "closing date for referral is Friday", Unclear),
            (Alert, "resume - sorry, wrong client, ignore", Unclear),
            (Alert, "resume but only 15 minutes", Resume),
            (Alert, "Thank you. Resume from today, 20 minutes, morning only.", Resume),
            (Alert, "Logged. Thank you.", Seen),
        ],
    );
}

#[test]
fn what_has_not_changed_is_no_calm_at_a_second_look_or_under_a_finger() {
    check(
        "en",
        &[
            (Look, "pressed it, no change in colour", Alarming),
            (Look, "no change in colour", Clear),
            (Recheck, "no change in colour", Persisting),
        ],
    );
    check("es", &[(Recheck, "no cambió nada", Persisting)]);
}

#[test]
fn a_slip_beside_gone_or_of_still_is_no_calm() {
    check(
        "en",
        &[
            (Recheck, "nto gone", Persisting),
            (Recheck, "ont gone", Unclear),
            (Recheck, "till red", Persisting),
            (Look, "she pased out in the chair. no marks", Alarming),
        ],
    );
    check("fr", &[(Look, "ça saine", Alarming), (Recheck, "encre rouge", Persisting)]);
}

#[test]
fn common_words_are_no_misspelled_signs() {
    check("es", &[(Look, "no la he mirado, está en la escuela", NotLooked)]);
    check("es", &[(Recheck, "Ya no tiene marca, duró 10 minutos", Faded)]);
    check("en", &[(Start, "popped her in the seat at half nine", Started)]);
    check("en", &[(Start, "heatwave, leaving him on the bed today", NoSitting)]);
}

#[test]
fn signs_without_their_usual_words_are_alarming() {
    check(
        "en",
        &[
            (Look, "38.9 this morning and there's redness on the sacrum", Alarming),
            (Look, "his temperature's 39 and the mark on his hip's bigger", Alarming),
            (Look, "no marks but he's got a thumping head", Alarming),
            (Look, "he won't let me touch it, says it kills, left hip", Alarming),
            (Look, "its gone a dark wine colour on the right buttock", Alarming),
            (Look, "a red area that feels like wood, left buttock", Alarming),
            (Recheck, "the mark is the same but now there is water coming out", Alarming),
        ],
    );
}

#[test]
fn a_look_told_in_a_story_is_a_look() {
    check(
        "en",
        &[
            (Look, "the boiler went, but anyway I did look at his bottom, nothing on it", Clear),
            (Look, "bit red at first, when I looked again ten minutes later it had gone", Faded),
            (Look, "Yesterday's redness hasn't come back", Clear),
            (Look, "No discolouration seen on inspection", Clear),
            (Look, "Bottom - fine. Hips - fine.", Clear),
            (Recheck, "gone, I think", Unclear),
            (Look, "could be a mark could be nothing", Unclear),
            (Start, "didn't do it, carers late", NoSitting),
            (Start, "we might start at 11", Unclear),
            (Look, "the cushion is red", Unclear),
            (Look, "left heel red, right one isn't", Marked),
        ],
    );
}

#[test]
fn what_a_mark_is_compared_with_or_was_mistaken_for_is_not_marked() {
    for (text, expected) in [
        ("darker on the left cheek than the right cheek of his bottom", "buttock-left"),
        ("red mark right hip, no sorry left hip", "trochanter-left"),
        ("mark on right knee, no wait, left knee", "knee-left"),
        ("R heel: pink. L heel: NAD.", "heel-right"),
        ("left heel's red, right one isn't", "heel-left"),
    ] {
        assert_eq!(sites(Look, text), [expected], "{text}");
    }
}

#[test]
fn what_was_not_there_before_is_new_and_not_gone() {
    check(
        "en",
        &[
            (Look, "there's a shadow on his tailbone that wasn't there this morning", Marked),
            (Recheck, "a line on the left hip that was not there yesterday", Persisting),
            (Recheck, "it wasn't there when I looked again", Faded),
            (Look, "both sit bones went red, took 20 minutes but back to normal now", Faded),
            (
                Look,
                "we were dreading a mark because the cushion slipped but there isn't one",
                Clear,
            ),
            (Look, "Looked at ten past four, absolutely fine", Clear),
            (Look, "absolutely fine", Unclear),
            (Look, "We couldn't see any mark", Clear),
            (Look, "I found crumbs from his toast but no marks", Clear),
            (Look, "I found something odd but no marks", Unclear),
            (Look, "didn't sit today, had a fever", NoSitting),
        ],
    );
}

#[test]
fn a_sign_is_heard_in_another_language_in_mid_sentence_and_at_the_end_of_a_list() {
    check(
        "en",
        &[
            (Look, "no redness, checked at two and está sangrando un poco", Alarming),
            (Look, "NO MARKS and está sangrando un poco", Alarming),
            (Look, "no red, no warmth and blister", Unclear),
            (Look, "all fine down there, no redness, swollen and hot", Alarming),
            (Look, "no redness, swelling or heat", Clear),
        ],
    );
}

#[test]
fn a_clock_time_without_its_hour_takes_the_hour_spoken_of_before() {
    let at = |text: &str| {
        let found = read(&Lexicons::shipped(), "en", Look, text);
        found.verdict.stated_at.map(|time| time.format("%H:%M").to_string())
    };
    assert_eq!(at("pink at 2 but gone by half past").as_deref(), Some("14:30"));
    assert_eq!(at("red when I looked at 10.50, gone by quarter past").as_deref(), Some("11:15"));
    assert_eq!(at("gone by half past"), None);
    assert_eq!(at("red for ten to fifteen minutes, then gone"), None);
}

#[test]
fn what_is_told_beside_a_finding_does_not_change_it() {
    check(
        "en",
        &[
            (Look, "Red patch on the heel, third day running", Persisting),
            (Look, "heels pink at first, fine again after ten minutes", Faded),
            (Look, "all fine again today", Clear),
            (Look, "dark patch on his hip but by the time I'd put the tea away it had gone", Faded),
            (Look, "Fine. I looked properly this time", Clear),
            (Look, "No pressure areas noted", Clear),
            (Look, "no marks on his heels either, skin split in the groin", Alarming),
            (Look, "slightly pink. all fine again today, nothing on him", Marked),
            (Look, "a bit of pink on the sticky out bone on his left ankle", Marked),
            (Look, "I lifted the pad and the skin came with it", Alarming),
            (Recheck, "I can just about make it out", Persisting),
            (Start, "sitting since quarter to four", Started),
        ],
    );
}

#[test]
fn a_bare_not_yet_at_a_second_look_is_asked_again() {
    check(
        "en",
        &[
            (Recheck, "not yet", Unclear),
            (Recheck, "Not looked again yet", NotLooked),
            (Look, "not yet", NotLooked),
            (Look, "pink when I first looked, nothing when I looked again at 10.15", Faded),
            (Look, "We thought the seam might have marked her but no, all fine", Clear),
            (Look, "we thought it might be red", Marked),
            (Look, "Both hips were red but they'd gone back to normal after 20 minutes", Faded),
            (Look, "his skin looks absolutely fine to me", Clear),
            (Look, "She was too upset for me to look", NotLooked),
            (Alert, "Back to 30 mins please", Resume),
        ],
    );
}

#[test]
fn a_step_is_numbered_by_its_place_in_words_too() {
    for (language, text, step) in [
        ("en", "Resume from the third step", 3),
        ("en", "may sit again, second step", 2),
        ("es", "reanudar en el segundo paso", 2),
        ("fr", "reprendre au deuxième palier", 2),
        ("de", "Sitzen wieder aufnehmen, dritte Stufe", 3),
    ] {
        let found = read(&Lexicons::shipped(), language, Alert, text);
        assert_eq!(found.verdict.reading, Resume, "{text}");
        assert_eq!(found.verdict.step, Some(fadewatch::care::StepChoice::Step(step)), "{text}");
    }
}
