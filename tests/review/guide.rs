//! What the shipped guide proposes first.

use std::collections::BTreeSet;

use fadewatch::care::site::all_sites;
use fadewatch::care::{Fitting, Minutes, Site};
use fadewatch::config::shipped_review_guide;
use fadewatch::review::{FittingWords, LineSource, Question, Seen, SitesHad};

use crate::fitting;

fn site(id: &str) -> Site {
    id.parse().unwrap()
}

fn ids(sites: &[&str], seen: Seen, before: SitesHad, fitting: Option<&Fitting>) -> Vec<String> {
    let sites: Vec<Site> = sites.iter().map(|id| site(id)).collect();
    let question = Question { sites: &sites, seen, before, fitting };
    let guide = shipped_review_guide();
    guide.proposals(&question).iter().map(|proposal| proposal.line.id.clone()).collect()
}

fn first(sites: &[&str], fitting: Option<&Fitting>) -> Vec<String> {
    ids(sites, Seen::Persisting, SitesHad::default(), fitting)
}

#[test]
fn a_mark_on_an_off_loaded_site_asks_for_bottoming_out_and_position_first() {
    let fitting = fitting(&[]);
    assert_eq!(first(&["ischium-left"], Some(&fitting))[..2], ["bottoming-out", "position"]);
}

#[test]
fn comfort_fill_is_asked_about_before_position() {
    let filled = fitting(&[("comfort_fill = false", "comfort_fill = true")]);
    let lines = first(&["ischium-left"], Some(&filled));
    assert_eq!(lines[..3], ["bottoming-out", "comfort-fill", "position"]);
}

#[test]
fn a_mark_on_a_loaded_site_asks_how_long_then_seams_heat_and_shear() {
    let fitting = fitting(&[]);
    let lines = first(&["thigh-left", "thigh-right"], Some(&fitting));
    assert_eq!(lines[..5], ["thigh-edge", "how-long", "seams", "heat-and-moisture", "shear"]);
}

#[test]
fn a_mark_on_one_side_asks_for_the_obliquity_and_one_on_both_does_not() {
    let fitting = fitting(&[]);
    assert!(first(&["ischium-left"], Some(&fitting)).contains(&"obliquity".to_owned()));
    for both in [&["ischium-left", "ischium-right"][..], &["ischium"]] {
        let lines = first(both, Some(&fitting));
        assert!(!lines.contains(&"obliquity".to_owned()), "{lines:?}");
        assert!(!lines.contains(&"one-side".to_owned()), "{lines:?}");
    }
}

#[test]
fn a_mark_at_the_sacrum_asks_about_sliding_back_support_and_transfers() {
    let lines = first(&["sacrum"], Some(&fitting(&[])));
    assert!(lines.contains(&"sacrum-slid".to_owned()), "{lines:?}");
    assert!(lines.contains(&"sacrum-transfers".to_owned()), "{lines:?}");
}

#[test]
fn a_mark_at_heel_or_ankle_asks_about_foot_support_and_footwear() {
    for place in ["heel-left", "ankle-right", "foot"] {
        let lines = first(&[place], None);
        assert!(lines.contains(&"foot-support".to_owned()), "{lines:?}");
        assert!(lines.contains(&"footwear".to_owned()), "{lines:?}");
    }
}

#[test]
fn an_alarming_sign_sends_to_the_person_before_the_seat() {
    let lines = ids(&["ischium-left"], Seen::Alarming, SitesHad::default(), Some(&fitting(&[])));
    assert_eq!(lines[..3], ["see-it-today", "infection", "dysreflexia"]);
}

#[test]
fn an_unreported_mark_sends_to_the_telephone_first() {
    let lines = ids(&["ischium-left"], Seen::Unreported, SitesHad::default(), None);
    assert_eq!(lines[..2], ["nobody-reported", "where-exactly"]);
}

#[test]
fn without_a_fitting_nobody_is_told_what_the_seat_does_with_a_site() {
    let lines = first(&["ischium-left"], None);
    assert_eq!(lines[0], "where-exactly");
    assert!(!lines.contains(&"bottoming-out".to_owned()));
}

