//! What is known of one client, in the formats that other programs read.
//!
//! Never here: mail, printing, changing anything.
//! Promises: everything is read from the journal, the state that it adds up to and the people on
//! file; a look that nobody answered is never written as clear; a format's rules are checked by
//! outside readers in the tests.

mod csv;
mod dossier;
mod fhir;
mod json;

pub use csv::csv;
pub use dossier::Dossier;
pub use fhir::fhir;
pub use json::json;
