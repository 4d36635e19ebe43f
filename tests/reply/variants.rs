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

fn all() -> impl Iterator<Item = Labelled> {
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
        "own-fresh-7.jsonl",
        "own-fresh-9.jsonl",
        "own-fresh-10.jsonl",
        "own-fresh-11.jsonl",
        "own-fresh-12.jsonl",
        "own-fresh-13.jsonl",
        "own-signs.jsonl",
    ]
    .into_iter()
    .flat_map(labelled)
}

fn worrying() -> Vec<Labelled> {
    all().filter(|row| is_worrying(row.reading())).collect()
}

/// Whether the contact's language is the one that is written or English, which the words around
/// are in: the reply is worrying all the same.
fn assert_not_calm(lexicons: &Lexicons, row: &Labelled, text: &str) {
    for language in ["en", row.lang.as_deref().unwrap_or("en")] {
        let reading = read(lexicons, language, row.answering(), text).verdict.reading;
        assert!(!is_calm(reading), "{} is {}, {text:?} read as {reading}", row.id, row.reading);
        if row.lang.is_none() {
            break;
        }
    }
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
const ONE_LETTER_FROM_CALM: usize = 3;

#[test]
fn a_swapped_or_lost_letter_hardly_ever_calms_a_worrying_reply() {
    let lexicons = Lexicons::shipped();
    let mut calmed = Vec::new();
    let mut tried = 0;
    for row in worrying() {
        for text in slips(&row.text) {
            tried += 1;
            let language = row.lang.as_deref().unwrap_or("en");
            let reading = read(&lexicons, language, row.answering(), &text).verdict.reading;
            if is_calm(reading) {
                calmed.push(format!("{} is {}, {text:?} read as {reading}", row.id, row.reading));
            }
        }
    }
    assert!(tried > 5_000);
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

/// A calm statement and its denial, in the other languages.
const DENIED: [(&str, &str, &str); 24] = [
    ("es", "se ha ido", "no se ha ido"),
    ("es", "ya se quitó", "todavía no se quitó"),
    ("es", "está limpio", "no está limpio"),
    ("es", "la piel está normal", "la piel no está normal"),
    ("es", "ha desaparecido", "no ha desaparecido"),
    ("es", "está bien la piel", "no está bien la piel"),
    ("es", "se ve normal", "no se ve normal"),
    ("es", "ya no se ve", "todavía se ve"),
    ("es", "ha vuelto a su color", "no ha vuelto a su color"),
    ("es", "está todo limpio", "no está todo limpio"),
    ("de", "ist weg", "ist nicht weg"),
    ("de", "die Stelle ist verschwunden", "die Stelle ist nicht verschwunden"),
    ("de", "die Haut ist unauffällig", "die Haut ist nicht unauffällig"),
    ("de", "die Haut ist normal", "die Haut ist nicht normal"),
    ("de", "ist verblasst", "ist nicht verblasst"),
    ("de", "ist wieder normal", "ist nicht wieder normal"),
    ("de", "ist abgeklungen", "ist nicht abgeklungen"),
    ("fr", "c'est parti", "ce n'est pas parti"),
    ("fr", "la marque a disparu", "la marque n'a pas disparu"),
    ("fr", "la peau est normale", "la peau n'est pas normale"),
    ("fr", "on ne la voit plus", "on la voit encore"),
    ("fr", "c'est effacé", "ce n'est pas effacé"),
    ("fr", "la rougeur est partie", "la rougeur n'est pas partie"),
    ("fr", "tout est normal", "tout n'est pas normal"),
];

#[test]
fn a_calm_statement_denied_is_no_longer_calm_in_the_other_languages() {
    let lexicons = Lexicons::shipped();
    for (language, calm, denied) in DENIED {
        for answering in [Answering::Look, Answering::Recheck] {
            let reading = |text: &str| read(&lexicons, language, answering, text).verdict.reading;
            let said = reading(calm);
            assert!(matches!(said, Reading::Clear | Reading::Faded), "{calm:?}: {said}");
            let reading = reading(denied);
            assert!(!is_calm(reading), "{denied:?} read as {reading} at {answering}");
        }
    }
}

/// Pairs that stay calm: 'clear again' and 'that has gone now' after a mark say that it has gone,
/// although they were written of something else.
const PAIRS_THAT_SETTLE: usize = 6;

#[test]
fn a_calm_reply_joined_to_a_worrying_one_hardly_ever_calms_it() {
    let lexicons = Lexicons::shipped();
    let joints = |language: &str| match language {
        "es" => [". ", ", ", "\n", " pero ", " y "],
        "de" => [". ", ", ", "\n", " aber ", " und "],
        "fr" => [". ", ", ", "\n", " mais ", " et "],
        _ => [". ", ", ", "\n", " but ", " and "],
    };
    let (mut tried, mut calmed) = (0, Vec::new());
    for language in ["en", "es", "de", "fr"] {
        let of_language = |row: &Labelled| row.lang.as_deref().unwrap_or("en") == language;
        let clear: Vec<String> = all()
            .filter(|row| of_language(row) && row.reading() == Reading::Clear)
            .map(|row| row.text.trim_end_matches('.').to_owned())
            .collect();
        let looked = |row: &Labelled| {
            of_language(row) && matches!(row.answering(), Answering::Look | Answering::Recheck)
        };
        for (i, row) in worrying().into_iter().filter(looked).enumerate() {
            for (k, joint) in joints(language).into_iter().enumerate() {
                let clear = &clear[(i * 13 + k * 7) % clear.len()];
                let worry = row.text.trim_end_matches('.');
                let (first, second) = if (i + k) % 2 == 0 {
                    (clear.as_str(), worry)
                } else {
                    (worry, clear.as_str())
                };
                let text = format!("{first}{joint}{second}");
                tried += 1;
                let reading = read(&lexicons, language, row.answering(), &text).verdict.reading;
                if is_calm(reading) {
                    calmed.push(format!("{} {text:?} read as {reading}", row.id));
                }
            }
        }
    }
    assert!(tried > 5_000, "{tried}");
    assert!(calmed.len() <= PAIRS_THAT_SETTLE, "{} of {tried}: {calmed:#?}", calmed.len());
}
