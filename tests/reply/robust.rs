//! Any text and any bytes give an answer.
//!
//! Never here: which answer.
//! Promises: no input panics; the words of a letter stay within their bound.

use fadewatch::reply::letter::open;
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

fn lexicons() -> &'static Lexicons {
    static LEXICONS: std::sync::OnceLock<Lexicons> = std::sync::OnceLock::new();
    LEXICONS.get_or_init(Lexicons::shipped)
}

#[test]
fn a_reply_too_long_to_be_read_to_its_end_is_never_calm() {
    let text = format!("no marks. {}", "nothing to add. ".repeat(TEXT_BYTES_MAX / 10));
    let found = read(lexicons(), "en", Answering::Look, &text);
    assert_eq!(found.verdict.reading, fadewatch::care::Reading::Unclear);
}
