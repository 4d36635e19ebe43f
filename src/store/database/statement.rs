//! Statements with their parameters.
//!
//! Never here: SQL.
//! Promises: parameters are always bound, never written into the SQL.

use rusqlite::ToSql;
use rusqlite::types::Value;

use super::error::{DatabaseError, Result};
use super::row::Row;
use super::session::Session;

/// The values for `?1`, `?2` and so on.
pub(in crate::store) trait Params {
    /// Hands them over as a list.
    fn listed<R>(&self, take: impl FnOnce(&[&dyn ToSql]) -> R) -> R;
}

impl Params for () {
    fn listed<R>(&self, take: impl FnOnce(&[&dyn ToSql]) -> R) -> R {
        take(&[])
    }
}

impl<T: ToSql, const N: usize> Params for [T; N] {
    fn listed<R>(&self, take: impl FnOnce(&[&dyn ToSql]) -> R) -> R {
        take(&self.each_ref().map(|value| value as &dyn ToSql))
    }
}

impl Params for &[&dyn ToSql] {
    fn listed<R>(&self, take: impl FnOnce(&[&dyn ToSql]) -> R) -> R {
        take(self)
    }
}

impl Params for Vec<Value> {
    fn listed<R>(&self, take: impl FnOnce(&[&dyn ToSql]) -> R) -> R {
        take(&self.iter().map(|value| value as &dyn ToSql).collect::<Vec<_>>())
    }
}

/// A statement that is ready to run.
pub(in crate::store) enum Statement<'c> {
    Once(rusqlite::Statement<'c>),
    Kept(rusqlite::CachedStatement<'c>),
    Postgres(&'c Session, String),
}

impl Statement<'_> {
    /// Runs it; returns how many rows it changed.
    pub(in crate::store) fn execute(&mut self, params: impl Params) -> Result<usize> {
        params.listed(|params| match self {
            Self::Once(statement) => Ok(statement.execute(params)?),
            Self::Kept(statement) => Ok(statement.execute(params)?),
            Self::Postgres(session, sql) => session.execute(sql, params),
        })
    }

    /// Adds one row; returns the number that it was given in the column `key`.
    pub(in crate::store) fn insert(&mut self, key: &str, params: impl Params) -> Result<i64> {
        params.listed(|params| match self {
            Self::Once(statement) => Ok(statement.insert(params)?),
            Self::Kept(statement) => Ok(statement.insert(params)?),
            Self::Postgres(session, sql) => {
                let sql = format!("{sql} RETURNING {key}");
                let mut number = None;
                session.each(&sql, params, |row| {
                    number = Some(row.get(0)?);
                    Ok(())
                })?;
                number.ok_or(DatabaseError::NoRow)
            }
        })
    }

    /// Asks, and hands each row over in turn.
    pub(in crate::store) fn query_each(
        &mut self,
        params: impl Params,
        mut take: impl FnMut(&Row<'_>) -> Result<()>,
    ) -> Result<()> {
        params.listed(|params| {
            let statement: &mut rusqlite::Statement<'_> = match self {
                Self::Postgres(session, sql) => return session.each(sql, params, take),
                Self::Once(statement) => statement,
                Self::Kept(statement) => statement,
            };
            let mut rows = statement.query(params)?;
            while let Some(row) = rows.next()? {
                take(&Row::Sqlite(row))?;
            }
            Ok(())
        })
    }

    /// Asks; returns what is made of all rows.
    pub(in crate::store) fn query_all<T>(
        &mut self,
        params: impl Params,
        mut map: impl FnMut(&Row<'_>) -> Result<T>,
    ) -> Result<Vec<T>> {
        let mut all = Vec::new();
        self.query_each(params, |row| {
            all.push(map(row)?);
            Ok(())
        })?;
        Ok(all)
    }

    /// Asks; returns what is made of the first row.
    pub(in crate::store) fn query_one<T>(
        &mut self,
        params: impl Params,
        map: impl FnOnce(&Row<'_>) -> Result<T>,
    ) -> Result<T> {
        params.listed(|params| {
            let statement: &mut rusqlite::Statement<'_> = match self {
                Self::Postgres(session, sql) => {
                    let mut map = Some(map);
                    let mut found = Err(DatabaseError::NoRow);
                    session.each(sql, params, |row| {
                        if let Some(map) = map.take() {
                            found = map(row);
                        }
                        Ok(())
                    })?;
                    return found;
                }
                Self::Once(statement) => statement,
                Self::Kept(statement) => statement,
            };
            let mut rows = statement.query(params)?;
            match rows.next()? {
                Some(row) => map(&Row::Sqlite(row)),
                None => Err(DatabaseError::NoRow),
            }
        })
    }
}
