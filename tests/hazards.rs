//! Every hazard has a control, and every control has tests that exist; the README shows the table.
//!
//! Never here: the tests that show that a control works.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

mod risk_table;

use std::fs;

use risk_table::{Risk, RiskTable};
use serde::Deserialize;

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

fn hazards() -> RiskTable {
    let text = fs::read_to_string(risk_table::file("tests/hazards.toml")).unwrap();
    let risks = toml::from_str::<File>(&text).unwrap().hazard.into_iter();
    let risk = |Hazard { id, harm, control, tests }| Risk { id, what: harm, control, tests };
    RiskTable {
        name: "hazards",
        headings: ["What could go wrong", "What is done against it"],
        risks: risks.map(risk).collect(),
    }
}

#[test]
fn every_hazard_has_a_control_and_tests_that_exist() {
    hazards().check_controls(12);
}

#[test]
fn the_readme_shows_the_table_of_hazards() {
    hazards().check_readme("FADEWATCH_WRITE_HAZARDS", "cargo test --test hazards");
}
