//! What people read, as they read it: each notice in each language, links, lengths, escapes.
//!
//! Never here: the rules that lead to a notice.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "notice/course.rs"]
mod course;
#[path = "notice/fixture.rs"]
mod fixture;
#[path = "notice/form.rs"]
mod form;
#[path = "notice/lived.rs"]
mod lived;
#[path = "notice/moments.rs"]
mod moments;
#[path = "notice/pictures.rs"]
mod pictures;
#[path = "print/mod.rs"]
mod print;
#[path = "notice/printed.rs"]
mod printed;
#[path = "notice/rounds.rs"]
mod rounds;
#[path = "notice/taps.rs"]
mod taps;
#[path = "notice/wording_files.rs"]
mod wording_files;
