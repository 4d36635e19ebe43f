//! News for pages that are open: a sign that something was committed, no more.
//!
//! Never here: what it was: the page looks for itself.
//! Promises: at most one sign in a few seconds, whatever happens in the clinic; the stream ends with
//! its session.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::Stream;
use futures_util::stream;

use super::passes::Session;
use super::room::Room;
use super::visitor::Visitor;

/// The least time between two signs.
const CALM: Duration = Duration::from_secs(2);
/// How often a sign is given although nothing happened: waiting times grow, sessions end.
const AT_LEAST: Duration = Duration::from_secs(60);

struct Watching {
    room: Arc<Room>,
    session: Session,
    /// What was committed so far, by count.
    seen: Option<u64>,
    is_over: bool,
}

/// `GET /live`
pub(super) async fn live(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let watching = Watching { room, session: visitor.session, seen: None, is_over: false };
    let signs = stream::unfold(watching, |mut watching| async move {
        let sign = watching.next().await?;
        // A browser drops an event whose data is empty.
        Some((Ok(Event::default().event(sign).data(sign)), watching))
    });
    Sse::new(signs).keep_alive(KeepAlive::new().interval(Duration::from_secs(25)))
}

impl Watching {
    /// The next sign; none once the session is over and that was said.
    async fn next(&mut self) -> Option<&'static str> {
        if self.is_over {
            return None;
        }
        let mut count = self.room.commits.subscribe();
        if self.seen.is_some() {
            tokio::time::sleep(CALM).await;
            let seen = self.seen;
            // Either way the page looks: for news, or at how long things have waited.
            let _ =
                tokio::time::timeout(AT_LEAST, count.wait_for(|count| Some(*count) != seen)).await;
        }
        self.seen = Some(*count.borrow());
        self.is_over = !self.room.passes.holds(&self.session, Instant::now());
        Some(if self.is_over { "over" } else { "news" })
    }
}
