//! Starting: from a clinic's few answers to its files, and from its files to a mail account that
//! has been tried.
//!
//! Never here: asking the questions and printing (`command`); running the service.
//! Promises: no file is written over; a password never stands in the clinic file; a trial says what
//! works and what does not, in order, each with its remedy.

mod answers;
mod clinic_text;
mod folder;
mod remedy;
mod trial;

pub use answers::{Answers, Member, Password, ServerAnswer};
pub use clinic_text::clinic_text;
pub use folder::{CLINIC_FILE, FolderError, Made, PASSWORD_FILE, in_the_way, make_folder};
pub use trial::{Ending, Finding, Patience, Step, trial};
