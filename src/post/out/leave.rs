//! The last question before a mail is handed over: whether it still may be.
//!
//! Never here: who answers it, and by what.
//! Promises: it is asked when nothing but the mail itself is left to be said, so that a sender that was
//! held up on the way, however long, asks after that and not before.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use futures_util::future::BoxFuture;

use super::super::connectivity::Trouble;
use super::Outcome;

type Ask = dyn Fn() -> BoxFuture<'static, bool> + Send + Sync;

/// Whether a mail may still be handed over. Copies ask the same.
#[derive(Clone)]
pub struct Leave(Option<Arc<Ask>>);

impl Leave {
    /// Given once and for all.
    pub fn given() -> Self {
        Self(None)
    }

    /// To be asked for.
    pub fn asked(ask: impl Fn() -> BoxFuture<'static, bool> + Send + Sync + 'static) -> Self {
        Self(Some(Arc::new(ask)))
    }

    /// Asks; no answer within the limit is a no.
    pub(super) async fn granted(&self, limit: Duration) -> Result<(), Outcome> {
        let Some(ask) = &self.0 else { return Ok(()) };
        match tokio::time::timeout(limit, ask()).await {
            Ok(true) => Ok(()),
            Ok(false) | Err(_) => {
                let why = "it is no longer ours to hand over".to_owned();
                Err(Outcome::Unreachable { trouble: Trouble::Lost, why })
            }
        }
    }
}

impl fmt::Debug for Leave {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Leave(asked)" } else { "Leave(given)" })
    }
}
