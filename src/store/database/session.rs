//! A session on a database server.
//!
//! The connection itself is worked by one thread of its own, so that a session can be used from
//! any thread, within an async runtime or without.
//!
//! Never here: tables.
//! Promises: one statement at a time; a session that is lost is never made anew under the same
//! name, since what it held (locks, a transaction) is gone.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::fmt;
use std::sync::OnceLock;

use futures_executor::block_on;
use futures_util::{StreamExt, pin_mut};
use rusqlite::ToSql;
use rusqlite::types::{ToSqlOutput, ValueRef};
use tokio::runtime::Runtime;
use tokio::sync::watch;
use tokio_postgres::types::private::BytesMut;
use tokio_postgres::types::{IsNull, ToSql as ToServer, Type, to_sql_checked};
use tokio_postgres::{AsyncMessage, Client, Statement};
use tokio_postgres_rustls::MakeRustlsConnect;

use super::dialect;
use super::error::{DatabaseError, Result};
use super::row::Row;
use super::server::Server;

/// Names our locks among those of other programs on the same database: the letters `fade` and
/// one for each purpose. The second half is the schema, so that each has its own.
const WRITER_LOCK: i32 = 0x6661_6465;
const SERVICE_LOCK: i32 = WRITER_LOCK + 1;
/// Commits, and tells of it those who listen.
const RINGING: &str = "NOTIFY fadewatch_bell; COMMIT";
const LISTENING: &str = "LISTEN fadewatch_bell";

/// One moment of the data.
pub(super) const READING: &str = "BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY";
/// Alone among all who write, whichever process they are in. Not of one moment: a moment would be
/// chosen before the lock is had. The number is `WRITER_LOCK`.
pub(super) const WRITING: &str = "BEGIN ISOLATION LEVEL READ COMMITTED, READ WRITE; \
     SELECT pg_advisory_xact_lock(1717658725, hashtext(current_schema()))";

/// A session.
pub(in crate::store) struct Session {
    client: Client,
    kept: RefCell<HashMap<String, Statement>>,
    has_failed: Cell<bool>,
    rings: bool,
    lost: watch::Receiver<bool>,
    rung: watch::Receiver<u64>,
}

impl Session {
    /// Opens a session.
    pub(in crate::store) fn open(server: &Server) -> Result<Self> {
        let (config, tls) = (server.config.clone(), server.tls.clone());
        let (ended, lost) = watch::channel(false);
        let (ringing, rung) = watch::channel(0_u64);
        let connected = runtime()?.spawn(async move {
            let tls = MakeRustlsConnect::new((*tls).clone());
            let (client, mut connection) = config.connect(tls).await?;
            tokio::spawn(async move {
                let mut messages = futures_util::stream::poll_fn(|cx| connection.poll_message(cx));
                while let Some(message) = messages.next().await {
                    match message {
                        Ok(AsyncMessage::Notification(_)) => ringing.send_modify(|rings| *rings += 1),
                        Ok(AsyncMessage::Notice(notice)) => {
                            tracing::debug!(code = notice.code().code(), "the database notes");
                        }
                        Ok(_) => {}
                        Err(error) => {
                            tracing::warn!(error = %DatabaseError::from(error), "a connection ended");
                            break;
                        }
                    }
                }
                ended.send_replace(true);
            });
            Ok::<_, tokio_postgres::Error>(client)
        });
        let client = block_on(connected)
            .map_err(|error| DatabaseError::Unreachable { why: error.to_string() })??;
        let session = Self {
            client,
            kept: RefCell::default(),
            has_failed: Cell::new(false),
            rings: false,
            lost,
            rung,
        };
        session.settle()?;
        Ok(session)
    }

    fn settle(&self) -> Result<()> {
        self.batch(&Server::settings())?;
        // A process that stands still within a transaction must not hold the others up for ever; a
        // commit is on the disk before anyone is told of it, whatever the server's own default.
        self.batch(
            "SET lock_timeout = '10s'; SET idle_in_transaction_session_timeout = '60s'; \
             SET client_min_messages = 'warning'; SET timezone = 'UTC'; \
             SELECT set_config('synchronous_commit', 'on', false) \
             WHERE current_setting('synchronous_commit') = 'off'",
        )
    }

    /// Runs statements without parameters.
    pub(in crate::store) fn batch(&self, sql: &str) -> Result<()> {
        self.noted(block_on(self.client.batch_execute(sql)))
    }

    pub(super) fn begin(&self, sql: &str) -> Result<()> {
        self.has_failed.set(false);
        self.batch(sql)
    }

    /// Runs a statement; returns how many rows it changed.
    pub(super) fn execute(&self, sql: &str, params: &[&dyn ToSql]) -> Result<usize> {
        let statement = self.statement(sql)?;
        let rows = self.noted(block_on(self.client.execute_raw(&statement, bound(params)?)))?;
        Ok(usize::try_from(rows).unwrap_or(usize::MAX))
    }

