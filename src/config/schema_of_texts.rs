//! JSON Schemas of files of words: texts by key, each with the slots that the program fills.
//!
//! Never here: which texts there are (the rooms that say them list them).
//! Promises: what a schema refuses, the reader of the words refuses too. The reader refuses more, such
//! as a text of nothing but spaces.

use serde_json::{Map, Value, json};

/// The schema of a file of texts. `keys` are their keys, with dots between tables, each with its
/// slots; `more` are further tables with their schemas.
pub fn schema_of_texts<'a>(
    title: &str,
    keys: impl IntoIterator<Item = (String, &'a [&'a str])>,
    more: Map<String, Value>,
) -> Value {
    let mut tables =
        Node { inner: more.into_iter().map(|(k, v)| (k, Node::of(v))).collect(), own: None };
    for (key, slots) in keys {
        let mut node = &mut tables;
        for part in key.split('.') {
            node = node.inner.entry(part.to_owned()).or_default();
        }
        node.own = Some(text(slots));
    }
    let mut schema = tables.schema();
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!(title);
    schema
}

/// A key: a text, or a table of further keys.
#[derive(Default)]
struct Node {
    own: Option<Value>,
    inner: std::collections::BTreeMap<String, Node>,
}

impl Node {
    fn of(schema: Value) -> Self {
        Self { own: Some(schema), ..Self::default() }
    }

    fn schema(self) -> Value {
        if let Some(own) = self.own {
            return own;
        }
        let required: Vec<&String> = self.inner.keys().collect();
        let required = json!(required);
        let properties: Map<String, Value> =
            self.inner.into_iter().map(|(key, node)| (key, node.schema())).collect();
        json!({
            "type": "object",
            "additionalProperties": false,
            "properties": properties,
            "required": required,
        })
    }
}

/// A text that has every slot and no other.
fn text(slots: &[&str]) -> Value {
    let only = match slots {
        [] => "^[^{]*$".to_owned(),
        slots => format!("^([^{{]|\\{{({})\\}})*$", slots.join("|")),
    };
    let each: Vec<Value> =
        slots.iter().map(|slot| json!({ "pattern": format!("\\{{{slot}\\}}") })).collect();
    let mut schema = json!({ "type": "string", "minLength": 1, "pattern": only });
    if !slots.is_empty() {
        let named: Vec<String> = slots.iter().map(|slot| format!("{{{slot}}}")).collect();
        schema["description"] = json!(format!("The program fills {}.", named.join(", ")));
        schema["allOf"] = json!(each);
    }
    schema
}
