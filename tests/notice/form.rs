//! Checks of form over every notice: links, lengths, escapes, cautions, colours, headings.
//!
//! Never here: wording as such.

use fadewatch::notice::colours::{self, contrast};
use fadewatch::notice::{Languages, Notice, Urgency};

use crate::fixture::{People, REPLY_ADDRESS};
use crate::moments::{Moment, confirmations, requests, standings, to_clinicians, to_contacts};

/// The longest text that a caregiver should have to read on a phone.
const CONTACT_CHARS_MAX: usize = 950;
/// With every choice spelled out after words that could not be read (R17).
const SPELLED_OUT_CHARS_MAX: usize = 1100;

fn everything(language: &str) -> Vec<Moment> {
    let people = People::writing(language);
    let mut all = to_contacts(&people);
    all.extend(to_clinicians(&people, language));
    all
}

fn every_language(check: impl Fn(&str, &Moment)) {
    for language in Languages::shipped().codes() {
        everything(language).iter().for_each(|moment| check(language, moment));
    }
}

/// A link taken apart by the rules of RFC 6068.
fn parsed(link: &str) -> (String, String, String) {
    let (address, query) = link.strip_prefix("mailto:").unwrap().split_once('?').unwrap();
    let field = |name: &str| {
        let mut fields = query.split('&').map(|field| field.split_once('=').unwrap());
        decoded(fields.find(|(key, _)| *key == name).unwrap().1)
    };
    (decoded(address), field("subject"), field("body"))
}

fn decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digits = [rest.next().unwrap(), rest.next().unwrap()];
            let digits = std::str::from_utf8(&digits).unwrap();
            bytes.push(u8::from_str_radix(digits, 16).unwrap());
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).unwrap()
}

#[test]
fn every_tap_parses_back_to_address_subject_and_answer() {
    every_language(|language, Moment { name, notice, .. }| {
        for tap in &notice.taps {
            let (address, subject, body) = parsed(&tap.mailto);
            assert_eq!(address, REPLY_ADDRESS, "{language}: {name}");
            assert!(subject.starts_with("Re: "), "{language}: {name}: {subject}");
            // The same answer stands in the plain text, for those who have no buttons.
            assert!(notice.text.contains(body.trim_end()), "{language}: {name}: {body}");
            assert!(notice.html.contains(&tap.mailto.replace('&', "&amp;")), "{language}: {name}");
            assert!(tap.mailto.is_ascii() && !tap.mailto.contains([' ', '+', '"', '<', '\'']));
        }
    });
}

#[test]
fn requests_offer_answers_before_anything_else_to_read() {
    for language in Languages::shipped().codes() {
        for Moment { name, notice, .. } in requests(&People::writing(language)) {
            assert!(notice.taps.len() >= 2, "{language}: {name}");
            let first = parsed(&notice.taps[0].mailto).2;
            let at = notice.text.find(first.trim_end()).unwrap();
            assert!(at < notice.text.len() / 2, "{language}: {name}");
        }
    }
}

#[test]
fn what_a_caregiver_reads_fits_a_phone() {
    for language in Languages::shipped().codes() {
        for Moment { name, notice, .. } in to_contacts(&People::writing(language)) {
            let chars = notice.text.chars().count();
            let most =
                if name.contains("unclear") { SPELLED_OUT_CHARS_MAX } else { CONTACT_CHARS_MAX };
            assert!(chars <= most, "{language}: {name}: {chars} characters");
            // A phone's list of mails shows about forty characters.
            let what = notice.subject.split(" · ").next().unwrap();
            assert!(what.chars().count() <= 42, "{language}: {name}: {what}");
        }
    }
}

#[test]
fn the_longest_and_foreign_names_stay_whole_in_every_notice() {
    let client = "Maximiliane-Alexandrina Wolkenstein-Hohenberg zu Niederfeld";
    for language in Languages::shipped().codes() {
        let people = People::named(language, client, "Nguyễn Thị Ánh Ngọc");
        let all = to_contacts(&people);
        for Moment { name, notice, .. } in &all {
            assert!(!notice.subject.contains(client), "{language}: {name}: subject names client");
            assert!(notice.subject.ends_with("A7"), "{language}: {name}: {}", notice.subject);
        }
        let request = all.iter().find(|moment| moment.name == "first look at the end").unwrap();
        assert!(request.notice.text.contains(client));
        let next = all.iter().find(|moment| moment.name == "first look, next contact").unwrap();
        assert!(next.notice.text.contains("Nguyễn Thị Ánh Ngọc"));
        assert!(next.notice.html.contains("Nguyễn Thị Ánh Ngọc"));
    }
}

