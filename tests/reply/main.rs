//! How replies are read, measured on labelled fixtures.
//!
//! `dev.jsonl` and `mail/` were given with the job; `own-*.jsonl` are our own. `own-held-out.jsonl`
//! and `own-fresh.jsonl` were written before the reader had seen any of their lines, and show how
//! it does on words that it was not built on.
//!
//! Never here: rules of a follow-up.
//! Promises: no line and no variant of one is read calm where its label is not.

mod confusion;
mod labelled;
mod languages;
mod mails;
mod robust;
mod variants;
