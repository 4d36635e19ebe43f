//! Every threat has a control, and every control has tests that exist; the README shows the table.
//!
//! Never here: the tests that show that a control works.

use std::fs;

use serde::Deserialize;

use crate::risk_table::{self, Risk, RiskTable};

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

fn threats() -> RiskTable {
    let text = fs::read_to_string(risk_table::file("tests/threats.toml")).unwrap();
    let risks = toml::from_str::<File>(&text).unwrap().threat.into_iter();
    let risk = |Threat { id, who, control, tests }| Risk { id, what: who, control, tests };
    RiskTable {
        name: "threats",
        headings: ["Who could want what", "How it is stopped"],
        risks: risks.map(risk).collect(),
    }
}

#[test]
fn every_threat_has_a_control_and_tests_that_exist() {
    threats().check_controls(14);
}

#[test]
fn the_readme_shows_the_table_of_threats() {
    threats().check_readme("FADEWATCH_WRITE_THREATS", "cargo test --test trust threats");
}