#[test]
fn a_hostile_name_can_neither_open_a_tag_nor_a_header_nor_turn_text_around() {
    let hostile = "<img src=x onerror=\"alert('1')\">\r\nBcc: all@x.example \u{202E}&amp;";
    for language in Languages::shipped().codes() {
        let people = People::named(language, hostile, hostile);
        let mut all = to_contacts(&people);
        all.extend(to_clinicians(&people, language));
        for Moment { name, notice, .. } in all {
            assert!(!notice.html.contains("<img src=x"), "{language}: {name}");
            assert!(!notice.html.contains("<b>"), "{language}: {name}");
            assert!(!notice.subject.contains(['\r', '\n']), "{language}: {name}");
            assert!(!notice.text.contains('\r') && !notice.text.contains("\nBcc"));
            assert!(!(notice.text.contains('\u{202E}') || notice.html.contains('\u{202E}')));
        }
    }
}

#[test]
fn every_page_names_its_language_has_one_main_heading_and_loads_nothing() {
    every_language(|language, Moment { name, notice, .. }| {
        let html = &notice.html;
        assert!(html.contains(&format!("<html lang=\"{language}\" dir=\"ltr\">")), "{name}");
        assert_eq!(html.matches("<h1 ").count(), 1, "{language}: {name}");
        for forbidden in ["<script", "<style", "<link", "http:", "https:", "url(", "@import"] {
            assert!(!html.contains(forbidden), "{language}: {name}: {forbidden}");
        }
        let sources = html.matches("src=\"").count();
        assert_eq!(sources, html.matches("src=\"cid:").count(), "{language}: {name}");
    });
}

#[test]
fn every_colour_on_a_page_belongs_to_a_pair_with_enough_contrast() {
    every_language(|language, Moment { name, notice, .. }| {
        for piece in notice.html.split("background-color:").skip(1) {
            let ground = &piece[..7];
            let known = colours::ALL.iter().any(|pair| pair.ground == ground);
            assert!(known, "{language}: {name}: {ground}");
        }
        for pair in colours::ALL {
            assert!(contrast(pair.ink, pair.ground).unwrap() >= 4.5);
        }
    });
}

fn has_urgent_signs(notice: &Notice, language: &str) -> bool {
    let wording = Languages::shipped();
    let mut texts = wording.wording(language).texts();
    let (_, caution) = texts.find(|(key, _)| *key == "caution.urgent").unwrap();
    notice.text.contains(&caution)
}

#[test]
fn requests_stops_and_reported_marks_name_the_urgent_signs_and_the_way_out_of_hours() {
    for language in Languages::shipped().codes() {
        let people = People::writing(language);
        let worrying = |name: &str| {
            ["noted marked", "noted persisting", "noted alarming"]
                .iter()
                .any(|start| name.starts_with(start))
        };
        let confirmed = confirmations(&people).into_iter().filter(|moment| worrying(moment.name));
        let standing = standings(&people).into_iter().filter(|m| m.name != "unsuspended");
        for Moment { name, notice, .. } in
            requests(&people).into_iter().chain(standing).chain(confirmed)
        {
            assert!(has_urgent_signs(&notice, language), "{language}: {name}");
            assert!(notice.text.contains("01632 960 999"), "{language}: {name}");
        }
    }
}

#[test]
fn stops_and_alerts_are_marked_as_urgent_and_nothing_else_is() {
    every_language(|language, Moment { name, notice, .. }| {
        let is_urgent = name.starts_with("stop:") || name.starts_with("alert");
        assert_eq!(notice.urgency == Urgency::Alert, is_urgent, "{language}: {name}");
    });
}

#[test]
fn debug_output_of_people_and_notices_shows_neither_names_nor_words() {
    let people = People::named("en", "Marker", "Marker");
    let shown = format!("{:?} {:?} {:?}", people.client, people.contacts, people.setting());
    assert!(!shown.contains("Marker"), "{shown}");
    for Moment { name, notice, .. } in to_contacts(&people) {
        assert!(!format!("{notice:?}").contains("Marker"), "{name}");
    }
}
