//! One reply to requests about several clients: whose each word is, and who is never calm by it.
//!
//! Never here: who may answer; words about one client alone.

use std::sync::LazyLock;

use fadewatch::care::Reading;
use fadewatch::reply::letter;
use fadewatch::reply::round::{Called, Heard, Roll, read_round};
use fadewatch::reply::{Answering, Lexicons};
use proptest::prelude::*;

static LEXICONS: LazyLock<Lexicons> = LazyLock::new(Lexicons::shipped);

/// The clients of the round that is answered here, all asked for a first look.
const CLIENTS: [Called<'static>; 3] = [
    Called { reference: "B7", call_name: "Sam" },
    Called { reference: "C3", call_name: "Tove" },
    Called { reference: "D-12", call_name: "Mrs Ode" },
];

fn heard(words: &str) -> Vec<Option<Heard>> {
    heard_in("en", words)
}

fn heard_in(language: &str, words: &str) -> Vec<Option<Heard>> {
    let roll = Roll::of(&CLIENTS, &LEXICONS).unwrap();
    let raw = format!(
        "From: carer@home.example\r\nTo: checks@clinic.example\r\nSubject: Re: skin checks\r\n\
         Content-Type: text/plain; charset=utf-8\r\n\r\n{words}\r\n"
    );
    let letter = letter::open(raw.as_bytes());
    read_round(&LEXICONS, language, (&roll, &[Answering::Look; 3]), &letter)
}

