//! The numbers of a picture read back from its SVG, by data and by drawing, against the journal.
//!
//! Never here: how it looks. What a sitting came to is taken from the journal's entries alone, not
//! from the state that the picture is drawn from.

use std::collections::{BTreeMap, BTreeSet};

use fadewatch::care::Finding;
use fadewatch::follow_up::event::LookKind;
use fadewatch::follow_up::{Entry, Event, LookId};
use fadewatch::notice::Languages;
use fadewatch::notice::colours::contrast;
use fadewatch::notice::picture::{Drawing, Width};

use crate::lived::{Lived, lived, scripts};

/// A group of the drawing: its data, and the elements in it.
struct Group {
    data: BTreeMap<String, String>,
    elements: Vec<String>,
}

impl Group {
    fn number(&self, name: &str) -> f64 {
        self.data[name].parse().unwrap()
    }

    fn elements(&self, tag: &str) -> Vec<&String> {
        self.elements.iter().filter(|line| line.starts_with(&format!("<{tag} "))).collect()
    }
}

fn groups(svg: &str) -> Vec<Group> {
    let mut groups = Vec::new();
    for piece in svg.split("<g ").skip(1) {
        let (inside, _) = piece.split_once("</g>").unwrap();
        let mut lines = inside.lines();
        let head = lines.next().unwrap();
        let data = head.split("data-").skip(1).map(|part| {
            let (name, rest) = part.split_once("=\"").unwrap();
            (name.to_owned(), rest.split('"').next().unwrap().to_owned())
        });
        groups.push(Group { data: data.collect(), elements: lines.map(str::to_owned).collect() });
    }
    groups
}

fn attribute(element: &str, name: &str) -> f64 {
    let (_, rest) = element.split_once(&format!(" {name}=\"")).unwrap();
    rest.split('"').next().unwrap().parse().unwrap()
}

fn of_kind<'g>(groups: &'g [Group], name: &str) -> Vec<&'g Group> {
    groups.iter().filter(|group| group.data.contains_key(name)).collect()
}

/// What the journal says of a sitting.
#[derive(Default)]
struct Journalled {
    step: String,
    minutes: u32,
    start: String,
    came_to: Option<&'static str>,
    missed: u32,
    /// Fade times that were stated or found, and the worst finding, over its first looks.
    worst: Option<Finding>,
}

fn journalled(entries: &[Entry]) -> BTreeMap<String, Journalled> {
    let mut sittings: BTreeMap<String, Journalled> = BTreeMap::new();
    let mut of_look: BTreeMap<LookId, String> = BTreeMap::new();
    for entry in entries {
        match &entry.event {
            Event::Sitting { sitting, step, minutes, start, .. } => {
                let journalled = Journalled {
                    step: step.to_string(),
                    minutes: minutes.count(),
                    start: start.to_rfc3339(),
                    ..Journalled::default()
                };
                sittings.insert(sitting.to_string(), journalled);
            }
            Event::LookPlanned { look, sitting: Some(sitting), .. }
            | Event::Asked { look, sitting: Some(sitting), .. } => {
                of_look.insert(*look, sitting.to_string());
            }
            Event::Credit { sitting, .. } => {
                sittings.get_mut(&sitting.to_string()).unwrap().came_to = Some("credit");
            }
            Event::NoCredit { sitting, .. } => {
                let of = sittings.get_mut(&sitting.to_string()).unwrap();
                of.came_to = of.came_to.or(Some("no-credit"));
            }
            Event::SittingEnded { sitting, cut_short: true } => {
                sittings.get_mut(&sitting.to_string()).unwrap().came_to = Some("cut-short");
            }
            Event::Missed { kind: LookKind::First, sitting: Some(sitting), .. } => {
                sittings.get_mut(&sitting.to_string()).unwrap().missed += 1;
            }
            Event::Found { look, found, .. } => {
                if let Some(sitting) = of_look.get(look) {
                    let of = sittings.get_mut(sitting).unwrap();
                    of.worst = of.worst.max(Some(found.finding));
                }
            }
            _ => {}
        }
    }
    sittings
}

fn drawn(lived: &Lived) -> Vec<Group> {
    let languages = Languages::shipped();
    let w = languages.wording("en");
    groups(&Drawing::course(w, &lived.state, &lived.plan, &lived.entries, Width::Page).svg)
}

