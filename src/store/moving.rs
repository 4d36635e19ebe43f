//! Moving all rows from one database to another: from a server to a file, from a copy to an empty server
//! or to a data folder without data, from a file under one key to a file under another or none.
//!
//! Never here: checking what is moved; names and places of copies.
//! Promises: all rows go over, under their own numbers, or none does; nothing is written into a
//! database that holds anything.

use std::path::Path;

use rusqlite::types::Value;

use super::backup;
use super::connection;
use super::data_key::{DataFile, DataKey};
use super::database::{self, Connection};
use super::error::{Doing, StoreError};
use super::folder::{self, DATABASE};
use super::opened::Store;

const DOING: &str = "copying the database";

impl Store {
    /// Puts a copy in place of nothing: into a database without a single row. Numbers that are given
    /// later follow on those of the copy. Blocks.
    ///
    /// # Errors
    /// `NotEmpty` when anything is kept already; when the copy is not ours or of another version; when
    /// the database refuses. Nothing was changed then.
    pub fn load_copy(&self, file: &Path, key: Option<&DataKey>) -> Result<(), StoreError> {
        let from = open_source(file, key)?;
        self.write_blocking(move |tx| read_in(&from, tx.connection))
    }

    /// Makes the database of a data folder from a copy; both may be encrypted, each with a key of its
    /// own. Nothing of another key's database is left in the new one. Blocks.
    ///
    /// # Errors
    /// `NotEmpty` when the folder has a database; when the copy is not ours, of another version or of
    /// another key; when it cannot be written. The folder has no database then, as before.
    pub fn load_copy_into_folder(
        folder: &Path,
        key: Option<&DataKey>,
        copy: &Path,
        copy_key: Option<&DataKey>,
    ) -> Result<(), StoreError> {
        let from = Connection::Sqlite(open_source(copy, copy_key)?);
        folder::prepare(folder)?;
        let to = folder.join(DATABASE);
        let log = folder.join(format!("{DATABASE}-wal"));
        // A file without a byte is what a start leaves that was cut short before anything was kept.
        if log.exists() || to.metadata().is_ok_and(|found| found.len() > 0) {
            return Err(StoreError::NotEmpty);
        }
        backup::made_whole(&to, key, |unfinished| backup::write_out(&from, unfinished))
    }
}

/// Opens a copy to take its rows, once it is known to be ours and of the present format.
fn open_source(copy: &Path, key: Option<&DataKey>) -> Result<rusqlite::Connection, StoreError> {
    drop(Store::open_copy(copy, key)?);
    connection::open_file_for_reading(&DataFile::copy(copy, key))
}

/// Writes all rows of a database to a new file that has its tables.
pub(super) fn write_out(
    from: &Connection,
    to: &mut rusqlite::Connection,
) -> Result<(), StoreError> {
    let rows = to.transaction().doing(DOING)?;
    for table in Table::all(&rows).doing(DOING)? {
        let mut insert = rows.prepare(&table.insert()).doing(DOING)?;
        from.prepare(&table.select())
            .and_then(|mut select| {
                select.query_each((), |row| {
                    let values = (0..table.columns.len()).map(|column| row.get::<Value>(column));
                    let values = values.collect::<database::Result<Vec<_>>>()?;
                    insert.execute(rusqlite::params_from_iter(values))?;
                    Ok(())
                })
            })
            .doing(DOING)?;
    }
    rows.commit().doing(DOING)
}

fn read_in(from: &rusqlite::Connection, to: &Connection) -> Result<(), StoreError> {
    let tables = Table::all(from).doing(DOING)?;
    for table in &tables {
        let sql = format!("SELECT count(*) FROM {}", table.name);
        let rows: i64 = to.query_row(&sql, (), |row| row.get(0)).doing(DOING)?;
        if rows > 0 {
            return Err(StoreError::NotEmpty);
        }
    }
    for table in &tables {
        let mut insert = to.prepare(&table.insert()).doing(DOING)?;
        let mut select = from.prepare(&table.select()).doing(DOING)?;
        let mut rows = select.query([]).doing(DOING)?;
        while let Some(row) = rows.next().doing(DOING)? {
            let values: Vec<Value> = (0..table.columns.len())
                .map(|column| row.get(column))
                .collect::<rusqlite::Result<_>>()
                .doing(DOING)?;
            insert.execute(values).doing(DOING)?;
        }
        if to.postgres().is_some()
            && let Some(sql) = table.numbers_go_on()
        {
            to.prepare(&sql).and_then(|mut set| set.query_each((), |_| Ok(()))).doing(DOING)?;
        }
    }
    Ok(())
}

/// A table of ours; both databases have it.
struct Table {
    name: String,
    columns: Vec<String>,
}

impl Table {
    /// The tables of a file, each after those that it refers to.
    fn all(file: &rusqlite::Connection) -> rusqlite::Result<Vec<Self>> {
        let texts = |sql: &str, of: &str| -> rusqlite::Result<Vec<String>> {
            file.prepare(sql)?.query_map([of], |row| row.get(0))?.collect()
        };
        let mut waiting =
            texts("SELECT name FROM sqlite_schema WHERE type = ?1 ORDER BY rowid", "table")?;
        let mut tables: Vec<Self> = Vec::new();
        while !waiting.is_empty() {
            let before = waiting.len();
            for name in std::mem::take(&mut waiting) {
                let refers_to = texts("SELECT \"table\" FROM pragma_foreign_key_list(?1)", &name)?;
                if refers_to.iter().all(|other| tables.iter().any(|table| table.name == *other)) {
                    let columns =
                        texts("SELECT name FROM pragma_table_info(?1) ORDER BY cid", &name)?;
                    tables.push(Self { name, columns });
                } else {
                    waiting.push(name);
                }
            }
            assert!(waiting.len() < before, "OK because no tables refer to each other in a ring");
        }
        Ok(tables)
    }

    fn select(&self) -> String {
        format!("SELECT {} FROM {}", self.columns.join(", "), self.name)
    }

    fn insert(&self) -> String {
        let places: Vec<String> = (1..=self.columns.len()).map(|n| format!("?{n}")).collect();
        let (name, columns) = (&self.name, self.columns.join(", "));
        format!("INSERT INTO {name} ({columns}) VALUES ({})", places.join(", "))
    }

    /// Lets a server give numbers after the greatest that is there, where it gives any.
    fn numbers_go_on(&self) -> Option<String> {
        let key = self.columns.first().filter(|key| ["id", "seq"].contains(&key.as_str()))?;
        let name = &self.name;
        Some(format!(
            "SELECT setval(pg_get_serial_sequence('{name}', '{key}'), greatest)
             FROM (SELECT max({key}) AS greatest FROM {name}) AS newest
             WHERE greatest IS NOT NULL"
        ))
    }
}
