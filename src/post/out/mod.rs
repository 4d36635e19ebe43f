//! Mail out: hands composed mails to a mail server or to a maildir, and says what became of them.
//!
//! Never here: retrying, queues, what a refusal means for a follow-up.
//! Promises: `Accepted` only after the server's final yes; where that answer was lost after the
//! mail was handed over, `InDoubt`; a wrong password never counts against a recipient.

mod connection;
mod leave;
mod maildir;
mod smtp;
mod start_tls;
mod verdict;

pub use leave::Leave;
pub use maildir::MaildirOutlet;
pub use smtp::{SmtpOutlet, SmtpSettings};

use std::fmt;
use std::time::Duration;

use super::address::Address;
use super::connectivity::Trouble;

/// How long leave for a folder is waited for.
const LEAVE_PATIENCE: Duration = Duration::from_secs(60);

/// A way out for mail.
#[derive(Clone, Debug)]
pub enum Outlet {
    /// A mail server.
    Smtp(SmtpOutlet),
    /// A folder, for the demonstration and for tests.
    Maildir(MaildirOutlet),
}

impl Outlet {
    /// Sends one mail to one recipient and says what became of it.
    ///
    /// Dropping the returned future does not stop a sending that has begun: it goes on in a task
    /// of its own, so that a mail is never half handed over. Whoever drops it must treat the mail
    /// as in doubt.
    pub async fn send(
        &self,
        envelope_from: &Address,
        recipient: &Address,
        bytes: &[u8],
    ) -> Outcome {
        self.send_with_leave(envelope_from, recipient, bytes, &Leave::given()).await
    }

    /// The same for a mail that may cease to be ours on the way: leave is asked for right before it is
    /// handed over, and without it the mail is not.
    pub async fn send_with_leave(
        &self,
        envelope_from: &Address,
        recipient: &Address,
        bytes: &[u8],
        leave: &Leave,
    ) -> Outcome {
        match self {
            Self::Smtp(outlet) => {
                outlet.send_with_leave(envelope_from, recipient, bytes, leave).await
            }
            Self::Maildir(outlet) => match leave.granted(LEAVE_PATIENCE).await {
                Ok(()) => outlet.send(envelope_from, recipient, bytes).await,
                Err(outcome) => outcome,
            },
        }
    }

    /// Asks whether mail could go out now, without sending any: for a server, by connecting and
    /// logging in; for a folder, by looking whether it can be written to.
    ///
    /// # Errors
    /// What stands in the way.
    pub async fn probe(&self) -> Result<(), Trouble> {
        match self {
            Self::Smtp(outlet) => outlet.probe().await,
            Self::Maildir(outlet) => outlet.probe(),
        }
    }

    /// Waits until no sending is under way; for a graceful stop.
    pub async fn drained(&self) {
        match self {
            Self::Smtp(outlet) => outlet.drained().await,
            Self::Maildir(_) => {}
        }
    }
}

/// What became of one sending. Its `Debug` leaves the server's words out.
#[derive(Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The server took the mail over. Its words may name its queue id.
    Accepted {
        /// The server's words.
        reply: String,
    },
    /// The server said no.
    Refused(Refusal),
    /// The mail never got to the point of being handed over: try again later.
    Unreachable {
        /// Which step failed; may be logged.
        trouble: Trouble,
        /// The failing party's words; not for logs.
        why: String,
    },
    /// The mail was handed over, but the answer got lost: it may or may not arrive. Sending the
    /// same bytes again is right, a doubled mail being better than a lost one.
    InDoubt {
        /// What happened instead of an answer; not for logs.
        why: String,
    },
}

impl fmt::Debug for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Accepted { .. } => f.write_str("Accepted"),
            Self::Refused(refusal) => f.debug_tuple("Refused").field(refusal).finish(),
            Self::Unreachable { trouble, .. } => {
                f.debug_tuple("Unreachable").field(trouble).finish()
            }
            Self::InDoubt { .. } => f.write_str("InDoubt"),
        }
    }
}

/// A server's no. Its `Debug` leaves the server's words out.
#[derive(Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The server says that trying again is of no use (a code of 500 or more).
    pub permanent: bool,
    /// The no is about this recipient's mailbox or address. Otherwise it is about us: our login,
    /// our sender, our mail, or the server's own state.
    pub recipient_at_fault: bool,
    /// The reply code, 400 to 599; may be logged.
    pub code: u16,
    /// The server's words, at most 500 characters; they may hold addresses, so not for logs.
    pub text: String,
}

impl fmt::Debug for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Refusal")
            .field("permanent", &self.permanent)
            .field("recipient_at_fault", &self.recipient_at_fault)
            .field("code", &self.code)
            .finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests;
