//! What browsers are told that a page may load and do, weighed by an outside evaluator.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use crate::clinic::Clinic;

/// What the evaluator finds, without its words.
fn found(policy: &str) -> Vec<Value> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let node = root.join("target/node");
    if !node.join("node_modules/csp_evaluator").is_dir() {
        let setup = Command::new("bash").arg(root.join("tests/setup.sh")).status().unwrap();
        assert!(setup.success(), "tests/setup.sh failed; see above");
    }
    let mut child = Command::new("node")
        .arg(root.join("tests/board/weigh_policy.js"))
        .arg(&node)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(policy.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "the evaluator failed; see above");
    let found: Vec<Value> = serde_json::from_slice(&output.stdout).unwrap();
    found.iter().map(|f| json!([f["severity"], f["directive"], f["value"]])).collect()
}

#[test]
fn an_outside_evaluator_finds_nothing_in_the_policy_but_a_may_be_that_does_not_hold_here() {
    let clinic = Clinic::busy();
    let staff = clinic.sign_in("desk");
    // Scripts of our own would be dangerous where the board handed out what others wrote as a file
    // of its own; everything that it hands out as a file is in the program.
    let may_be = [json!(["MEDIUM_MAYBE", "script-src", "'self'"])];
    for path in ["/sign-in", "/", "/client/A7", "/client/A7/contacts", "/health", "/nowhere"] {
        let answer = staff.get(path);
        let policy = answer.header("content-security-policy").unwrap();
        assert_eq!(found(policy), may_be, "{path}: {policy}");
    }
    let weak = found("script-src 'self' 'unsafe-inline'");
    assert!(weak.contains(&json!(["HIGH", "script-src", "'unsafe-inline'"])), "{weak:?}");
}
