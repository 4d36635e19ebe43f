//! How many replies are read in a second, beside the cost of parsing the message around them, and
//! how long the longest reply takes. Run with `cargo bench --bench replies`.

use std::time::{Duration, Instant};

use fadewatch::reply::letter::{open, read_letter};
use fadewatch::reply::{Answering, Lexicons, TEXT_BYTES_MAX, read};

/// Long enough for steady figures.
const RUN: Duration = Duration::from_secs(2);

fn main() {
    let lexicons = Lexicons::shipped();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reply/mail");
    let mails: Vec<Vec<u8>> = std::fs::read_dir(folder)
        .expect("the folder of mails")
        .filter_map(|entry| {
            let path = entry.expect("a file").path();
            (path.extension()? == "eml").then(|| std::fs::read(&path).expect("a message"))
        })
        .collect();
    let parser = mail_parser::MessageParser::default();
    per_second("parse the message alone", &mails, |raw| {
        std::hint::black_box(parser.parse(raw));
    });
    per_second("open the letter", &mails, |raw| {
        std::hint::black_box(open(raw));
    });
    per_second("open and read", &mails, |raw| {
        std::hint::black_box(read_letter(&lexicons, "en", Answering::Look, &open(raw), None));
    });
    for (name, text) in [
        ("64 KiB of plain words", "the mark on his left heel is a bit red, "),
        ("64 KiB of unknown words", "qzxv wkrr plmnt grbtz "),
        ("64 KiB of single letters", "a b c . "),
        ("64 KiB of numbers", "10 20 30 mins at "),
        ("64 KiB of numbers in words", "twenty five to "),
        ("64 KiB of denials", "no no no no "),
        ("64 KiB of denied signs", "no red, "),
        ("64 KiB of a word that opens many phrases", "gone gone "),
        ("64 KiB of a stretched word", "aaaaaaaaaaaaaaaaaaaaaaaa "),
    ] {
        reading(&lexicons, name, &text.repeat(TEXT_BYTES_MAX / text.len()));
    }
    reading(&lexicons, "64 KiB of different words that are none", &different_words());
    let page = "<style>a</style><p style=\"display:none\">x</p>".repeat(16 * 1024);
    opening("a page of hidden elements", "text/html", &format!("{page}no marks"));
    for (name, line) in [
        ("64 KiB of the first line of a legal footer", "this email confidential\n"),
        ("64 KiB of signatures", "--\n"),
        ("64 KiB of headers", "From: a\n"),
        ("64 KiB of blank lines", "\n"),
    ] {
        opening(name, "text/plain", &line.repeat(TEXT_BYTES_MAX / line.len()));
    }
}

/// 64 KiB of words of seven letters, no two alike: as many look-ups of misspellings as are made.
fn different_words() -> String {
    let letters = |mut n: usize| -> String {
        let mut letter = || {
            let c = char::from(b'a' + u8::try_from(n % 26).expect("OK because it is below 26"));
            n /= 26;
            c
        };
        std::iter::repeat_with(&mut letter).take(7).collect()
    };
    let words = (0..TEXT_BYTES_MAX / 8).map(|n| letters(n * 7_654_321 + 1_234_567));
    words.collect::<Vec<_>>().join(" ")
}

fn reading(lexicons: &Lexicons, name: &str, text: &str) {
    let begun = Instant::now();
    std::hint::black_box(read(lexicons, "en", Answering::Look, text));
    println!("{name}: {} ms", begun.elapsed().as_millis());
}

fn opening(name: &str, kind: &str, body: &str) {
    let raw = format!("From: a@b.example\r\nContent-Type: {kind}\r\n\r\n{body}\r\n");
    let begun = Instant::now();
    std::hint::black_box(open(raw.as_bytes()));
    println!("{name}: {} ms", begun.elapsed().as_millis());
}

fn per_second(name: &str, mails: &[Vec<u8>], work: impl Fn(&[u8])) {
    let begun = Instant::now();
    let mut done = 0u64;
    while begun.elapsed() < RUN {
        for raw in mails {
            work(raw);
            done += 1;
        }
    }
    let micros = begun.elapsed().as_micros() as f64 / done as f64;
    println!("{name}: {micros:.1} µs each, {:.0} a second", 1e6 / micros);
}
