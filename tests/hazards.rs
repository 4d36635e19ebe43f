//! Every hazard has a control, and every control has tests that exist; the README shows the table.
//!
//! Never here: the tests that show that a control works.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Deserialize;

/// The table stands between these lines of the README.
const BEGIN: &str = "<!-- hazards -->";
const END: &str = "<!-- /hazards -->";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    hazard: Vec<Hazard>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Hazard {
    id: String,
    harm: String,
    control: String,
    tests: Vec<String>,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn hazards() -> Vec<Hazard> {
    let text = fs::read_to_string(root().join("tests/hazards.toml")).unwrap();
    toml::from_str::<File>(&text).unwrap().hazard
}

/// The names of all test functions below a folder.
fn collect_tests(folder: &Path, names: &mut BTreeSet<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect_tests(&path, names);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let text = fs::read_to_string(&path).unwrap();
            let mut is_test = false;
            for line in text.lines().map(str::trim) {
                if line.starts_with("#[test]") || line.starts_with("#[tokio::test") {
                    is_test = true;
                } else if let Some((_, after)) = line.split_once("fn ")
                    && std::mem::take(&mut is_test)
                {
                    let name = after.split(['(', '<']).next().unwrap_or_default();
                    names.insert(name.to_owned());
                }
            }
        }
    }
}

fn table(hazards: &[Hazard]) -> String {
    let mut table = String::from("| What could go wrong | What is done against it | Shown by |\n");
    table.push_str("| --- | --- | --- |\n");
    for hazard in hazards {
        let tests: Vec<String> = hazard.tests.iter().map(|test| format!("`{test}`")).collect();
        table.push_str(&format!(
            "| **{}** {} | {} | {} |\n",
            hazard.id,
            hazard.harm,
            hazard.control,
            tests.join("<br>")
        ));
    }
    table
}

#[test]
fn every_hazard_has_a_control_and_tests_that_exist() {
    let mut names = BTreeSet::new();
    collect_tests(&root().join("src"), &mut names);
    collect_tests(&root().join("tests"), &mut names);
    let mut ids = BTreeSet::new();
    for hazard in hazards() {
        assert!(ids.insert(hazard.id.clone()), "{} is listed twice", hazard.id);
        assert!(!hazard.harm.is_empty() && !hazard.control.is_empty(), "{}", hazard.id);
        assert!(!hazard.tests.is_empty(), "{} has no test", hazard.id);
        for test in &hazard.tests {
            assert!(names.contains(test), "{}: there is no test `{test}`", hazard.id);
        }
    }
    assert!(ids.len() >= 12, "the list of hazards has shrunk to {}", ids.len());
}

#[test]
fn the_readme_shows_the_table_of_hazards() {
    let path = root().join("README.md");
    let readme = fs::read_to_string(&path).unwrap();
    let (before, rest) = readme.split_once(BEGIN).expect("the README marks where the table stands");
    let (shown, after) = rest.split_once(END).expect("the README marks where the table ends");
    let wanted = format!("\n{}", table(&hazards()));
    if std::env::var_os("FADEWATCH_WRITE_HAZARDS").is_some() {
        fs::write(&path, format!("{before}{BEGIN}{wanted}{END}{after}")).unwrap();
        return;
    }
    assert_eq!(shown, wanted, "run FADEWATCH_WRITE_HAZARDS=1 cargo test --test hazards");
}
