//! Every threat has a control, and every control has tests that exist; the README shows the table.
//!
//! Never here: the tests that show that a control works.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Deserialize;

/// The table stands between these lines of the README.
const BEGIN: &str = "<!-- threats -->";
const END: &str = "<!-- /threats -->";

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    threat: Vec<Threat>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Threat {
    id: String,
    who: String,
    control: String,
    tests: Vec<String>,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn threats() -> Vec<Threat> {
    let text = fs::read_to_string(root().join("tests/threats.toml")).unwrap();
    toml::from_str::<File>(&text).unwrap().threat
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
                    names.insert(after.split(['(', '<']).next().unwrap_or_default().to_owned());
                }
            }
        }
    }
}

fn table(threats: &[Threat]) -> String {
    let mut table = String::from("| Who could want what | How it is stopped | Shown by |\n");
    table.push_str("| --- | --- | --- |\n");
    for threat in threats {
        let tests: Vec<String> = threat.tests.iter().map(|test| format!("`{test}`")).collect();
        let Threat { id, who, control, .. } = threat;
        table.push_str(&format!("| **{id}** {who} | {control} | {} |\n", tests.join("<br>")));
    }
    table
}

#[test]
fn every_threat_has_a_control_and_tests_that_exist() {
    let mut names = BTreeSet::new();
    collect_tests(&root().join("src"), &mut names);
    collect_tests(&root().join("tests"), &mut names);
    let mut ids = BTreeSet::new();
    for threat in threats() {
        assert!(ids.insert(threat.id.clone()), "{} is listed twice", threat.id);
        assert!(!threat.who.is_empty() && !threat.control.is_empty(), "{}", threat.id);
        assert!(!threat.tests.is_empty(), "{} has no test", threat.id);
        for test in &threat.tests {
            assert!(names.contains(test), "{}: there is no test `{test}`", threat.id);
        }
    }
    assert!(ids.len() >= 14, "the list of threats has shrunk to {}", ids.len());
}

#[test]
fn the_readme_shows_the_table_of_threats() {
    let path = root().join("README.md");
    let readme = fs::read_to_string(&path).unwrap();
    let (before, rest) = readme.split_once(BEGIN).expect("the README marks where the table stands");
    let (shown, after) = rest.split_once(END).expect("the README marks where the table ends");
    let wanted = format!("\n{}", table(&threats()));
    if std::env::var_os("FADEWATCH_WRITE_THREATS").is_some() {
        fs::write(&path, format!("{before}{BEGIN}{wanted}{END}{after}")).unwrap();
        return;
    }
    assert_eq!(shown, wanted, "run FADEWATCH_WRITE_THREATS=1 cargo test --test trust threats");
}
