//! Every one-tap answer means to the reader of replies what its button says.
//!
//! Never here: how replies are read.

use fadewatch::care::site::all_sites;
use fadewatch::care::{Place, Reading, StepChoice};
use fadewatch::notice::Languages;
use fadewatch::reply::{Answering, Lexicons, read};

use Answering::{Alert, Look, Recheck, Start};

/// Keys of the answers, what they answer, and how they must be read.
const MEANINGS: &[(&str, &[Answering], Reading)] = &[
    ("taps.clear", &[Look], Reading::Clear),
    ("taps.marked", &[Start, Look], Reading::Marked),
    ("taps.alarming", &[Start, Look, Recheck], Reading::Alarming),
    ("taps.not_looked", &[Look, Recheck], Reading::NotLooked),
    ("taps.no_sitting", &[Start, Look], Reading::NoSitting),
    ("taps.started", &[Start], Reading::Started),
    ("taps.faded", &[Recheck], Reading::Faded),
    ("taps.persisting", &[Recheck], Reading::Persisting),
    ("taps.seen", &[Alert], Reading::Seen),
    ("taps.resume", &[Alert], Reading::Resume),
    ("taps.keep_stopped", &[Alert], Reading::KeepStopped),
    ("taps.close", &[Alert], Reading::Close),
    ("taps.wrong", &[Start, Look, Recheck], Reading::Unclear),
];

#[test]
fn every_answer_is_read_as_its_button_says_and_resume_names_its_step() {
    let (languages, lexicons) = (Languages::shipped(), Lexicons::shipped());
    for code in languages.codes().filter(|code| lexicons.get(code).is_some()) {
        let texts: std::collections::BTreeMap<_, _> = languages.wording(code).texts().collect();
        assert_eq!(texts.keys().filter(|key| key.starts_with("taps.")).count(), MEANINGS.len());
        for (key, answerings, wanted) in MEANINGS {
            for answering in *answerings {
                let text = texts[key].replace("{step}", "2");
                let verdict = read(&lexicons, code, *answering, &text).verdict;
                assert_eq!(verdict.reading, *wanted, "{code}: `{key}` to {answering}: {text}");
                let step = (*wanted == Reading::Resume).then_some(StepChoice::Step(2));
                assert_eq!(verdict.step, step, "{code}: `{key}`: {text}");
            }
        }
    }
}

#[test]
fn a_place_added_to_an_answer_in_our_own_words_is_read_as_that_place() {
    let (languages, lexicons) = (Languages::shipped(), Lexicons::shipped());
    let mut misread = Vec::new();
    for code in languages.codes().filter(|code| lexicons.get(code).is_some()) {
        let texts: std::collections::BTreeMap<_, _> = languages.wording(code).texts().collect();
        // 'Another place' names none, and none is what the reader takes from it.
        for site in all_sites().into_iter().filter(|site| site.place() != Place::Elsewhere) {
            for (tap, wanted) in
                [("taps.marked", Reading::Marked), ("taps.alarming", Reading::Alarming)]
            {
                let text = format!("{}{}", texts[tap], texts[&*format!("sites.{site}")]);
                let verdict = read(&lexicons, code, Look, &text).verdict;
                if verdict.reading != wanted || verdict.sites != [site] {
                    misread
                        .push(format!("{code}: {text} → {} {:?}", verdict.reading, verdict.sites));
                }
            }
        }
    }
    assert!(misread.is_empty(), "{}", misread.join("\n"));
}
