//! Any text and any bytes give an answer.
//!
//! Never here: which answer.
//! Promises: no input panics; the words of a letter stay within their bound.

use fadewatch::care::Reading;
use fadewatch::reply::letter::{open, read_letter};
use fadewatch::reply::{Answering, Lexicons, TEXT_BYTES_MAX, read};
use proptest::prelude::*;

/// Pieces that the reader has rules for, so that random texts meet them.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        prop::sample::select(vec![
            "no",
            "not",
            "marks",
            "red",
            "left",
            "right",
            "heel",
            "gone",
            "still",
            "if",
            "will",
            "at",
            "10:15",
            "half",
            "past",
            "7",
            "20",
            "mins",
            "step",
            "resume",
            "close",
            "but",
            "except",
            ",",
            ".",
            "?",
            "/",
            "\n",
            "blister",
            "any more",
            "IT",
            "1 no 2 red 3",
            "👍🏽",
            "na\u{300}da",
            "½",
        ])
        .prop_map(str::to_owned),
        "\\PC{0,6}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_text_is_read_with_a_reason(pieces in prop::collection::vec(piece(), 0..40)) {
        let lexicons = lexicons();
        let text = pieces.join(" ");
        for answering in Answering::ALL {
            prop_assert!(!read(lexicons, "en", answering, &text).because.is_empty());
        }
    }

    #[test]
    fn any_bytes_open_as_a_letter(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        prop_assert!(open(&bytes).words.len() <= TEXT_BYTES_MAX + 1);
    }

    #[test]
    fn any_html_gives_words(html in "[<>a-z/=\"'& \n!-]{0,400}") {
        let raw = format!("From: a@b.example\nContent-Type: text/html\n\n{html}");
        prop_assert!(open(raw.as_bytes()).words.len() <= raw.len() * 2);
    }
}

/// A mail of parts within parts, with this text in the innermost.
fn nested(depth: usize, text: &str) -> String {
    let open: String = (0..depth)
        .map(|n| format!("Content-Type: multipart/mixed; boundary=\"b{n}\"\r\n\r\n--b{n}\r\n"))
        .collect();
    let close: String = (0..depth).rev().map(|n| format!("\r\n--b{n}--")).collect();
    format!(
        "From: a@b.example\r\nMIME-Version: 1.0\r\n{open}Content-Type: text/plain\r\n\r\n{text}{close}\r\n"
    )
}

#[test]
fn a_mail_nested_past_all_use_is_never_read_calm_and_an_ordinary_one_is() {
    let reading = |depth, text| {
        let letter = open(nested(depth, text).as_bytes());
        let found = read_letter(lexicons(), "en", Answering::Look, &letter, None);
        (letter.is_tangled, found.verdict.reading)
    };
    assert_eq!(reading(4, "no marks"), (false, Reading::Clear));
    assert_eq!(reading(1000, "no marks"), (true, Reading::Unclear));
    assert_eq!(reading(20, "no marks"), (true, Reading::Unclear));
    let mails = "Content-Type: message/rfc822\r\n\r\n".repeat(1000);
    let raw = format!("From: a@b.example\r\n{mails}Content-Type: text/plain\r\n\r\nno marks\r\n");
    let found = read_letter(lexicons(), "en", Answering::Look, &open(raw.as_bytes()), None);
    assert_ne!(found.verdict.reading, Reading::Clear);
}

fn lexicons() -> &'static Lexicons {
    static LEXICONS: std::sync::OnceLock<Lexicons> = std::sync::OnceLock::new();
    LEXICONS.get_or_init(Lexicons::shipped)
}

#[test]
fn a_reply_too_long_to_be_read_to_its_end_is_never_calm() {
    let text = format!("no marks. {}", "nothing to add. ".repeat(TEXT_BYTES_MAX / 10));
    let found = read(lexicons(), "en", Answering::Look, &text);
    assert_eq!(found.verdict.reading, Reading::Unclear);
}

#[test]
fn letters_among_debris_are_no_answer_of_a_clinician_and_no_all_clear() {
    let found = "U,d\u{fffd}\u{fffd}X\u{3}\u{fffd}\u{3}\u{fffd}_\u{fffd}\u{fffd}d \u{fffd}w\u{fffd}l\u{fffd}#b";
    let words = ["seen\u{fffd}\u{fffd}\u{1}", "\u{fffd}\u{fffd}\u{fffd} close \u{fffd}", found];
    for text in words {
        let reading = read(lexicons(), "en", Answering::Alert, text).verdict.reading;
        assert_eq!(reading, Reading::Unclear, "{text:?}");
    }
    let calm = read(lexicons(), "en", Answering::Look, "\u{fffd}\u{2}\u{fffd}\u{1} no marks");
    assert_eq!(calm.verdict.reading, Reading::Unclear);
    let worry =
        read(lexicons(), "en", Answering::Look, "\u{fffd}\u{2}\u{fffd}\u{1} it is bleeding");
    assert_eq!(worry.verdict.reading, Reading::Alarming);
    let wreck = "\u{fffd}}/\u{b}N\u{1e}\u{fffd}\u{fffd}$\u{fffd}VD2uHE\u{fffd}WC\u{fffd}\u{fffd}\u{1}A\u{fffd}";
    let chance = read(lexicons(), "en", Answering::Look, wreck).verdict.reading;
    assert_eq!(chance, Reading::Unclear, "no mark is made of it, which the next answer ends");
    // One broken accent in a plain answer.
    let plain =
        read(lexicons(), "es", Answering::Look, "Todo bien, ninguna marca, ma\u{fffd}ana m\u{e1}s");
    assert_eq!(plain.verdict.reading, Reading::Clear);
}

#[test]
fn a_conjunction_of_another_language_alone_is_no_all_clear() {
    for text in ["OB", "ob", "\u{11}OB", "ob alles"] {
        for language in ["en", "es", "fr", "de"] {
            let reading = read(lexicons(), language, Answering::Look, text).verdict.reading;
            assert_eq!(reading, Reading::Unclear, "{text:?} in {language}");
        }
    }
}
