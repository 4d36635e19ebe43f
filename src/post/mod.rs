//! Mail out and in: composing, SMTP, IMAP and maildirs.
//!
//! Never here: clients, plans, readings, tokens' meaning, wording, SQL; nothing of ours but mail
//! types, and no personal data in a log line.
//! Promises: a mail that was accepted is reported so, one that may have been accepted is reported
//! as in doubt; a mail taken in is marked on the server only after its receiver has confirmed it.

pub mod address;
pub mod connectivity;
pub mod credentials;
pub mod error;
pub mod inbox;
pub mod message;
pub mod out;
pub mod wire;

pub use address::{Address, Mailbox};
pub use connectivity::{Connectivity, Outage, Trouble};
pub use credentials::{Credentials, Secret, SecretText};
pub use error::PostError;
pub use inbox::{
    Arrival, Checkpoint, Extent, ImapInbox, ImapSettings, Inbox, MaildirInbox, Place, WhenTaken,
};
pub use message::{Attachment, ComposeError, Draft, InlineImage, compose};
pub use out::{Leave, MaildirOutlet, Outcome, Outlet, Refusal, SmtpOutlet, SmtpSettings};
pub use wire::{Security, Trust};
