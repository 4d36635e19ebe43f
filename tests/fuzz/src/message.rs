//! Any bytes → a letter → a verdict.
#![no_main]
#![allow(dead_code, unused_imports, reason = "only the reader is called")]

mod budget;
#[path = "../../../src/care/mod.rs"]
mod care;
#[path = "../../../src/reply/mod.rs"]
mod reply;

use std::sync::LazyLock;

use reply::letter::{open, read_letter};
use reply::{Answering, Lexicons, TEXT_BYTES_MAX};

static LEXICONS: LazyLock<Lexicons> = LazyLock::new(Lexicons::shipped);

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let lexicons = &*LEXICONS;
    budget::within_budget(|| {
        let letter = open(data);
        assert!(letter.words.len() <= TEXT_BYTES_MAX + 1, "more words than are read");
        letter.proof("mx.clinic.example");
        let found = read_letter(lexicons, "en", Answering::Look, &letter, None);
        assert!(!found.because.is_empty(), "a verdict without a reason");
    });
});
