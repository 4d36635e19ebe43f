//! JSON Schemas of the settings files, for editors: made from the descriptions by which the files
//! are read.
//!
//! Never here: a key of its own; reading files.
//! Promises: a key that a reader knows is in the schema, and no other; what a schema refuses, the
//! reader refuses too, but for white space around a word. The reader refuses more: what hangs on
//! two keys, or on the clinic's own names.

use serde_json::{Map, Value, json};

use super::client::CLIENT;
use super::clinic::CLINIC;
use super::fitting_keys::FITTING_FILE;
use super::plan_keys::PLAN;
use super::review_guide::GUIDE;
use super::scenario::SCENARIO;
use super::shape::{Key, Kind, Need, Shape};

/// A kind of settings file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SettingsFile {
    /// The clinic file.
    Clinic,
    /// A client file.
    Client,
    /// A file that holds a fitting only.
    Fitting,
    /// A plan.
    Plan,
    /// A scenario for a rehearsal.
    Scenario,
    /// A review guide.
    ReviewGuide,
}

impl SettingsFile {
    /// All kinds.
    pub const ALL: [Self; 6] =
        [Self::Clinic, Self::Client, Self::Fitting, Self::Plan, Self::Scenario, Self::ReviewGuide];

    /// The kind in a word, as in `clinic.schema.json`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clinic => "clinic",
            Self::Client => "client",
            Self::Fitting => "fitting",
            Self::Plan => "plan",
            Self::Scenario => "scenario",
            Self::ReviewGuide => "review-guide",
        }
    }

    fn shape(self) -> &'static Shape {
        match self {
            Self::Clinic => &CLINIC,
            Self::Client => &CLIENT,
            Self::Fitting => &FITTING_FILE,
            Self::Plan => &PLAN,
            Self::Scenario => &SCENARIO,
            Self::ReviewGuide => &GUIDE,
        }
    }

    /// The JSON Schema (draft 2020-12). Dates and times of TOML count as the texts they are
    /// written as, as editors have it.
    pub fn schema(self) -> Value {
        let mut schema = table(self.shape());
        schema.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
        Value::Object(schema)
    }
}

fn table(shape: &Shape) -> Map<String, Value> {
    let properties: Map<String, Value> =
        shape.keys.iter().map(|key| (key.name.to_owned(), property(key))).collect();
    let required: Vec<&str> =
        shape.keys.iter().filter(|key| key.need == Need::Required).map(|key| key.name).collect();
    let schema = json!({
        "title": shape.name,
        "type": "object",
        "additionalProperties": false,
        "properties": properties,
        "required": required,
    });
    match schema {
        Value::Object(schema) => schema,
        _ => unreachable!("an object was written above"),
    }
}

/// A key's schema, with what it is for and, where it is a plain value, an example.
fn property(key: &Key) -> Value {
    let mut schema = of_kind(key.kind);
    if let Value::Object(schema) = &mut schema {
        schema.insert("description".to_owned(), json!(key.purpose));
        if let Some(example) = example(key) {
            schema.insert("examples".to_owned(), json!([example]));
        }
    }
    schema
}

