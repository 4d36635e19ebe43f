//! The page of rulings keeps its word: every ruling names a test that exists.

use std::fs;
use std::path::Path;

#[test]
fn every_ruling_names_its_rule_and_tests_that_exist() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = fs::read_to_string(root.join("src/follow_up/rulings.rs")).unwrap();
    let text: String = page.lines().map(|line| line.trim_start_matches("//!")).collect();
    let rulings: Vec<&str> = text.split(" - **R").skip(1).collect();
    assert!(rulings.len() >= 30, "only {} rulings were found", rulings.len());
    let tests = tests_of(&root.join("tests/rules")) + &tests_of(&root.join("tests/acts"));
    for ruling in rulings {
        let shown_by: Vec<&str> =
            ruling.split('`').skip(1).step_by(2).filter(|name| is_a_sentence(name)).collect();
        assert!(!shown_by.is_empty(), "no test shows the ruling on R{ruling}");
        for test in shown_by {
            let declared = format!("fn {test}()");
            assert!(tests.contains(&declared), "there is no test `{test}`");
        }
    }
}

/// Every rule has a test that says so in its doc comment.
#[test]
fn every_rule_from_r1_to_r29_is_named_by_a_test() {
    let tests = tests_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/rules"));
    let comments: Vec<&str> = tests.lines().filter(|line| line.starts_with("/// ")).collect();
    for rule in 1..=29 {
        let name = format!("R{rule}");
        let named =
            |line: &&str| line.split(|c: char| !c.is_ascii_alphanumeric()).any(|word| word == name);
        assert!(comments.iter().any(named), "no test names {name}");
    }
}

fn tests_of(folder: &Path) -> String {
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let rust = files.filter(|path| path.extension().is_some_and(|name| name == "rs"));
    rust.map(|path| fs::read_to_string(path).unwrap()).collect()
}

/// Names of tests are sentences; settings and lines of the format are shorter.
fn is_a_sentence(name: &str) -> bool {
    name.matches('_').count() >= 3 && name.chars().all(|c| c.is_ascii_lowercase() || c == '_')
}
