//! The one-tap answers that our own notices offer, as data of a language: read with certainty.
//!
//! Never here: how a tap becomes a link (`notice`), what a reading leads to.
//! Promises: every tap has a reading that fits what it answers, and no two taps of one kind of
//! message say the same.

use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

use super::Answering;
use crate::care::Reading;

/// Stands for a number in the body of a tap.
pub(crate) const NUMBER_SLOT: &str = "{step}";

/// One answer to tap.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tap {
    /// Stable name within its kind of message, such as `marked`.
    pub id: String,
    /// What it means.
    #[schemars(schema_with = "reading_by_name")]
    pub reading: Reading,
    /// What the link says.
    pub label: String,
    /// What the prefilled reply says. `{step}` stands for a number that the notice fills in.
    pub body: String,
    /// What the writer is asked to add after the body, such as the site; none where it is complete.
    #[serde(default)]
    pub asks: Option<String>,
}

fn reading_by_name(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "enum": Reading::ALL.map(Reading::name) })
}

/// The one-tap answers by what they answer.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TapTable {
    start: Vec<Tap>,
    look: Vec<Tap>,
    recheck: Vec<Tap>,
    alert: Vec<Tap>,
}

impl TapTable {
    /// The taps by what they answer.
    ///
    /// # Errors
    /// In words, when a tap's reading does not fit, or two taps have the same id or body.
    pub(crate) fn checked(&self) -> Result<BTreeMap<Answering, Vec<Tap>>, String> {
        let all = BTreeMap::from([
            (Answering::Start, self.start.clone()),
            (Answering::Look, self.look.clone()),
            (Answering::Recheck, self.recheck.clone()),
            (Answering::Alert, self.alert.clone()),
        ]);
        for (answering, taps) in &all {
            for (i, tap) in taps.iter().enumerate() {
                if tap.reading.is_clinicians() != (*answering == Answering::Alert)
                    || matches!(tap.reading, Reading::Unclear | Reading::Automatic)
                {
                    let Tap { id, reading, .. } = tap;
                    return Err(format!("tap `{id}` of {answering} cannot mean `{reading}`"));
                }
                if taps[..i].iter().any(|other| other.id == tap.id || other.body == tap.body) {
                    return Err(format!(
                        "two taps of {answering} are `{}` or say the same",
                        tap.id
                    ));
                }
            }
        }
        Ok(all)
    }
}