#[test]
fn every_sitting_of_the_journal_has_its_column_with_the_journals_numbers() {
    for (name, script) in scripts() {
        let lived = lived(&script);
        let all = drawn(&lived);
        let columns = of_kind(&all, "sitting");
        let journal = journalled(&lived.entries);
        assert_eq!(columns.len(), journal.len(), "{name}");
        for column in columns {
            let number = &column.data["sitting"];
            let said = &journal[number];
            assert_eq!(column.data["step"], said.step, "{name} {number}");
            assert_eq!(column.data["minutes"], said.minutes.to_string(), "{name} {number}");
            assert_eq!(column.data["at"], said.start, "{name} {number}");
            assert_eq!(column.data["missed"], said.missed.to_string(), "{name} {number}");
            let came_to = said.came_to.unwrap_or("no-credit");
            assert_eq!(column.data["came-to"], came_to, "{name} {number}");
            let fades: &[&str] = match said.worst {
                None => &["none"],
                Some(Finding::Clear) => &["clear", "none"],
                Some(Finding::Faded) => &["stated", "within"],
                Some(Finding::Marked) => &["stated", "within", "not-known"],
                Some(Finding::Persisting) => &["lasted"],
                Some(Finding::Alarming) => &["alarming"],
            };
            assert!(fades.contains(&column.data["fade"].as_str()), "{name} {number}");
            let hides_silence = said.missed > 0 && column.data["fade"] == "clear";
            assert!(!hides_silence, "{name} {number}: a missed look shows as clear");
        }
    }
}

#[test]
fn every_stop_hold_and_resumption_stands_in_the_picture_at_its_time() {
    for (name, script) in scripts() {
        let lived = lived(&script);
        let all = drawn(&lived);
        let shown: Vec<(&str, &str)> = of_kind(&all, "sign")
            .iter()
            .map(|group| (group.data["sign"].as_str(), group.data["at"].as_str()))
            .collect();
        let mut wanted = Vec::new();
        for entry in &lived.entries {
            let sign = match &entry.event {
                Event::Stopped { .. } => "stopped",
                Event::Suspended => "suspended",
                Event::Held { .. } => "held",
                Event::Resumed { .. } | Event::Unsuspended => "goes-on",
                Event::Routine { .. } => "routine",
                _ => continue,
            };
            wanted.push((sign, entry.at.to_rfc3339()));
        }
        let wanted: Vec<(&str, &str)> =
            wanted.iter().map(|(sign, at)| (*sign, at.as_str())).collect();
        assert_eq!(shown, wanted, "{name}");
    }
}

#[test]
fn bars_and_fade_times_are_drawn_to_scale_from_zero() {
    for (name, script) in scripts() {
        let lived = lived(&script);
        let all = drawn(&lived);
        let limits = of_kind(&all, "limit")[0];
        assert_eq!(limits.number("limit"), f64::from(lived.plan.looks.fade_limit.count()));
        let lines = limits.elements("line");
        let (foot, at_limit) = (attribute(lines[0], "y1"), attribute(lines[lines.len() - 1], "y1"));
        let minutes_at = |y: f64| (foot - y) / (foot - at_limit) * limits.number("limit");
        let mut of_minute = None;
        for column in of_kind(&all, "sitting") {
            let number = &column.data["sitting"];
            // The bar of a cancelled sitting is a cross.
            if column.data["came-to"] != "no-sitting" {
                let bar = column.elements("rect")[0];
                let each = attribute(bar, "height") / column.number("minutes");
                let scale = *of_minute.get_or_insert(each);
                let apart = (each - scale).abs() * column.number("minutes");
                assert!(apart <= 1.0, "{name} {number}: the bar is {apart:.1} off");
            }
            let near = |found: f64, wanted: f64| {
                assert!((found - wanted).abs() <= 0.2, "{name} {number}: {found:.2} for {wanted}");
            };
            match column.data["fade"].as_str() {
                "stated" => {
                    let stem = column.elements("line")[0];
                    near(minutes_at(attribute(stem, "y1")), 0.0);
                    near(minutes_at(attribute(stem, "y2")), column.number("from"));
                    assert_eq!(column.data["from"], column.data["to"], "{name} {number}");
                }
                "within" => {
                    let beam = column.elements("rect")[1];
                    let high = attribute(beam, "y");
                    near(minutes_at(high), column.number("to"));
                    near(minutes_at(high + attribute(beam, "height")), column.number("from"));
                }
                "lasted" => {
                    let arrow = column.elements("line")[0];
                    assert!(attribute(arrow, "y2") < at_limit, "{name} {number}: ends below");
                    assert_eq!(column.data["to"], "open", "{name} {number}");
                }
                _ => {}
            }
        }
    }
}

