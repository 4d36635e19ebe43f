//! A table of risks: each has a control and tests that exist, and the README shows it.
//!
//! Never here: the risks themselves; the tests that show that a control works.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// One risk.
pub struct Risk {
    pub id: String,
    /// What could go wrong, or who could want what.
    pub what: String,
    /// What is done against it.
    pub control: String,
    /// The names of the tests that show that the control works.
    pub tests: Vec<String>,
}

/// A table of them.
pub struct RiskTable {
    /// The table stands in the README between the lines `<!-- NAME -->` and `<!-- /NAME -->`.
    pub name: &'static str,
    /// What stands above the columns of risks and of controls.
    pub headings: [&'static str; 2],
    pub risks: Vec<Risk>,
}

/// A file of the repository.
pub fn file(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

impl RiskTable {
    /// Ends the test unless there are at least so many risks, each with a control and tests that
    /// exist.
    pub fn check_controls(&self, least: usize) {
        let mut names = BTreeSet::new();
        collect_tests(&file("src"), &mut names);
        collect_tests(&file("tests"), &mut names);
        let mut ids = BTreeSet::new();
        for risk in &self.risks {
            assert!(ids.insert(&risk.id), "{} is listed twice", risk.id);
            assert!(!risk.what.is_empty() && !risk.control.is_empty(), "{}", risk.id);
            assert!(!risk.tests.is_empty(), "{} has no test", risk.id);
            for test in &risk.tests {
                assert!(names.contains(test), "{}: there is no test `{test}`", risk.id);
            }
        }
        assert!(ids.len() >= least, "the list of {} has shrunk to {}", self.name, ids.len());
    }

    /// Ends the test unless the README shows the table as it is; with the environment variable
    /// `to_write` set, writes it there instead. `command` is how a person does that.
    pub fn check_readme(&self, to_write: &str, command: &str) {
        let (begin, end) = (format!("<!-- {} -->", self.name), format!("<!-- /{} -->", self.name));
        let path = file("README.md");
        let readme = fs::read_to_string(&path).unwrap();
        let (before, rest) = readme.split_once(&begin).expect("the README marks the table's begin");
        let (shown, after) = rest.split_once(&end).expect("the README marks the table's end");
        let wanted = format!("\n{}", self.as_markdown());
        if std::env::var_os(to_write).is_some() {
            fs::write(&path, format!("{before}{begin}{wanted}{end}{after}")).unwrap();
            return;
        }
        assert_eq!(shown, wanted, "run {to_write}=1 {command}");
    }

    fn as_markdown(&self) -> String {
        let [risks, controls] = self.headings;
        let mut table = format!("| {risks} | {controls} | Shown by |\n| --- | --- | --- |\n");
        for Risk { id, what, control, tests } in &self.risks {
            let tests: Vec<String> = tests.iter().map(|test| format!("`{test}`")).collect();
            table.push_str(&format!("| **{id}** {what} | {control} | {} |\n", tests.join("<br>")));
        }
        table
    }
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
