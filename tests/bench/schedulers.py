"""Durable timed jobs in general-purpose schedulers: so many fall due at one instant, and each writes
one row to an outbox. Prints one line of the table for each scheduler.

Usage: schedulers.py FADEWATCH_LOOKS_A_SECOND [JOBS]

Never here: fadewatch itself; what it does with a look is much more than one row.
Promises: each scheduler keeps its jobs in SQLite on the disk, with synchronous=FULL; the row of each
job is one committed transaction; jobs are all there before the clock starts.
"""

import datetime
import os
import sqlite3
import sys
import tempfile
import threading
import time

LEAD_SECONDS = 3.0


def outbox(folder):
    path = os.path.join(folder, "outbox.db")
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE outbox (id INTEGER PRIMARY KEY, job INTEGER, at REAL)")
    connection.commit()
    connection.close()
    return path


class Rows:
    """Writes rows, each thread over its own connection, and counts them."""

    def __init__(self, path, wanted):
        self.path, self.wanted = path, wanted
        self.here = threading.local()
        self.lock = threading.Lock()
        self.count = 0
        self.ended = None
        self.all_written = threading.Event()

    def write(self, job):
        if not hasattr(self.here, "connection"):
            self.here.connection = sqlite3.connect(self.path, timeout=60)
            self.here.connection.execute("PRAGMA synchronous = FULL")
        with self.here.connection as connection:
            connection.execute("INSERT INTO outbox (job, at) VALUES (?, ?)", (job, time.time()))
        with self.lock:
            self.count += 1
            if self.count == self.wanted:
                self.ended = time.monotonic()
                self.all_written.set()


ROWS = None


def write_row(job):
    ROWS.write(job)


def with_apscheduler(folder, jobs):
    from apscheduler.jobstores.sqlalchemy import SQLAlchemyJobStore
    from apscheduler.schedulers.background import BackgroundScheduler
    from sqlalchemy import create_engine, event

    engine = create_engine("sqlite:///" + os.path.join(folder, "jobs.db"))

    @event.listens_for(engine, "connect")
    def settle(connection, _):
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")

    scheduler = BackgroundScheduler(
        jobstores={"default": SQLAlchemyJobStore(engine=engine)},
        job_defaults={"misfire_grace_time": None},
    )
    scheduler.start(paused=True)
    at = datetime.datetime.now(datetime.timezone.utc)
    for job in range(jobs):
        scheduler.add_job(write_row, "date", run_date=at, args=[job])
    begun = time.monotonic()
    scheduler.resume()
    ROWS.all_written.wait(1800)
    took = (ROWS.ended or time.monotonic()) - begun
    scheduler.shutdown(wait=False)
    return took


def with_huey(folder, jobs):
    from huey import SqliteHuey

    huey = SqliteHuey(filename=os.path.join(folder, "huey.db"), fsync=True, results=False)
    task = huey.task()(write_row)
    for job in range(jobs):
        task.schedule((job,), delay=LEAD_SECONDS)
    consumer = huey.create_consumer(workers=4, periodic=False, initial_delay=0.01)
    time.sleep(LEAD_SECONDS)
    begun = time.monotonic()
    consumer.start()
    ROWS.all_written.wait(1800)
    took = (ROWS.ended or time.monotonic()) - begun
    consumer.stop(graceful=False)
    return took


def main():
    global ROWS
    ours = float(sys.argv[1])
    jobs = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    for name, run in [("APScheduler", with_apscheduler), ("huey", with_huey)]:
        with tempfile.TemporaryDirectory() as folder:
            ROWS = Rows(outbox(folder), jobs)
            took = run(folder, jobs)
            pace = ROWS.count / took
            ratio = ours / pace
            met = "yes" if ratio >= 10 else "**no**"
            whole = "" if ROWS.count == jobs else f"; only {ROWS.count} were done in time"
            print(
                f"| the same, beside {name} | {ours:.0f}/s | {pace:.0f}/s: {jobs} durable timed "
                f"jobs, one row each | {ratio:.1f} | ≥ 10 | {met} | SQLite store, "
                f"synchronous=FULL{whole} |",
                flush=True,
            )
    os._exit(0)


if __name__ == "__main__":
    main()