#[test]
fn a_projection_shows_the_number_that_the_hold_was_decided_by() {
    let (_, script) = scripts().into_iter().find(|(name, _)| *name == "projection").unwrap();
    let lived = lived(&script);
    let held = lived.entries.iter().rev().find_map(|entry| match &entry.event {
        Event::Held { expect_tenths, .. } => Some(*expect_tenths),
        _ => None,
    });
    let all = drawn(&lived);
    let expected = of_kind(&all, "expected-tenths");
    assert_eq!(expected.len(), 1);
    assert_eq!(Some(expected[0].data["expected-tenths"].clone()), held.map(|h| h.to_string()));
}

#[test]
fn the_map_counts_the_sittings_in_which_each_site_was_named_with_a_mark() {
    for (name, script) in scripts() {
        let lived = lived(&script);
        let languages = Languages::shipped();
        let w = languages.wording("en");
        let mut named: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        let mut sitting_of: BTreeMap<LookId, String> = BTreeMap::new();
        for entry in &lived.entries {
            match &entry.event {
                Event::LookPlanned { look, sitting: Some(sitting), .. } => {
                    sitting_of.insert(*look, format!("sitting {sitting}"));
                }
                Event::Asked { look, sitting, .. } => {
                    let of = sitting.map_or(format!("{look:?}"), |s| format!("sitting {s}"));
                    sitting_of.insert(*look, of);
                }
                Event::Found { look, found, .. } if found.finding > Finding::Clear => {
                    for site in &found.sites {
                        let of = sitting_of[look].clone();
                        named.entry(site.to_string()).or_default().insert(of);
                    }
                }
                _ => {}
            }
        }
        let wanted: BTreeMap<String, usize> =
            named.into_iter().map(|(site, of)| (site, of.len())).collect();
        let map = Drawing::marks(w, &lived.state, &lived.plan, Width::Page);
        let shown: BTreeMap<String, usize> = map.map_or_else(BTreeMap::new, |map| {
            let all = groups(&map.svg);
            let sites = of_kind(&all, "site").into_iter();
            sites
                .map(|group| (group.data["site"].clone(), group.data["times"].parse().unwrap()))
                .collect()
        });
        assert_eq!(shown, wanted, "{name}");
    }
}

#[test]
fn every_colour_of_a_picture_stands_out_from_the_grounds_that_it_is_drawn_on() {
    const PAPER: &str = "#ffffff";
    const SKIN: &str = "#f0e8e0";
    const SEAT: &str = "#e0e8f0";
    /// Grounds, and lines that only guide the eye: nothing is said by them.
    const QUIET: [&str; 4] = [PAPER, SKIN, SEAT, "#e0e0e8"];
    let languages = Languages::shipped();
    let w = languages.wording("en");
    let mut inks = BTreeSet::new();
    let mut texts = BTreeSet::new();
    for (_, script) in scripts() {
        let Lived { plan, state, entries } = lived(&script);
        let mut drawings =
            vec![Drawing::course(w, &state, &plan, &entries, Width::Phone), Drawing::places(w)];
        drawings.extend(Drawing::marks(w, &state, &plan, Width::Phone));
        for line in drawings.iter().flat_map(|drawing| drawing.svg.lines()) {
            let colours = line.split(['"']).filter(|part| part.starts_with('#') && part.len() == 7);
            let into = if line.starts_with("<text") { &mut texts } else { &mut inks };
            into.extend(colours.map(str::to_owned));
        }
    }
    assert!(inks.len() > 4 && texts.len() > 2, "{inks:?} {texts:?}");
    for ink in inks.iter().filter(|ink| !QUIET.contains(&ink.as_str())) {
        let found = contrast(ink, PAPER).unwrap();
        assert!(found >= 3.0, "{ink} on paper has {found:.2}");
    }
    for ink in &texts {
        // White letters stand on the dark red of an alarm.
        let ground = if ink == PAPER { "#881818" } else { PAPER };
        let found = contrast(ink, ground).unwrap();
        assert!(found >= 4.5, "{ink} on {ground} has {found:.2}");
    }
}

#[test]
fn every_picture_says_in_words_what_it_shows_in_every_language() {
    for language in Languages::shipped().codes() {
        let languages = Languages::shipped();
        let w = languages.wording(language);
        for (name, script) in scripts() {
            let Lived { plan, state, entries } = lived(&script);
            let course = Drawing::course(w, &state, &plan, &entries, Width::Phone);
            let title = format!("<title>{}</title>", course.described);
            assert!(course.svg.contains(&title), "{language} {name}");
            let limit = plan.looks.fade_limit.count().to_string();
            assert!(course.described.contains(&limit), "{language} {name}: {}", course.described);
            if let Some(map) = Drawing::marks(w, &state, &plan, Width::Phone) {
                assert!(map.svg.contains("role=\"img\""), "{language} {name}");
                assert!(map.described.len() > 30, "{language} {name}: {}", map.described);
            }
        }
    }
}
