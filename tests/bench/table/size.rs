//! Bytes on the disk for a follow-up-day, beside the JSON of the same facts.
//!
//! Never here: what is kept and for how long.
//! Promises: the JSON has one object a row with every column, as plain as can be; numbers as
//! numbers, bytes as hexadecimal text; mails are left out on both sides, and shown beside.

use fadewatch::store::DATABASE;
use rusqlite::Connection;
use rusqlite::types::ValueRef;

use super::clinic::Clinic;
use super::row::{Aim, Row};

const CLIENTS: usize = 100;
const DAYS: i64 = 30;
const FACTS: [&str; 8] =
    ["follow_up", "chapter", "occasion", "journal", "person", "client_person", "outbox", "token"];
const MAILS: [&str; 2] = ["outbox_mail", "inbox_mail"];

pub fn rows() -> Vec<Row> {
    let folder = tempfile::tempdir().unwrap();
    let clinic = Clinic::new(folder.path());
    clinic.enroll(0..CLIENTS);
    clinic.live_until(clinic.at(DAYS, "00:00"));
    clinic.store.close();
    drop(clinic);
    let connection = Connection::open(folder.path().join("data").join(DATABASE)).unwrap();
    let days = CLIENTS as f64 * DAYS as f64;
    let pages = |tables: &[&str]| -> f64 {
        tables.iter().map(|table| bytes_of(&connection, table)).sum::<f64>() / days
    };
    let (facts, mails) = (pages(&FACTS), pages(&MAILS));
    let json: usize = FACTS.iter().map(|table| json_bytes(&connection, table)).sum();
    let json = json as f64 / days;
    vec![Row {
        measure: "bytes on disk a follow-up-day, mails apart".to_owned(),
        ours: format!("{facts:.0}"),
        beside: format!("{json:.0}: the same rows as JSON"),
        ratio: Some(facts / json),
        aim: Aim::AtMost(0.5),
        note: format!("indexes included; kept mails take {mails:.0} more"),
    }]
}

/// Bytes of the pages of a table and its indexes.
fn bytes_of(connection: &Connection, table: &str) -> f64 {
    connection
        .query_row(
            "SELECT sum(pgsize) FROM dbstat WHERE name IN
               (SELECT name FROM sqlite_schema WHERE tbl_name = ?1)",
            [table],
            |row| row.get::<_, Option<f64>>(0),
        )
        .unwrap()
        .unwrap_or(0.0)
}

fn json_bytes(connection: &Connection, table: &str) -> usize {
    let mut select = connection.prepare(&format!("SELECT * FROM {table}")).unwrap();
    let names: Vec<String> = select.column_names().map(str::to_owned).collect();
    let mut rows = select.query([]).unwrap();
    let mut bytes = 0;
    while let Some(row) = rows.next().unwrap() {
        let object: serde_json::Map<String, serde_json::Value> = names
            .iter()
            .enumerate()
            .map(|(at, name)| (name.clone(), json(row.get_ref(at).unwrap())))
            .collect();
        bytes += serde_json::Value::Object(object).to_string().len() + 1;
    }
    bytes
}

fn json(value: ValueRef<'_>) -> serde_json::Value {
    match value {
        ValueRef::Null => serde_json::Value::Null,
        ValueRef::Integer(number) => number.into(),
        ValueRef::Real(number) => number.into(),
        ValueRef::Text(text) => String::from_utf8_lossy(text).into(),
        // Bytes that are JSON already stand as what they say.
        ValueRef::Blob(bytes) => serde_json::from_slice(bytes).unwrap_or_else(|_| {
            bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>().into()
        }),
    }
}
