//! The JSON Schemas of the TOML files, held against the shipped files by an outside validator.

use std::fs;
use std::path::{Path, PathBuf};

use fadewatch::config::SettingsFile;
use serde_json::{Value, json};

use crate::python;

fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Every shipped settings file with its kind.
fn shipped() -> Vec<(SettingsFile, PathBuf)> {
    let mut files = vec![
        (SettingsFile::Clinic, here("config/clinic.toml")),
        (SettingsFile::Clinic, here("tests/config/right/clinic.toml")),
        (SettingsFile::Client, here("config/client-example.toml")),
        (SettingsFile::Client, here("tests/config/right/client.toml")),
        (SettingsFile::Plan, here("tests/config/right/plan.toml")),
        (SettingsFile::Scenario, here("tests/config/right/scenario.toml")),
        (SettingsFile::ReviewGuide, here("config/review-guide.toml")),
    ];
    for (folder, kind) in
        [("config/plans", SettingsFile::Plan), ("config/scenarios", SettingsFile::Scenario)]
    {
        let entries = fs::read_dir(here(folder)).unwrap().map(|entry| entry.unwrap().path());
        files.extend(entries.map(|path| (kind, path)));
    }
    files
}

/// What the validator says of each file: its keys that were misspelt, and those let through.
fn held_against(files: &[Value]) -> Vec<(String, u32, Vec<String>)> {
    let input = serde_json::to_vec(files).unwrap();
    let said = python::run("config/schemas.py", &[], &input);
    let line = |line: &str| {
        let mut words = line.split(' ').map(str::to_owned);
        let (name, count) = (words.next().unwrap(), words.next().unwrap().parse().unwrap());
        (name, count, words.collect())
    };
    said.lines().map(line).collect()
}

#[test]
fn every_shipped_file_is_valid_by_its_schema_and_each_misspelt_key_is_not() {
    let files: Vec<Value> = shipped()
        .into_iter()
        .map(|(kind, path)| {
            let name = path.file_name().unwrap().to_string_lossy().replace(' ', "-");
            json!({ "name": name, "schema": kind.schema(), "toml": fs::read_to_string(path).unwrap() })
        })
        .collect();
    let said = held_against(&files);
    assert_eq!(said.len(), files.len());
    for (name, count, through) in said {
        assert!(count >= 5, "{name}: only {count} keys");
        assert_eq!(through, Vec::<String>::new(), "{name}: misspelt and let through");
    }
}

/// The schema that the program prints for a kind of file.
fn printed(kind: &str) -> Value {
    let program = assert_cmd::cargo::cargo_bin!("fadewatch");
    let output = std::process::Command::new(program).args(["schema", kind]).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_words_of_every_language_are_valid_by_their_schemas_and_each_misspelt_key_is_not() {
    let mut files = Vec::new();
    for (file, kind) in
        [("wording", "wording"), ("lexicon", "lexicon"), ("fitting", "fitting-words")]
    {
        let schema = printed(kind);
        for language in ["de", "en", "es", "fr"] {
            let path = here(&format!("config/languages/{language}/{file}.toml"));
            let toml = fs::read_to_string(path).unwrap();
            files.push(
                json!({ "name": format!("{language}-{kind}"), "schema": schema, "toml": toml }),
            );
        }
    }
    let said = held_against(&files);
    assert_eq!(said.len(), files.len());
    for (name, count, through) in said {
        assert!(count >= 50, "{name}: only {count} keys");
        // Places and ideas of which a language says nothing may be left out of a lexicon.
        assert_eq!(through, Vec::<String>::new(), "{name}: misspelt and let through");
    }
}

#[test]
fn a_text_that_lacks_a_slot_or_has_one_too_many_is_refused_by_the_schema() {
    let schema = &printed("fitting-words")["properties"]["next"]["properties"]["add-piece"];
    let pattern = schema["pattern"].as_str().unwrap();
    assert_eq!(pattern, r"^([^{]|\{(side)\})*$");
    assert_eq!(schema["allOf"], json!([{ "pattern": r"\{side\}" }]));
}

#[test]
fn a_fitting_of_its_own_is_valid_by_its_schema() {
    let client = fs::read_to_string(here("config/client-example.toml")).unwrap();
    let (_, fitting) = client.split_once("[fitting]").unwrap();
    let toml = format!("[fitting]{fitting}");
    let schema = SettingsFile::Fitting.schema();
    let said = held_against(&[json!({ "name": "fitting", "schema": schema, "toml": toml })]);
    assert_eq!(said[0].2, Vec::<String>::new());
}

/// Every example that stands in a schema, with its key's own schema.
fn examples(schema: &Value, found: &mut Vec<(Value, Value)>) {
    match schema {
        Value::Object(inner) => {
            for example in inner.get("examples").and_then(Value::as_array).into_iter().flatten() {
                found.push((schema.clone(), example.clone()));
            }
            inner.values().for_each(|inner| examples(inner, found));
        }
        Value::Array(inner) => inner.iter().for_each(|inner| examples(inner, found)),
        _ => {}
    }
}

#[test]
fn every_example_in_a_schema_is_right_by_it() {
    let mut found = Vec::new();
    SettingsFile::ALL.iter().for_each(|kind| examples(&kind.schema(), &mut found));
    assert!(found.len() > 100, "only {} examples", found.len());
    let files: Vec<Value> = found
        .into_iter()
        .map(|(schema, example)| {
            let schema = json!({
                "type": "object", "properties": { "it": schema }, "additionalProperties": false
            });
            let written = toml::to_string(&json!({ "it": example })).unwrap();
            json!({ "name": "example", "schema": schema, "toml": written })
        })
        .collect();
    held_against(&files);
}
