//! Ten thousand looks that fall due in one minute, beside the same rows written by bare rusqlite.
//!
//! Never here: how the service writes them.
//! Promises: the limit writes the same bytes to the same tables under the same settings, in the
//! batch size that is best for it.

use std::path::Path;
use std::time::{Duration, Instant};

use fadewatch::store::DATABASE;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use super::clinic::Clinic;
use super::row::{Aim, Row, median, ms, runs};

const BATCHES: [usize; 4] = [100, 500, 2_000, 10_000];
/// Tables that a look that falls due adds rows to.
const ADDED: [&str; 5] = ["occasion", "journal", "outbox", "outbox_mail", "token"];

/// The rows that a run has written.
struct Written {
    added: Vec<(String, Vec<Vec<Value>>)>,
    changed: Vec<Vec<Value>>,
    columns: Vec<String>,
}

pub fn rows(looks: usize) -> Vec<Row> {
    let mut ours = Vec::new();
    let mut limits = Vec::new();
    for _ in 0..runs() {
        let folder = tempfile::tempdir().unwrap();
        let clinic = Clinic::new(folder.path());
        clinic.enroll(0..looks);
        clinic.store.close();
        drop(clinic);
        let database = folder.path().join("data").join(DATABASE);
        let before = folder.path().join("before.db");
        std::fs::copy(&database, &before).unwrap();

        let clinic = Clinic::new(folder.path());
        let due = clinic.at(0, "08:00");
        let begun = Instant::now();
        clinic.act_on_due(due);
        ours.push(begun.elapsed());
        clinic.store.close();
        drop(clinic);

        let written = written(&before, &database);
        let best = BATCHES.iter().map(|batch| {
            let copy = folder.path().join("copy.db");
            std::fs::copy(&before, &copy).unwrap();
            bare(&copy, &written, *batch)
        });
        limits.push(best.min().expect("OK because there are batch sizes"));
    }
    let (ours, limit) = (median(ours), median(limits));
    vec![Row {
        measure: format!("{looks} looks falling due, durably"),
        ours: format!("{:.0} ms ({:.0}/s)", ms(ours), looks as f64 / ours.as_secs_f64()),
        beside: format!("{:.0} ms: same rows, bare rusqlite, best batch", ms(limit)),
        ratio: Some(limit.as_secs_f64() / ours.as_secs_f64()),
        aim: Aim::AtLeast(0.6),
        note: "decided, journalled, mail composed and in the outbox; synchronous=FULL".to_owned(),
    }]
}

fn all(connection: &Connection, sql: &str) -> Vec<Vec<Value>> {
    let mut select = connection.prepare(sql).unwrap();
    let columns = select.column_count();
    let rows = select.query_map([], |row| (0..columns).map(|at| row.get(at)).collect());
    rows.unwrap().collect::<rusqlite::Result<_>>().unwrap()
}

fn written(before: &Path, after: &Path) -> Written {
    let connection = Connection::open(after).unwrap();
    connection.execute("ATTACH ?1 AS old", [before.to_str().unwrap()]).unwrap();
    let added = ADDED
        .iter()
        .map(|table| {
            let sql = format!("SELECT * FROM main.{table} EXCEPT SELECT * FROM old.{table}");
            ((*table).to_owned(), all(&connection, &sql))
        })
        .collect();
    let changed = all(
        &connection,
        "SELECT * FROM main.follow_up EXCEPT SELECT * FROM old.follow_up ORDER BY id",
    );
    let columns = connection
        .prepare("SELECT * FROM main.follow_up")
        .unwrap()
        .column_names()
        .map(str::to_owned)
        .collect();
    Written { added, changed, columns }
}

/// Writes the rows with nothing around them.
fn bare(file: &Path, written: &Written, batch: usize) -> Duration {
    let mut connection = Connection::open(file).unwrap();
    for (name, value) in [("journal_mode", "WAL"), ("synchronous", "FULL")] {
        connection.pragma_update(None, name, value).unwrap();
    }
    // The service checks them; the limit is what a disk takes.
    connection.pragma_update(None, "foreign_keys", false).unwrap();
    connection.pragma_update(None, "cache_size", -16 * 1024).unwrap();
    let places: Vec<String> = written
        .columns
        .iter()
        .enumerate()
        .skip(1)
        .map(|(at, name)| format!("{name} = ?{}", at + 1))
        .collect();
    let update = format!("UPDATE follow_up SET {} WHERE id = ?1", places.join(", "));
    let begun = Instant::now();
    let parts = written.changed.len().div_ceil(batch);
    for part in 0..parts {
        let transaction = connection.transaction().unwrap();
        for (table, rows) in &written.added {
            let share = rows.len().div_ceil(parts);
            let Some(first) = rows.first() else { continue };
            let marks = vec!["?"; first.len()].join(", ");
            let mut insert = transaction
                .prepare_cached(&format!("INSERT INTO {table} VALUES ({marks})"))
                .unwrap();
            for row in rows.iter().skip(part * share).take(share) {
                insert.execute(params_from_iter(row)).unwrap();
            }
        }
        let mut change = transaction.prepare_cached(&update).unwrap();
        for row in written.changed.iter().skip(part * batch).take(batch) {
            change.execute(params_from_iter(row)).unwrap();
        }
        drop(change);
        transaction.commit().unwrap();
    }
    begun.elapsed()
}
