//! The wording files as data: complete, with exactly their placeholders, and fit for every skin.
//!
//! Never here: how notices use them.

use fadewatch::notice::{Languages, Wording, WordingError};

const ENGLISH: &str = include_str!("../../config/languages/en/wording.toml");

fn problems(text: &str) -> String {
    let errors = Wording::parse("en", "en/wording.toml", text).unwrap_err();
    let lines = errors.iter().map(|error| format!("{error}\n  hint: {}", error.help()));
    lines.collect::<Vec<_>>().join("\n")
}

fn with(from: &str, to: &str) -> String {
    assert!(ENGLISH.contains(from), "the test looks for {from}");
    ENGLISH.replacen(from, to, 1)
}

#[test]
fn a_missing_text_is_named_with_its_file_and_key() {
    insta::assert_snapshot!(problems(&with("close = \"Close the follow-up\"\n", "")), @r"
    en/wording.toml: `label.close` is missing
      hint: add the text; the shipped English wording file shows what it has to say
    ");
}

#[test]
fn an_unknown_and_a_missing_placeholder_are_both_told() {
    insta::assert_snapshot!(problems(&with("{client}: off the seat", "{klient}: off the seat")), @r"
    en/wording.toml: `stop.lead` uses the unknown placeholder {klient}
      hint: this text may use {client}
    en/wording.toml: `stop.lead` lacks the placeholder {client}
      hint: without it the reader would miss a fact
    ");
}

#[test]
fn a_misspelt_key_gets_a_suggestion() {
    insta::assert_snapshot!(problems(&with("guide_note = ", "guide_notes = ")), @r"
    en/wording.toml: `alert.guide_note` is missing
      hint: add the text; the shipped English wording file shows what it has to say
    en/wording.toml: `alert.guide_notes` is not a wording that is used
      hint: did you mean `alert.guide_note`?
    ");
}

#[test]
fn a_text_that_is_empty_or_no_text_or_has_a_lone_brace_is_refused() {
    insta::assert_snapshot!(problems(&with("do = \"No sitting until", "do = \"{No sitting until")), @r"
    en/wording.toml: `stop.do` has a brace without its partner or a placeholder without a name
      hint: write placeholders as {name}, small letters and `_` only
    ");
    insta::assert_snapshot!(problems(&with("clear = \"no marks\"", "clear = \" \"")), @r"
    en/wording.toml: `finding.clear` is empty
      hint: add the text; the shipped English wording file shows what it has to say
    ");
    insta::assert_snapshot!(problems(&with("clear = \"no marks\"", "clear = 3")), @r"
    en/wording.toml: `finding.clear` must be a text
      hint: write it between double quotes
    en/wording.toml: `finding.clear` is missing
      hint: add the text; the shipped English wording file shows what it has to say
    ");
}

#[test]
fn eleven_months_or_no_language_table_is_refused() {
    insta::assert_snapshot!(problems(&with("\"January\", ", "")), @r"
    en/wording.toml: `language.months` needs 12 names, has 11
      hint: weekdays begin with Monday, months with January
    ");
    insta::assert_snapshot!(problems("[time]\nclock = \"{hour}\""), @r"
    en/wording.toml: cannot be read: it has no `[language]` table
      hint: compare it with the shipped English wording file, which is complete
    ");
    let errors = Wording::parse("en", "en/wording.toml", "[language").unwrap_err();
    assert!(matches!(errors.as_slice(), [WordingError::Malformed { .. }]));
}

#[test]
fn a_clinic_replaces_a_wording_without_touching_code_and_a_bad_one_changes_nothing() {
    let mut languages = Languages::shipped();
    let own = with("name = \"English\"", "name = \"Clinic English\"");
    languages.add("en", "own/en/wording.toml", &own).unwrap();
    assert_eq!(languages.wording("en").name(), "Clinic English");
    assert!(languages.add("en", "own/en/wording.toml", "").is_err());
    assert_eq!(languages.wording("en-GB").name(), "Clinic English");
    assert_eq!(languages.wording("xx").name(), "Clinic English");
}

/// Sentences of a text.
fn sentences(text: &str) -> impl Iterator<Item = String> {
    text.split(['.', '!', '?', ';']).map(str::to_lowercase)
}

#[test]
fn no_text_speaks_of_redness_without_darker_skin_beside_it() {
    let words = [
        ("en", &["red", "redness", "reddened", "pink"][..], &["darker"][..]),
        ("es", &["rojo", "roja", "rojez", "enrojecimiento", "enrojecida"], &["oscura", "oscuro"]),
        ("fr", &["rouge", "rougeur", "rougeurs"], &["foncée", "foncé", "sombre"]),
        ("de", &["rot", "rötung", "rötungen", "gerötet"], &["dunklere", "dunkler", "dunkle"]),
    ];
    let languages = Languages::shipped();
    for (code, reds, darks) in words {
        let wording = languages.wording(code);
        assert_eq!(wording.code(), code);
        let mut seen = 0;
        for (key, text) in wording.texts() {
            for sentence in sentences(&text) {
                let has = |list: &[&str]| {
                    let mut said = sentence.split(|c: char| !c.is_alphanumeric());
                    said.any(|word| list.contains(&word))
                };
                seen += usize::from(has(reds));
                assert!(!has(reds) || has(darks), "{code}: `{key}`: {sentence}");
            }
        }
        assert!(seen > 2, "{code}: the check looks for words that this language does not use");
    }
}

#[test]
fn the_urgent_caution_names_what_cannot_wait_for_a_mail_in_every_language() {
    let words = [
        ("en", ["broken", "spreads", "fever", "pounding headache", "emergency number"]),
        ("es", ["rota", "crece", "fiebre", "dolor de cabeza", "emergencias"]),
        ("fr", ["ouverte", "s’étend", "fièvre", "mal de tête", "urgences"]),
        ("de", ["offene", "wachsende", "fieber", "kopfschmerz", "notruf"]),
    ];
    let languages = Languages::shipped();
    assert_eq!(languages.codes().count(), words.len());
    for (code, wanted) in words {
        let mut texts = languages.wording(code).texts();
        let (_, caution) = texts.find(|(key, _)| *key == "caution.urgent").unwrap();
        for word in wanted {
            assert!(caution.to_lowercase().contains(word), "{code}: {word}");
        }
    }
}

#[test]
fn no_two_answers_of_a_language_say_the_same() {
    for code in Languages::shipped().codes() {
        let languages = Languages::shipped();
        let taps: Vec<_> = languages
            .wording(code)
            .texts()
            .filter(|(key, _)| key.starts_with("taps."))
            .map(|(_, text)| text)
            .collect();
        let distinct: std::collections::BTreeSet<_> = taps.iter().collect();
        assert_eq!(distinct.len(), taps.len(), "{code}");
    }
}

#[test]
fn what_contacts_read_fits_the_client_too_who_may_answer_for_themself() {
    // Sentences begin with the name, as an address, and go on without saying 'the client' or 'them'.
    let sections = [
        "sitting",
        "ask",
        "stop",
        "noted",
        "resumed",
        "closed",
        "suspended",
        "unsuspended",
        "paused",
        "unpaused",
        "routine",
        "label",
        "meaning",
    ];
    let languages = [
        ("en", ENGLISH, "the client"),
        ("de", include_str!("../../config/languages/de/wording.toml"), "Klient"),
        ("es", include_str!("../../config/languages/es/wording.toml"), "paciente"),
        ("fr", include_str!("../../config/languages/fr/wording.toml"), "patient"),
    ];
    for (language, text, third_person) in languages {
        let wording: toml::Table = text.parse().unwrap();
        let mut addressed = 0;
        for section in sections {
            for (key, text) in wording[section].as_table().unwrap() {
                let text = text.as_str().unwrap();
                let is_address = text.starts_with("{client}:") || text.starts_with("{client} :");
                let names = text.matches("{client}").count();
                assert_eq!(names, usize::from(is_address), "{language} {section}.{key}: {text}");
                assert!(!text.contains(third_person), "{language} {section}.{key}: {text}");
                addressed += names;
            }
        }
        assert_eq!(addressed, 13, "{language}");
    }
}
