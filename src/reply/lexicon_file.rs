//! What a `lexicon.toml` holds, and its schema.
//!
//! Never here: what becomes of it.
//! Promises: a table that is missing or unknown is an error.

use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::concept::Concept;
use super::round::RoundTable;
use super::taps::TapTable;
use crate::care::Place;

/// The words of one language, by which replies are read.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LexiconFile {
    /// Endings of a plural.
    pub(super) plural: Vec<String>,
    /// Endings that make a word of another.
    #[serde(default)]
    pub(super) derived: Vec<String>,
    /// What an ending stands for.
    #[serde(default)]
    pub(super) endings: BTreeMap<String, String>,
    /// Words that are written onto the next without their last letter, and their whole form.
    #[serde(default)]
    pub(super) elisions: BTreeMap<String, String>,
    /// Contractions and common misspellings, and what they stand for.
    #[serde(default)]
    pub(super) rewrites: BTreeMap<String, String>,
    /// Words that mean something else in capitals.
    #[serde(default)]
    pub(super) capitals: BTreeMap<String, String>,
    /// Words that say nothing here, so that they are not taken for misspellings of others.
    pub(super) plain: String,
    /// Numbers in words.
    pub(super) numbers: BTreeMap<String, u32>,
    /// Words such as 'third', which are numbers only before a step.
    #[serde(default)]
    pub(super) ordinals: BTreeMap<String, u32>,
    /// Words that join two numbers.
    #[serde(default)]
    pub(super) number_joints: String,
    /// Spans of time, in minutes.
    pub(super) durations: BTreeMap<String, u32>,
    /// Words that put a time into the afternoon.
    pub(super) afternoon: String,
    /// Words that put a time into the forenoon.
    pub(super) forenoon: String,
    /// Ways to say a time of day.
    pub(super) clock: Vec<ClockFile>,
    /// The phrases of each idea.
    #[schemars(schema_with = "phrases_by_concept")]
    pub(super) say: BTreeMap<String, String>,
    /// The phrases of each place on the body.
    #[schemars(schema_with = "phrases_by_place")]
    pub(super) places: BTreeMap<String, String>,
    /// The one-tap answers.
    pub(super) taps: TapTable,
    /// How one reply speaks of several clients.
    pub(super) round: RoundTable,
}

/// A way to say a time of day.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ClockFile {
    /// The words.
    pub(super) say: String,
    /// The minute that they mean.
    pub(super) minute: String,
}

fn phrases_by_concept(_: &mut SchemaGenerator) -> Schema {
    phrases_by(Concept::NAMED.iter().map(|(name, _)| *name))
}

fn phrases_by_place(_: &mut SchemaGenerator) -> Schema {
    phrases_by(Place::ALL.into_iter().map(Place::id))
}

fn phrases_by<'a>(names: impl Iterator<Item = &'a str>) -> Schema {
    let phrases = |name: &'a str| (name.to_owned(), serde_json::json!({ "type": "string" }));
    let properties: serde_json::Map<_, _> = names.map(phrases).collect();
    json_schema!({ "type": "object", "additionalProperties": false, "properties": properties })
}