#[test]
fn marks_at_a_site_in_earlier_sittings_and_longer_fading_are_spoken_of() {
    let times = |fades: &[(u32, u32)]| {
        fades.iter().map(|(sit, fade)| (Minutes::new(*sit), Minutes::new(*fade))).collect()
    };
    let fitting = fitting(&[]);
    let ask = |fades: &[(u32, u32)], marked: &[&str]| {
        let marked = marked.iter().map(|id| site(id)).collect();
        let before = SitesHad { marked, fades: times(fades) };
        ids(&["trochanter-left", "trochanter-right"], Seen::Marked, before, Some(&fitting))
    };
    let told = ask(&[(30, 5), (30, 9)], &["trochanter-left"]);
    assert!(told.contains(&"lengthening".to_owned()) || told.len() == 6, "{told:?}");
    // Fade times after sittings of different length are not compared.
    let quiet = ask(&[(15, 5), (30, 9)], &["thigh-left"]);
    assert!(!quiet.contains(&"lengthening".to_owned()), "{quiet:?}");
    assert!(!quiet.contains(&"again".to_owned()), "{quiet:?}");
}

#[test]
fn every_line_of_the_guide_is_proposed_for_some_question() {
    let guide = {
        let mut guide = shipped_review_guide();
        guide.lines_most = guide.lines.len();
        guide
    };
    let fits = [
        None,
        Some(fitting(&[])),
        Some(fitting(&[(
            "low_side = \"left\"\nobliquity = \"flexible\"\nlevelled = true",
            "low_side = \"none\"",
        )])),
        Some(fitting(&[
            ("comfort_fill = false", "comfort_fill = true"),
            ("legs = \"together\"", "legs = \"windswept\""),
            ("back_support = \"ok\"", "back_support = \"not-ok\""),
            ("found_by = \"feeler\"", "found_by = \"hand\""),
            ("imprint_left = \"none\"\n", ""),
            ("imprint_right = \"faint\"\n", ""),
        ])),
    ];
    let mut proposed: BTreeSet<String> = BTreeSet::new();
    for site in all_sites() {
        for (_, seen) in Seen::WORDS {
            for fitting in &fits {
                let fades = vec![(Minutes::new(30), Minutes::new(5)); 1];
                let mut fades = fades;
                fades.push((Minutes::new(30), Minutes::new(9)));
                let before =
                    SitesHad { marked: site.both_if_unsided().into_iter().collect(), fades };
                let sites = [site];
                let fitting = fitting.as_ref();
                let question = Question { sites: &sites, seen: *seen, before, fitting };
                let lines = guide.proposals(&question);
                let ids: BTreeSet<_> = lines.iter().map(|p| p.line.id.clone()).collect();
                assert_eq!(ids.len(), lines.len(), "a line twice");
                proposed.extend(ids);
            }
        }
    }
    let all: BTreeSet<String> = guide.lines.iter().map(|line| line.id.clone()).collect();
    assert_eq!(proposed, all);
}

#[test]
fn no_question_is_left_without_an_answer_or_answered_with_more_than_a_phone_shows() {
    let guide = shipped_review_guide();
    for sites in [vec![], vec![site("elsewhere")], all_sites()] {
        for (_, seen) in Seen::WORDS {
            let before = SitesHad::default();
            let question = Question { sites: &sites, seen: *seen, before, fitting: None };
            let lines = guide.proposals(&question).len();
            assert!((1..=guide.lines_most).contains(&lines), "{lines}");
        }
    }
}

#[test]
fn the_shipped_guide_speaks_every_shipped_language_and_never_of_redness_alone() {
    let guide = shipped_review_guide();
    assert_eq!(guide.languages().into_iter().collect::<Vec<_>>(), ["de", "en", "es", "fr"]);
    for line in &guide.lines {
        let text = line.text("en").to_lowercase();
        let names_redness = text.contains("redness");
        assert!(!names_redness || text.contains("dark"), "{}: {text}", line.id);
        assert!(text.chars().count() <= 260, "{} is too long for a phone", line.id);
    }
}

#[test]
fn the_whole_guide_reads_with_what_each_line_rests_on() {
    let guide = shipped_review_guide();
    let words = FittingWords::shipped();
    for language in ["de", "en", "es", "fr"] {
        let lines: Vec<String> = guide
            .lines
            .iter()
            .map(|line| {
                let source = match &line.source {
                    LineSource::CommonPractice => None,
                    LineSource::Published(source) => Some(source.as_str()),
                };
                words.of(language).with_source(line.text(language), source)
            })
            .collect();
        insta::assert_snapshot!(format!("guide-{language}"), lines.join("\n"));
    }
}
