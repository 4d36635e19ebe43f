//! The journal of one follow-up as lines: time, rule, what happened, what made it happen.
//!
//! Never here: choosing what to show.
//! Promises: oldest first; the time is the client's; a line names the rule that was followed.

use std::collections::HashMap;

use serde::Serialize;
use serde_json::Value;

use super::moments::{moment, stamp};
use super::telling::{keeps_the_books, told};
use crate::follow_up::Calendar;
use crate::store::{FollowUpId, JournalLine, OccasionId, OccasionRecord, StoreError, View};

/// A line of the journal.
#[derive(Debug, Serialize)]
pub(crate) struct Line {
    number: u64,
    at: String,
    pub(crate) rule: String,
    pub(crate) told: String,
    occasion: String,
    occasion_detail: Value,
    pub(crate) keeps_the_books: bool,
    entry: Value,
    hash: String,
    #[serde(skip)]
    pub(crate) shown_at: String,
}

/// The newest entries of a follow-up.
pub(crate) fn newest(
    view: &View<'_>,
    follow_up: FollowUpId,
    zone: &Calendar,
    limit: u64,
) -> Result<Vec<Line>, StoreError> {
    let mut occasions: HashMap<OccasionId, OccasionRecord> = HashMap::new();
    let mut lines = Vec::new();
    for line in view.journal_tail(follow_up, limit)? {
        let occasion = match occasions.get(&line.occasion) {
            Some(known) => known.clone(),
            None => {
                let read = view.occasion(line.occasion)?;
                occasions.insert(line.occasion, read.clone());
                read
            }
        };
        lines.push(as_line(&line, occasion, zone));
    }
    Ok(lines)
}

fn as_line(line: &JournalLine, occasion: OccasionRecord, zone: &Calendar) -> Line {
    let entry = &line.entry;
    Line {
        number: line.number,
        at: stamp(zone, entry.at),
        rule: line.rule.clone(),
        told: told(&entry.event, zone),
        occasion: occasion.kind,
        occasion_detail: occasion.detail,
        keeps_the_books: keeps_the_books(&entry.event),
        entry: serde_json::to_value(entry).expect("OK because an entry always prints as JSON"),
        hash: line.hash.to_string(),
        shown_at: moment(zone, entry.at),
    }
}

/// `phone, taken by desk`; `reply`; `a due time`.
pub(crate) fn because_of(line: &Line) -> String {
    let text = |key: &str| line.occasion_detail.get(key).and_then(Value::as_str);
    match line.occasion.as_str() {
        "due" => "its time".to_owned(),
        "awoke" => "the service came back".to_owned(),
        "phone" => format!("phone, taken by {}", text("taken_by").unwrap_or("somebody")),
        other => match text("by").or(text("by_hand")) {
            Some(by) => format!("{other}, by {by}"),
            None => other.to_owned(),
        },
    }
}