    /// Asks, and hands each row over in turn. `take` must ask nothing here itself.
    pub(super) fn each(
        &self,
        sql: &str,
        params: &[&dyn ToSql],
        mut take: impl FnMut(&Row<'_>) -> Result<()>,
    ) -> Result<()> {
        let statement = self.statement(sql)?;
        let rows = self.noted(block_on(self.client.query_raw(&statement, bound(params)?)))?;
        pin_mut!(rows);
        while let Some(row) = block_on(rows.next()) {
            take(&Row::Postgres(&self.noted(row)?))?;
        }
        Ok(())
    }

    /// Tries to become the one service on the data; it stays so for as long as the session lasts.
    pub(in crate::store) fn try_lead(&self) -> Result<bool> {
        let mut leads = false;
        self.each(
            "SELECT pg_try_advisory_lock(?1, hashtext(current_schema()))",
            &[&SERVICE_LOCK],
            |row| {
                leads = row.get(0)?;
                Ok(())
            },
        )?;
        Ok(leads)
    }

    /// The server's own time, in UTC milliseconds since 1970.
    pub(in crate::store) fn now_ms(&self) -> Result<i64> {
        let mut now = Err(DatabaseError::NoRow);
        let sql = "SELECT floor(extract(epoch FROM clock_timestamp()) * 1000)::bigint";
        self.each(sql, &[], |row| {
            now = row.get(0);
            Ok(())
        })?;
        now
    }

    /// Lets each commit ring the bell.
    pub(in crate::store) fn ring_each_commit(&mut self) {
        self.rings = true;
    }

    /// Makes the present transaction last.
    pub(super) fn commit(&self) -> Result<()> {
        // A server takes the COMMIT of a failed transaction as ROLLBACK, without an error.
        if self.has_failed.get() {
            return Err(DatabaseError::Failed);
        }
        self.batch(if self.rings { RINGING } else { "COMMIT" })
    }

    /// Listens to the bell. Rings of other schemas on the same database are heard too: to look
    /// once too often does no harm.
    pub(in crate::store) fn listen(&self) -> Result<watch::Receiver<u64>> {
        self.batch(LISTENING)?;
        Ok(self.rung.clone())
    }

    /// Whether the connection is gone.
    pub(in crate::store) fn is_lost(&self) -> bool {
        self.client.is_closed() || *self.lost.borrow()
    }

    /// Turns true when the connection is gone.
    pub(in crate::store) fn loss(&self) -> watch::Receiver<bool> {
        self.lost.clone()
    }

    fn statement(&self, sql: &str) -> Result<Statement> {
        if let Some(kept) = self.kept.borrow().get(sql) {
            return Ok(kept.clone());
        }
        let prepared = self.noted(block_on(self.client.prepare(&dialect::postgres(sql))))?;
        self.kept.borrow_mut().insert(sql.to_owned(), prepared.clone());
        Ok(prepared)
    }

    /// Keeps in mind that the present transaction cannot be committed any more.
    fn noted<T>(&self, result: std::result::Result<T, tokio_postgres::Error>) -> Result<T> {
        if result.is_err() {
            self.has_failed.set(true);
        }
        Ok(result?)
    }
}

impl fmt::Debug for Session {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Session").finish_non_exhaustive()
    }
}

/// A value on its way to the server, in the type that the server asks for.
#[derive(Debug)]
struct Bound<'v>(ToSqlOutput<'v>);

impl ToServer for Bound<'_> {
    fn to_sql(
        &self,
        kind: &Type,
        out: &mut BytesMut,
    ) -> std::result::Result<IsNull, Box<dyn std::error::Error + Sync + Send>> {
        let value = match &self.0 {
            ToSqlOutput::Borrowed(value) => *value,
            ToSqlOutput::Owned(value) => ValueRef::from(value),
            _ => return Err("a value of a kind that is not kept".into()),
        };
        match (value, kind) {
            (ValueRef::Null, _) => Ok(IsNull::Yes),
            (ValueRef::Integer(number), &Type::INT4) => {
                ToServer::to_sql(&i32::try_from(number)?, kind, out)
            }
            (ValueRef::Integer(number), &Type::INT8) => ToServer::to_sql(&number, kind, out),
            (ValueRef::Text(text), &Type::TEXT) => {
                ToServer::to_sql(&std::str::from_utf8(text)?, kind, out)
            }
            (ValueRef::Blob(bytes), &Type::BYTEA) => ToServer::to_sql(&bytes, kind, out),
            _ => Err(format!("a value of another kind than {kind}").into()),
        }
    }

    fn accepts(_: &Type) -> bool {
        true
    }

    to_sql_checked!();
}

fn bound<'p>(params: &'p [&'p dyn ToSql]) -> Result<Vec<Bound<'p>>> {
    params.iter().map(|param| Ok(Bound(param.to_sql()?))).collect()
}

/// The thread that works all connections of the process.
fn runtime() -> Result<&'static Runtime> {
    static RUNTIME: OnceLock<Runtime> = OnceLock::new();
    if let Some(running) = RUNTIME.get() {
        return Ok(running);
    }
    let started = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .thread_name("store-server")
        .enable_all()
        .build()
        .map_err(|error| DatabaseError::Unreachable { why: error.to_string() })?;
    Ok(RUNTIME.get_or_init(|| started))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lock_of_writers_is_the_one_that_is_named() {
        assert!(WRITING.contains(&format!("({WRITER_LOCK},")));
    }
}