/// The readings as one line, for tables: `clear marked -`.
fn line(heard: &[Option<Heard>]) -> String {
    let one = |heard: &Option<Heard>| {
        heard.as_ref().map_or("-", |heard| heard.read.verdict.reading.name()).to_owned()
    };
    heard.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn check(table: &[(&str, &str)]) {
    let wrong: Vec<String> = table
        .iter()
        .filter_map(|(words, expected)| {
            let found = line(&heard(words));
            (found != *expected).then(|| format!("{words:?}\n  wants {expected}\n  found {found}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{} of {}\n{}", wrong.len(), table.len(), wrong.join("\n"));
}

#[test]
fn a_line_for_each_client_is_read_for_that_client() {
    check(&[
        ("Sam: no marks\nTove: red left hip\nMrs Ode: not looked yet", "clear marked not-looked"),
        ("B7 no marks\nC3 no marks\nD-12 no marks", "clear clear clear"),
        ("B7: ok\nC3: ok\nD12: ok", "unclear unclear unclear"),
        ("b7 - all clear\nc3 - left hip red\nd 12 - all clear", "clear marked clear"),
        (
            "- Sam: no marks.\n- Tove: no marks.\n- Mrs Ode: the tailbone is dark and warm",
            "clear clear marked",
        ),
        ("SAM no marks, TOVE left sit bone pink, MRS ODE no marks", "clear marked clear"),
        ("Sam's skin is clear. Tove's left hip is red.", "clear marked -"),
        ("Sam has no marks but Tove has a red left hip", "clear marked -"),
        ("No marks on Sam.\nTove has a blister on the left hip!", "clear alarming -"),
        ("no marks for B7\nred left hip for C3", "clear marked -"),
        ("Sam and Tove: no marks. Mrs Ode: a dark patch on the right hip", "clear clear marked"),
        ("Sam, Tove and Mrs Ode: no marks", "clear clear clear"),
        ("No marks: Sam, Tove", "clear clear -"),
        ("Sam:\nno marks\n\nTove:\nred left hip\nstill red after 30 minutes", "clear persisting -"),
    ]);
}

#[test]
fn everybody_is_calm_where_it_is_said_of_everybody() {
    check(&[
        ("all clear", "clear clear clear"),
        ("No marks on anyone", "clear clear clear"),
        ("Everyone looked at, no marks", "clear clear clear"),
        ("all three fine, no marks", "clear clear clear"),
        ("all clear except B7: left hip", "marked clear clear"),
        ("All clear except for Sam, left hip is red", "marked clear clear"),
        ("all clear except Tove and Mrs Ode: not looked yet", "clear not-looked not-looked"),
        ("All clear. Except Sam: left hip red.", "marked clear clear"),
        ("Everyone no marks, but Tove has a dark patch on her left hip", "clear marked clear"),
        ("No marks on anybody apart from Mrs Ode: sacrum a bit red", "clear clear marked"),
        ("Sam: left hip red. The rest: no marks", "marked clear clear"),
        ("Sam: no marks. Tove: no marks. Everyone else: no marks", "clear clear clear"),
        ("Sam: left hip red\nall the others no marks", "marked clear clear"),
    ]);
}

#[test]
fn nobody_is_calm_by_words_that_are_not_theirs() {
    check(&[
        // Not said of whom.
        ("no marks", "unclear unclear unclear"),
        ("ok", "unclear unclear unclear"),
        ("Hi all, no marks", "unclear unclear unclear"),
        ("no marks at all", "unclear unclear unclear"),
        ("Thanks all", "unclear unclear unclear"),
        // Said of so many, of whom is open.
        ("both fine, no marks", "unclear unclear unclear"),
        // The name may be what the words are about.
        ("All clear, Sam", "clear - -"),
        ("All clear with Sam", "clear - -"),
        ("Sam, all clear", "clear - -"),
        ("All clear\nSam", "unclear unclear unclear"),
        ("All clear\nSam is the one I looked at", "unclear unclear unclear"),
        ("Sam: left hip red at ten\nAll clear at half past", "marked unclear unclear"),
        // An exception without a word.
        ("all clear except B7: no marks", "unclear unclear unclear"),
        ("Fine except Tove", "- unclear -"),
        // A mark that is not said of whom.
        ("Sam: no marks\nTove: no marks\n\nThe left hip is red", "marked marked marked"),
        ("someone has a blister", "alarming alarming alarming"),
        ("all clear except left hip", "marked marked marked"),
        // Who is not named has not been looked at.
        ("Sam: no marks", "clear - -"),
        ("Sam: no marks\nTove:\nMrs Ode:", "clear unclear unclear"),
        // A name that is not ours.
        ("Bob: red left hip\nSam: no marks", "marked marked marked"),
        ("Bob: no marks\nSam: red left hip", "marked - -"),
    ]);
}

#[test]
fn words_that_cannot_be_told_apart_are_heard_of_everyone_in_them_and_never_calm() {
    check(&[
        ("no marks on Sam but the left hip on Tove is red", "marked marked -"),
        ("Sam same as Tove", "unclear unclear -"),
        ("no marks on Sam and none on Tove either", "unclear unclear -"),
    ]);
}

#[test]
fn pleasantries_change_nothing() {
    check(&[
        (
            "Hello,\n\nSam: no marks\nTove: no marks\nMrs Ode: no marks\n\nThanks\nKim",
            "clear clear clear",
        ),
        (
            "Good morning\nall clear except Tove: red left hip\nBest wishes, Kim",
            "clear marked clear",
        ),
    ]);
}

#[test]
fn a_round_is_read_in_every_language_that_is_shipped() {
    let rows = [
        ("es", "Sam: sin marcas\nTove: cadera izquierda roja", "clear marked -"),
        (
            "es",
            "todos bien, sin marcas, menos Tove: la cadera izquierda está roja",
            "clear marked clear",
        ),
        ("fr", "Sam : aucune marque\nTove : rougeur à la hanche gauche", "clear marked -"),
        (
            "fr",
            "aucune marque chez personne, sauf Tove : la hanche gauche est rouge",
            "clear marked clear",
        ),
        ("de", "Sam: keine Rötung\nTove: linke Hüfte gerötet", "clear marked -"),
        ("de", "keine Rötung bei allen, außer bei Tove: linke Hüfte rot", "clear marked clear"),
    ];
    for (language, words, expected) in rows {
        assert_eq!(line(&heard_in(language, words)), expected, "{words}");
    }
}

#[test]
fn clients_who_cannot_be_told_apart_make_no_round() {
    let called = |reference: &'static str, call_name: &'static str| Called { reference, call_name };
    let refused = |clients: &[Called<'_>]| Roll::of(clients, &LEXICONS).err();
    // By their references alone.
    assert_eq!(refused(&[called("B7", "Sam"), called("C3", "Sam")]), None);
    assert_eq!(refused(&[called("1", "Sam"), called("2", "Sam")]), Some(vec![0, 1]));
    assert_eq!(
        refused(&[called("1", "Sam"), called("2", "Sam Ode"), called("C3", "")]),
        Some(vec![0, 1])
    );
    // What a word of skin could be is nobody's name.
    assert_eq!(refused(&[called("7", "Mark"), called("C3", "Tove")]), Some(vec![0]));
    assert_eq!(refused(&[called("B7", "Mark"), called("C3", "Tove")]), None);
}

#[test]
fn a_client_called_like_a_word_is_named_by_reference_or_before_a_colon() {
    let clients = [
        Called { reference: "B7", call_name: "Mark" },
        Called { reference: "C3", call_name: "May" },
    ];
    let roll = Roll::of(&clients, &LEXICONS).unwrap();
    let read = |words: &str| {
        let letter = letter::open(format!("From: a@b.example\r\n\r\n{words}\r\n").as_bytes());
        line(&read_round(&LEXICONS, "en", (&roll, &[Answering::Look; 2]), &letter))
    };
    assert_eq!(read("B7: no mark\nC3: no mark"), "clear clear");
    assert_eq!(read("May: no mark\nB7: red left hip"), "marked clear");
    assert_eq!(read("it may be a mark"), read("there may be a mark"));
    assert_ne!(read("no mark"), "clear clear");
}

/// What a caregiver writes of one client, with how it is read alone.
const SAID: [(&str, Reading); 6] = [
    ("no marks", Reading::Clear),
    ("a red patch on the left hip", Reading::Marked),
    ("not looked yet", Reading::NotLooked),
    ("the skin is broken", Reading::Alarming),
    ("he did not sit today", Reading::NoSitting),
    ("looked at 10:15, nothing seen", Reading::Clear),
];

const NAMES: [[&str; 2]; 3] = [["Sam", "B7"], ["Tove", "C3"], ["Mrs Ode", "D-12"]];

proptest! {
    #[test]
    fn each_client_is_read_as_alone_in_whatever_order_they_are_named(
        said in prop::array::uniform3(0..SAID.len()),
        by in prop::array::uniform3(0..2_usize),
        order in Just(vec![0_usize, 1, 2]).prop_shuffle(),
        mark in prop::sample::select(vec![": ", " - ", " ", " = "]),
        end in prop::sample::select(vec!["\n", ".\n", ";\n", "\n\n"]),
    ) {
        let text: String = order
            .iter()
            .map(|who| format!("{}{mark}{}{end}", NAMES[*who][by[*who]], SAID[said[*who]].0))
            .collect();
        let found = heard(&text);
        for (who, heard) in found.iter().enumerate() {
            let reading = heard.as_ref().map(|heard| heard.read.verdict.reading);
            prop_assert_eq!(reading, Some(SAID[said[who]].1), "{}: {}", text, line(&found));
        }
    }

    #[test]
    fn whoever_is_not_named_is_never_calm_unless_it_is_said_of_everybody(
        said in prop::collection::vec((0..3_usize, 0..SAID.len()), 1..4),
        joint in prop::sample::select(vec!["\n", ", ", " and ", ". ", "; ", " but "]),
    ) {
        let text: Vec<String> =
            said.iter().map(|(who, what)| format!("{} {}", NAMES[*who][0], SAID[*what].0)).collect();
        let text = text.join(joint);
        for (who, heard) in heard(&text).iter().enumerate() {
            let is_named = said.iter().any(|(named, _)| *named == who);
            let reading = heard.as_ref().map(|heard| heard.read.verdict.reading);
            prop_assert!(is_named || reading != Some(Reading::Clear), "{}: {:?}", text, reading);
            let worst = said.iter().filter(|(named, _)| *named == who).map(|(_, what)| SAID[*what].1);
            let is_marked = worst.clone().any(|reading| reading == Reading::Marked || reading == Reading::Alarming);
            prop_assert!(!is_marked || reading >= Some(Reading::Marked) && reading != Some(Reading::Faded), "{}: {:?}", text, reading);
        }
    }

    #[test]
    fn a_mark_that_is_not_said_of_whom_leaves_nobody_calm(
        said in prop::array::uniform3(0..SAID.len()),
        first in any::<bool>(),
        worry in prop::sample::select(vec!["The left hip is red.", "A blister on the heel!", "Skin is broken"]),
    ) {
        let lines: String = (0..3).map(|who| format!("{}: {}\n", NAMES[who][0], SAID[said[who]].0)).collect();
        let text = if first { format!("{worry}\n\n{lines}") } else { format!("{lines}\n{worry}\n") };
        for heard in heard(&text) {
            let reading = heard.map(|heard| heard.read.verdict.reading);
            prop_assert!(!matches!(reading, Some(Reading::Clear | Reading::Faded)), "{}: {:?}", text, reading);
        }
    }

    #[test]
    fn any_text_at_all_gives_an_answer_for_each(text in "\\PC{0,200}") {
        prop_assert_eq!(heard(&text).len(), 3);
    }
}
