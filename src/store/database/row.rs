//! A row of an answer, read the same way from either database.
//!
//! Never here: what the columns mean.
//! Promises: a number, a text and bytes are never taken for one another.

use rusqlite::types::{FromSql, FromSqlError, Type as Kind, ValueRef};
use tokio_postgres::types::Type;

use super::error::Result;

/// A row.
pub(in crate::store) enum Row<'r> {
    Sqlite(&'r rusqlite::Row<'r>),
    Postgres(&'r tokio_postgres::Row),
}

impl Row<'_> {
    /// The value of a column, counted from 0.
    pub(in crate::store) fn get<T: FromSql>(&self, column: usize) -> Result<T> {
        match self {
            Self::Sqlite(row) => Ok(row.get(column)?),
            Self::Postgres(row) => {
                let value = value(row, column)?;
                T::column_result(value).map_err(|error| unfit(column, value.data_type(), error))
            }
        }
    }
}

fn value(row: &tokio_postgres::Row, column: usize) -> Result<ValueRef<'_>> {
    fn or_null<T>(
        value: Option<T>,
        kind: impl FnOnce(T) -> ValueRef<'static>,
    ) -> ValueRef<'static> {
        value.map_or(ValueRef::Null, kind)
    }
    let kind = row.columns().get(column).map(|column| column.type_().clone());
    Ok(match kind {
        Some(Type::INT8) => or_null(row.try_get(column)?, ValueRef::Integer),
        Some(Type::INT4) => {
            or_null(row.try_get(column)?, |number: i32| ValueRef::Integer(number.into()))
        }
        Some(Type::BOOL) => {
            or_null(row.try_get(column)?, |yes: bool| ValueRef::Integer(yes.into()))
        }
        Some(Type::BYTEA) => {
            row.try_get::<_, Option<&[u8]>>(column)?.map_or(ValueRef::Null, ValueRef::Blob)
        }
        _ => row
            .try_get::<_, Option<&str>>(column)?
            .map_or(ValueRef::Null, |text| ValueRef::Text(text.as_bytes())),
    })
}

fn unfit(column: usize, kind: Kind, error: FromSqlError) -> super::DatabaseError {
    rusqlite::Error::FromSqlConversionFailure(column, kind, Box::new(error)).into()
}
