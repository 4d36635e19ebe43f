//! The writer: one thread that owns the only read-write connection of the process. Writers of other
//! processes are kept out by the transaction itself: an IMMEDIATE one, or the server's lock.
//!
//! Never here: what is written.
//! Promises: jobs run one at a time, in the order of their coming; each is one
//! transaction for writing that is committed or taken back whole before its answer is given; a job that
//! panics is taken back, and the panic goes on in the one who asked.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use tokio::sync::{mpsc, oneshot};

use super::database::{Connection, For};
use super::error::{Doing, StoreError};
use super::folding::Folding;
use super::view::Tx;

/// Jobs that may wait for the writer; whoever comes next waits to hand its job over.
const JOBS_WAITING_MAX: usize = 64;

type Job = Box<dyn FnOnce(&mut Connection) + Send>;

enum Order {
    Run(Job),
    /// Move the log into the database and end.
    End,
}

/// The handle of the writer thread.
pub(super) struct Writer {
    orders: mpsc::Sender<Order>,
    thread: Mutex<Option<JoinHandle<()>>>,
    /// Called after each commit.
    after_commit: Option<Box<dyn Fn() + Send + Sync>>,
}

type Outcome<T, E> = Result<Result<T, E>, Box<dyn Any + Send>>;

impl Writer {
    /// Starts the thread.
    pub(super) fn start(
        connection: Connection,
        folding: Option<Folding>,
        after_commit: Option<Box<dyn Fn() + Send + Sync>>,
    ) -> Result<Self, StoreError> {
        let (orders, inbox) = mpsc::channel(JOBS_WAITING_MAX);
        let thread = std::thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || run(connection, folding, inbox))
            .map_err(|source| StoreError::NoThread { source })?;
        Ok(Self { orders, thread: Mutex::new(Some(thread)), after_commit })
    }

    /// Runs a job in one transaction and waits for its end.
    pub(super) async fn write<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        let (job, answer) = job(work);
        self.orders.send(Order::Run(job)).await.map_err(|_| StoreError::Closed)?;
        self.answered(answer.await.map_err(|_| StoreError::Closed)?)
    }

    /// The same, for threads that are not part of an async runtime.
    pub(super) fn write_blocking<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        let (job, answer) = job(work);
        self.orders.blocking_send(Order::Run(job)).map_err(|_| StoreError::Closed)?;
        self.answered(answer.blocking_recv().map_err(|_| StoreError::Closed)?)
    }

    /// Asks something of the connection itself, outside of any transaction, and waits for the
    /// answer; for threads that are not part of an async runtime.
    pub(super) fn ask<T: Send + 'static>(
        &self,
        ask: impl FnOnce(&Connection) -> T + Send + 'static,
    ) -> Result<T, StoreError> {
        let (job, answered) = question(ask);
        self.orders.blocking_send(Order::Run(job)).map_err(|_| StoreError::Closed)?;
        answered.blocking_recv().map_err(|_| StoreError::Closed)
    }

    /// The same within an async runtime.
    pub(super) async fn ask_from_async<T: Send + 'static>(
        &self,
        ask: impl FnOnce(&Connection) -> T + Send + 'static,
    ) -> Result<T, StoreError> {
        let (job, answered) = question(ask);
        self.orders.send(Order::Run(job)).await.map_err(|_| StoreError::Closed)?;
        answered.await.map_err(|_| StoreError::Closed)
    }

    /// Ends the thread once the jobs before are done; the log is moved into the database.
    pub(super) fn end(&self) {
        let Some(thread) = self.lock().take() else { return };
        // The last handle may have been dropped by a job: the thread cannot wait for itself, and
        // ends by itself once its orders are closed.
        if thread.thread().id() == std::thread::current().id() {
            return;
        }
        let mut order = Order::End;
        // Not `blocking_send`, which may not be called from within an async runtime: a stopping
        // service drops its store there.
        while let Err(mpsc::error::TrySendError::Full(back)) = self.orders.try_send(order) {
            order = back;
            std::thread::yield_now();
        }
        if let Err(panic) = thread.join() {
            resume_unwind(panic);
        }
    }

    fn answered<T, E>(&self, outcome: Outcome<T, E>) -> Result<T, E> {
        let result = outcome.unwrap_or_else(|panic| resume_unwind(panic));
        if let (Ok(_), Some(after_commit)) = (&result, &self.after_commit) {
            after_commit();
        }
        result
    }

    fn lock(&self) -> MutexGuard<'_, Option<JoinHandle<()>>> {
        self.thread.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Runs work in one transaction: the only place where a transaction for writing is opened (S24).
pub(super) fn in_one_transaction<T, E: From<StoreError>>(
    connection: &mut Connection,
    work: impl FnOnce(&mut Tx<'_>) -> Result<T, E>,
) -> Result<T, E> {
    let transaction = connection.transaction(For::Writing).doing("beginning to write")?;
    let value = work(&mut Tx::over(&transaction))?;
    transaction.commit().doing("committing what was written")?;
    Ok(value)
}

fn question<T: Send + 'static>(
    ask: impl FnOnce(&Connection) -> T + Send + 'static,
) -> (Job, oneshot::Receiver<T>) {
    let (answer, answered) = oneshot::channel();
    let job = Box::new(move |connection: &mut Connection| {
        // Whoever asked may have gone.
        let _ = answer.send(ask(connection));
    });
    (job, answered)
}

fn job<T, E, F>(work: F) -> (Job, oneshot::Receiver<Outcome<T, E>>)
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
    F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
{
    let (answer, answered) = oneshot::channel();
    let job = Box::new(move |connection: &mut Connection| {
        // Unwind safe: the transaction is taken back when it is dropped, and nothing else of the
        // connection outlives the job.
        let outcome = catch_unwind(AssertUnwindSafe(|| in_one_transaction(connection, work)));
        // Whoever asked may have gone; what was committed stays committed.
        let _ = answer.send(outcome);
    });
    (job, answered)
}

fn run(mut connection: Connection, folding: Option<Folding>, mut orders: mpsc::Receiver<Order>) {
    while let Some(Order::Run(job)) = orders.blocking_recv() {
        job(&mut connection);
    }
    if let Some(folding) = folding {
        folding.end();
    }
    // A server keeps its own log.
    let Some(file) = connection.sqlite() else { return };
    let checkpoint =
        file.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get::<_, i64>(0));
    match checkpoint {
        // Not an error: a reader of another process is at work, and the log stays for next time.
        Ok(1) => tracing::debug!("another process reads; the write-ahead log stays"),
        Ok(_) => {}
        Err(error) => tracing::warn!(%error, "the write-ahead log could not be folded in"),
    }
}
