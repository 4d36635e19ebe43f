//! Metamorphic tests: what is put around a worrying reply, or a slip in it, never calms it.
//!
//! Never here: fixtures of single phrasings.
//! Promises: every worrying line of every fixture is tried, and every variant on many of them.

use fadewatch::care::Reading;
use fadewatch::reply::{Answering, Lexicons, read};

use crate::labelled::{Labelled, is_calm, is_worrying, labelled};

/// What people put around what they say; none of it answers anything.
const AROUND: [&str; 24] = [
    "Hi there, hope you are well. {}",
    "Hello, {}",
    "Morning! {}",
    "{}. Thanks",
    "{} 👍",
    "{} x",
    "{}!!!",
    "{}\n\nKind regards\nJo",
    "{}\nSent from my phone",
    "{}. He's fine in himself.",
    "{}, otherwise fine",
    "{}. Everything else is clear",
    "{}. Rest of skin ok",
    "{} but she's happy",
    "{}, chair is great",
    "no pain. {}",
    "no blisters. {}",
    "All other areas clear. {}",
    "elbows clear. {}",
    "I looked at 2pm. {}",
    "sorry for the delay. {}",
    "okay so I had a look. {}",
    "skin intact. {}",
    "good news and bad news: {}",
];

fn worrying() -> Vec<Labelled> {
    [
        "dev.jsonl",
        "own-tuned.jsonl",
        "own-held-out.jsonl",
        "own-tricky.jsonl",
        "own-fresh.jsonl",
        "own-fresh-2.jsonl",
        "own-fresh-3.jsonl",
        "own-fresh-4.jsonl",
        "own-fresh-5.jsonl",
        "own-fresh-6.jsonl",
        "own-signs.jsonl",
    ]
    .into_iter()
    .flat_map(labelled)
    .filter(|row| is_worrying(row.reading()))
    .collect()
}

fn assert_not_calm(lexicons: &Lexicons, row: &Labelled, text: &str) {
    let found = read(lexicons, "en", row.answering(), text);
    let reading = found.verdict.reading;
    assert!(!is_calm(reading), "{} is {}, {text:?} read as {reading}", row.id, row.reading);
}

#[test]
fn greetings_signatures_and_good_news_never_calm_a_worrying_reply() {
    let lexicons = Lexicons::shipped();
    for (i, row) in worrying().into_iter().enumerate() {
        // Each line meets a third of them in turn, which keeps the test short.
        for around in AROUND.iter().skip(i % 3).step_by(3) {
            assert_not_calm(&lexicons, &row, &around.replace("{}", row.text.trim_end_matches('.')));
        }
    }
}

#[test]
fn capitals_never_calm_a_worrying_reply() {
    let lexicons = Lexicons::shipped();
    for row in worrying() {
        assert_not_calm(&lexicons, &row, &row.text.to_uppercase());
        assert_not_calm(&lexicons, &row, &row.text.to_lowercase());
    }
}

/// Replies whose one telling word can be struck so that another telling word stands there; no
/// reader of words can know better.
const ONE_LETTER_FROM_CALM: usize = 6;

#[test]
fn a_swapped_or_lost_letter_hardly_ever_calms_a_worrying_reply() {
    let lexicons = Lexicons::shipped();
    let mut calmed = Vec::new();
    let mut tried = 0;
    for row in worrying() {
        for text in slips(&row.text) {
            tried += 1;
            let reading = read(&lexicons, "en", row.answering(), &text).verdict.reading;
            if is_calm(reading) {
                calmed.push(format!("{} is {}, {text:?} read as {reading}", row.id, row.reading));
            }
        }
    }
    assert!(tried > 1_500);
    assert!(calmed.len() <= ONE_LETTER_FROM_CALM, "{} of {tried}: {calmed:#?}", calmed.len());
}

/// The text with two inner letters of one longer word swapped, or one of them lost.
fn slips(text: &str) -> Vec<String> {
    let mut out = Vec::new();
    let words: Vec<&str> = text.split(' ').collect();
    for (i, word) in words.iter().enumerate() {
        let letters: Vec<char> = word.chars().collect();
        if letters.len() < 5 || !letters.iter().all(char::is_ascii_alphabetic) {
            continue;
        }
        let middle = letters.len() / 2;
        let mut swapped = letters.clone();
        swapped.swap(middle - 1, middle);
        let mut lost = letters.clone();
        lost.remove(middle);
        for slip in [swapped, lost] {
            let slip: String = slip.into_iter().collect();
            let mut with: Vec<&str> = words.clone();
            with[i] = &slip;
            out.push(with.join(" "));
        }
    }
    out
}

#[test]
fn a_quoted_notice_below_never_calms_a_worrying_reply() {
    let lexicons = Lexicons::shipped();
    let notice = "Please look at the skin now.\nNo marks\nGone\nNot looked yet";
    for row in worrying() {
        let quoted: String = notice.lines().map(|line| format!("> {line}\n")).collect();
        let raw = format!(
            "From: a@home.example\nSubject: Re: look\nContent-Type: text/plain; charset=utf-8\n\n\
             {}\n\nOn 4 Mar 2025, at 10:02, Checks <c@f.example> wrote:\n{quoted}",
            row.text
        );
        let letter = fadewatch::reply::letter::open(raw.as_bytes());
        assert_eq!(letter.words, row.text.trim(), "{}", row.id);
        assert_not_calm(&lexicons, &row, &letter.words);
    }
}

#[test]
fn a_calm_statement_denied_is_no_longer_calm() {
    let lexicons = Lexicons::shipped();
    for calm in [
        "it has gone",
        "the mark has gone",
        "it has faded",
        "it has cleared",
        "it is clear",
        "it is normal",
        "the skin looks fine",
        "it has disappeared",
        "it is back to normal",
        "it has settled",
    ] {
        for (verb, denied) in [("has", "has not"), ("is", "is not"), ("looks", "does not look")] {
            let text = calm.replacen(&format!(" {verb} "), &format!(" {denied} "), 1);
            if text == calm {
                continue;
            }
            for answering in [Answering::Look, Answering::Recheck] {
                let said = read(&lexicons, "en", answering, calm).verdict.reading;
                let reading = read(&lexicons, "en", answering, &text).verdict.reading;
                assert!(matches!(said, Reading::Clear | Reading::Faded), "{calm:?}: {said}");
                assert!(!is_calm(reading), "{text:?} read as {reading} at {answering}");
            }
        }
    }
}
