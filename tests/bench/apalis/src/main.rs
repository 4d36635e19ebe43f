//! Durable timed jobs in apalis with its SQLite store: so many fall due at one instant, and each writes
//! one row to an outbox. Prints one line of the table, as `../schedulers.py` does for others.
//!
//! Usage: `beside-apalis FADEWATCH_LOOKS_A_SECOND [JOBS]`
//!
//! Never here: fadewatch itself; what it does with a look is much more than one row.
//! Promises: jobs and rows are in SQLite on the disk, with synchronous=FULL; the row of each job is one
//! committed transaction; jobs are all there, and due, before the clock starts.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use apalis::prelude::*;
use apalis_sqlite::{Config, SqliteStorage};
use futures::stream;
use sqlx::SqlitePool;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use tokio::sync::Notify;

/// From when the jobs are put in until they are due.
const LEAD: Duration = Duration::from_secs(3);
/// Jobs that a worker fetches at once. With apalis's own choice of 10 it waits between batches.
const BATCH: usize = 2_000;
/// Jobs that are done at once, as in the other schedulers.
const AT_ONCE: usize = 4;
const PATIENCE: Duration = Duration::from_secs(1800);

/// The outbox, and how many rows are still to come.
#[derive(Clone)]
struct Rows {
    outbox: SqlitePool,
    left: Arc<AtomicUsize>,
    all_written: Arc<Notify>,
}

async fn write_row(job: usize, rows: Data<Rows>) -> Result<(), BoxDynError> {
    sqlx::query("INSERT INTO outbox (job) VALUES (?1)")
        .bind(i64::try_from(job)?)
        .execute(&rows.outbox)
        .await?;
    if rows.left.fetch_sub(1, Ordering::SeqCst) == 1 {
        rows.all_written.notify_one();
    }
    Ok(())
}

async fn open(path: &Path) -> Result<SqlitePool, sqlx::Error> {
    let options = SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(Duration::from_secs(60));
    SqlitePool::connect_with(options).await
}

#[tokio::main]
async fn main() -> Result<(), BoxDynError> {
    let mut arguments = std::env::args().skip(1);
    let ours: f64 = arguments.next().ok_or("how many looks a second?")?.parse()?;
    let jobs: usize = arguments.next().map_or(Ok(10_000), |text| text.parse())?;

    let folder = tempfile::tempdir()?;
    let store = folder.path().join("jobs.db");
    // Its setup turns synchronous off, for the connection that does it.
    let first = open(&store).await?;
    SqliteStorage::setup(&first).await?;
    first.close().await;
    let pool = open(&store).await?;
    let outbox = open(&folder.path().join("outbox.db")).await?;
    sqlx::query("CREATE TABLE outbox (id INTEGER PRIMARY KEY, job INTEGER)")
        .execute(&outbox)
        .await?;

    let config = Config::default().queue("looks").batch_size(BATCH);
    let mut backend = SqliteStorage::new(&pool).with_config(config);
    let mut all = stream::iter((0..jobs).map(|job| TaskBuilder::new(job).run_after(LEAD).build()));
    backend.push_all(&mut all).await?;
    tokio::time::sleep(LEAD).await;

    let rows = Rows { outbox, left: Arc::new(AtomicUsize::new(jobs)), all_written: Arc::default() };
    let all_written = Arc::clone(&rows.all_written);
    let left = Arc::clone(&rows.left);
    let begun = Instant::now();
    let worker = WorkerBuilder::new("bench")
        .backend(backend)
        .concurrency(AT_ONCE)
        .data(rows)
        .build(write_row);
    let working = tokio::spawn(worker.run());
    let is_whole = tokio::time::timeout(PATIENCE, all_written.notified()).await.is_ok();
    let took = begun.elapsed().as_secs_f64();
    working.abort();

    let done = jobs - left.load(Ordering::SeqCst);
    let pace = done as f64 / took;
    let ratio = ours / pace;
    let met = if ratio >= 10.0 { "yes" } else { "**no**" };
    let whole = if is_whole { String::new() } else { format!("; only {done} were done in time") };
    println!(
        "| the same, beside apalis | {ours:.0}/s | {pace:.0}/s: {jobs} durable timed jobs, one row \
         each | {ratio:.1} | ≥ 10 | {met} | SQLite store, synchronous=FULL, batches of {BATCH}{whole} |"
    );
    Ok(())
}
