//! The core against a second, independent implementation of the rules, on random scenarios.
//!
//! `make_scenarios.py` and `make_corners.py` make the scenarios and `reference.py` prints what has
//! to happen. More seeds by hand, here the 40 from 100 on, with 1000 scenarios each:
//! `FADEWATCH_RULES_SEEDS=100..140 FADEWATCH_RULES_COUNT=1000 cargo test --test rules agrees`

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;

use fadewatch::care::Verdict;
use fadewatch::config::{Scenario, parse_scenario};
use fadewatch::rehearsal::{json_line, rehearse};

use crate::python;

/// What a usual test run compares: 4 seeds with 130 scenarios each.
const SEEDS: std::ops::Range<u32> = 1..5;
const COUNT: u32 = 130;
/// Seeds that are compared at the same time.
const AT_ONCE: usize = 4;

/// What a usual test run compares of the corners: fewer, since many of them run long.
const CORNER_SEEDS: std::ops::Range<u32> = 1..3;
const CORNER_COUNT: u32 = 60;

#[test]
fn the_core_agrees_with_an_independent_reading_of_the_rules() {
    agree("rules/make_scenarios.py", SEEDS, COUNT, 100);
}

/// Nights of clock changes, odd numbers, everything said twice and days late.
#[test]
fn the_core_agrees_with_an_independent_reading_at_the_corners_too() {
    agree("rules/make_corners.py", CORNER_SEEDS, CORNER_COUNT, 30);
}

/// Makers may write what is refused, which says nothing about the rules: at least so many percent
/// of what one makes must be compared.
fn agree(maker: &str, seeds: std::ops::Range<u32>, count: u32, at_least: u32) {
    let count = from_environment("FADEWATCH_RULES_COUNT").map_or(count, |text| {
        text.parse().expect("FADEWATCH_RULES_COUNT is a number of scenarios a seed")
    });
    let seeds = from_environment("FADEWATCH_RULES_SEEDS").map_or(seeds, |text| {
        let (from, to) = text.split_once("..").expect("FADEWATCH_RULES_SEEDS is like 100..140");
        from.parse().unwrap()..to.parse().unwrap()
    });
    let mut compared: Vec<(u32, Vec<String>)> = Vec::new();
    for seeds in seeds.collect::<Vec<u32>>().chunks(AT_ONCE) {
        thread::scope(|scope| {
            let runs: Vec<_> = seeds
                .iter()
                .map(|seed| scope.spawn(move || compare(maker, *seed, count)))
                .collect();
            compared.extend(runs.into_iter().map(|run| run.join().unwrap()));
        });
    }
    let agreed: u32 = compared.iter().map(|(agreed, _)| agreed).sum();
    let differences: Vec<&String> = compared.iter().flat_map(|(_, differ)| differ).collect();
    let shown: Vec<&str> = differences.iter().take(5).map(|text| text.as_str()).collect();
    assert!(
        differences.is_empty(),
        "{agreed} scenarios agree, {} differ:\n{}",
        differences.len(),
        shown.join("\n")
    );
    let made = u32::try_from(compared.len()).unwrap() * count;
    assert!(agreed * 100 >= made * at_least, "only {agreed} of {made} scenarios were compared");
}

/// Compares all scenarios of a seed that are not refused: how many agree, and the differences in
/// words.
fn compare(maker: &str, seed: u32, count: u32) -> (u32, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().to_str().unwrap();
    let (seed_word, count_word) = (seed.to_string(), count.to_string());
    python::run(maker, &[&seed_word, &count_word, at], b"");
    let read: Vec<(u32, PathBuf, Scenario)> = (0..count)
        .filter_map(|number| {
            let file = folder.path().join(format!("s{seed}-{number:05}.toml"));
            let scenario = scenario_in(&file)?;
            Some((number, file, scenario))
        })
        .collect();
    let names: Vec<&str> = read.iter().map(|(_, file, _)| file.to_str().unwrap()).collect();
    let expected = python::run("rules/reference.py", &[&["--many"], &names[..]].concat(), b"");
    let mut agreed = 0;
    let mut differences = Vec::new();
    let blocks: Vec<&str> = expected.split("== ").skip(1).collect();
    assert_eq!(blocks.len(), read.len(), "some were not compared");
    for ((number, _, scenario), block) in read.iter().zip(blocks) {
        let (_, expected) = block.split_once('\n').unwrap();
        match difference(scenario, expected) {
            None => agreed += 1,
            Some(lines) => differences.push(format!(
                "seed {seed} number {number}:\n{lines}\
                 to repeat: python3 tests/{maker} {seed} {} FOLDER, then\n\
                 fadewatch rehearse FOLDER/s{seed}-{number:05}.toml --json, and\n\
                 python3 tests/rules/reference.py FOLDER/s{seed}-{number:05}.toml\n",
                number + 1,
            )),
        }
    }
    (agreed, differences)
}

/// The first line that differs, with what comes before it.
fn difference(scenario: &Scenario, expected: &str) -> Option<String> {
    let ours = our_lines(scenario);
    let theirs: Vec<&str> = expected.lines().collect();
    if ours == theirs {
        return None;
    }
    let same = ours.iter().zip(&theirs).take_while(|(ours, theirs)| ours == theirs).count();
    let nth = |lines: Option<&str>| lines.unwrap_or("(the end)").to_owned();
    let before = nth(same.checked_sub(1).map(|before| theirs[before]));
    let core = nth(ours.get(same).map(String::as_str));
    let reference = nth(theirs.get(same).copied());
    Some(format!("  before     {before}\n  core       {core}\n  reference  {reference}\n"))
}

/// The scenario in a file; none where it is refused.
fn scenario_in(file: &Path) -> Option<Scenario> {
    let text = fs::read_to_string(file).unwrap();
    let read = parse_scenario("scenario.toml", &text, |name| Err(name.to_owned()));
    read.ok().map(|read| read.value)
}

fn our_lines(scenario: &Scenario) -> Vec<String> {
    let unread = |_: &str, _| -> Verdict { unreachable!("random scenarios have no words") };
    let happened = rehearse(scenario, unread);
    happened.entries.iter().filter_map(|entry| json_line(&happened.calendar, entry)).collect()
}

fn from_environment(name: &str) -> Option<String> {
    std::env::var(name).ok()
}
