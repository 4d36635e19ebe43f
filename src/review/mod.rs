//! The review: whether a fit is ready to be tested, and what to examine after a finding.
//!
//! `readiness(fitting, risk, practice)` says whether sitting may begin on a fit, and if not, why and
//! what to try next; `Guide::proposals(question)` lists what to examine first. Both propose; the
//! clinician decides.
//!
//! Never here: TOML, files, clocks, the follow-up's rules, mail.
//! Promises: pure functions of their arguments; what was not checked or not found is never read
//! as right; every line carries its source, or says that it is common practice.

mod fitting_lines;
mod guide;
mod page;
mod question;
mod readiness;
mod readiness_words;
mod words;

pub use fitting_lines::{Tested, fitting_lines};
pub use guide::{Guide, GuideLine, LineSource, Proposal, When};
pub use page::{PageOf, fitting_page};
pub use question::{FittingFact, HistoryFact, Question, Seen, Sidedness, SitesHad};
pub use readiness::{Next, Readiness, SeatReason, Shortfall, readiness};
pub use readiness_words::{next_in_words, shortfall_in_words, verdict_in_words};
pub use words::{FittingWords, FittingWordsError, Words};
