//! Any text → a verdict, for every kind of request and language.
#![no_main]
#![allow(dead_code, unused_imports, reason = "only the reader is called")]

mod budget;
#[path = "../../../src/care/mod.rs"]
mod care;
#[path = "../../../src/reply/mod.rs"]
mod reply;

use std::sync::LazyLock;

use reply::{Answering, Lexicons, read};

static LEXICONS: LazyLock<Lexicons> = LazyLock::new(Lexicons::shipped);

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let Some((first, text)) = data.split_first() else { return };
    let text = String::from_utf8_lossy(text);
    let answering = Answering::ALL[usize::from(first % 4)];
    let language = ["en", "es", "fr", "de"][usize::from(first / 4 % 4)];
    let lexicons = &*LEXICONS;
    budget::within_budget(|| {
        let found = read(lexicons, language, answering, &text);
        assert!(!found.because.is_empty(), "a verdict without a reason");
        let fits = found.verdict.reading.is_clinicians() == (answering == Answering::Alert);
        let both = [care::Reading::Unclear, care::Reading::Automatic];
        assert!(fits || both.contains(&found.verdict.reading), "a reading that fits no request");
    });
});