fn of_kind(kind: Kind) -> Value {
    match kind {
        Kind::Text | Kind::Path => json!({ "type": "string", "pattern": "\\S" }),
        Kind::MaybeText => json!({ "type": "string" }),
        Kind::Id => json!({ "type": "string", "pattern": ID }),
        Kind::Duration | Kind::Wait => json!({ "type": "string", "pattern": DURATION }),
        Kind::Count(least, most) => json!({ "type": "integer", "minimum": least, "maximum": most }),
        Kind::Date => json!({ "type": "string", "pattern": DATE }),
        Kind::Time => json!({ "type": "string", "pattern": TIME }),
        Kind::Moment => json!({ "type": "string", "pattern": MOMENT }),
        Kind::Texts => list(json!({ "type": "string", "pattern": "\\S" })),
        Kind::Times => list(json!({ "type": "string", "pattern": TIME })),
        Kind::Hours => {
            json!({ "type": "array", "minItems": 1, "items": { "type": "string", "pattern": HOURS } })
        }
        Kind::Counts(least, most) => {
            list(json!({ "type": "integer", "minimum": least, "maximum": most }))
        }
        Kind::Word(words) => json!({ "enum": words }),
        Kind::WordOrTable(words, shape) => json!({ "anyOf": [{ "enum": words }, table(shape)] }),
        Kind::Table(shape) => Value::Object(table(shape)),
        Kind::Tables(shape) => list(Value::Object(table(shape))),
        Kind::Named(shape) => json!({ "type": "object", "additionalProperties": table(shape) }),
        Kind::YesNo => json!({ "type": "boolean" }),
        Kind::Clearance => json!({ "type": "string", "pattern": CLEARANCE }),
        Kind::TextsByName => {
            json!({ "type": "object", "additionalProperties": { "type": "string" } })
        }
        Kind::Mail => json!({ "type": "string", "pattern": MAIL }),
        Kind::Bands => json!({
            "type": "object",
            "additionalProperties": {
                "type": "array",
                "items": { "type": "integer", "minimum": 0 },
                "minItems": 2,
                "maxItems": 2,
            },
        }),
        Kind::PathOrTable(shape) => {
            json!({ "anyOf": [{ "type": "string", "pattern": "\\S" }, table(shape)] })
        }
    }
}

fn list(items: Value) -> Value {
    json!({ "type": "array", "items": items })
}

/// The example of a plain value; those of tables are headers only.
fn example(key: &Key) -> Option<Value> {
    let is_header = key.example.starts_with('[') && key.example.contains("]\n")
        || matches!(key.kind, Kind::Table(_) | Kind::Tables(_) | Kind::Named(_));
    if is_header && !key.example.starts_with('{') {
        return None;
    }
    let table: toml::Table = toml::from_str(&format!("it = {}", key.example)).ok()?;
    plain(table.get("it")?)
}

fn plain(value: &toml::Value) -> Option<Value> {
    match value {
        toml::Value::Datetime(at) => Some(json!(at.to_string())),
        other => serde_json::to_value(other).ok(),
    }
}

// Each pattern lets through all that its reader takes; some let through a little more, such as the
// 31st of June. White space around a text is dropped by the readers.

/// `care::person`: letters and digits, then also `-`, `_` and `.`.
const ID: &str = "^\\s*[A-Za-z0-9][A-Za-z0-9._-]*\\s*$";
/// `care::amount`: days, hours, minutes, each at most once.
const DURATION: &str = "^\\s*(?=\\S)([0-9]+d)?([0-9]+h)?([0-9]+min)?\\s*$";
const DATE: &str = "^\\s*[0-9]{4}-[0-9]{2}-[0-9]{2}\\s*$";
const TIME: &str = "^\\s*([01][0-9]|2[0-3]):[0-5][0-9](:00(\\.0*)?)?\\s*$";
/// `care::hours`: days, where they are not all, and from when until when.
const HOURS: &str = "^\\s*((Mon|Tue|Wed|Thu|Fri|Sat|Sun)([,-](Mon|Tue|Wed|Thu|Fri|Sat|Sun))*\\s+)?\
                     ([01][0-9]|2[0-3]):[0-5][0-9]-(([01][0-9]|2[0-3]):[0-5][0-9]|24:00)\\s*$";
const MOMENT: &str = "^\\s*[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}";
/// `care::fitting::clearance`: millimetres, or inches in fractions.
const CLEARANCE: &str = "^\\s*[0-9]+([./ ][0-9]+)?(\\s*[0-9]+/[0-9]+)?\\s*(mm|in|\")\\s*$";
const MAIL: &str = "^\\s*[^@\\s]+@[^@\\s]+\\s*$";
