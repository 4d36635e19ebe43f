//! Replies read in a second, beside MIME parsing of the same messages alone.
//!
//! Never here: whether they are read right.
//! Promises: both sides see the same messages in the same order, in turns within one run.

use std::time::{Duration, Instant};

use fadewatch::reply::letter::{open, read_letter};
use fadewatch::reply::{Answering, Lexicons};

use super::row::{Aim, Row, median, runs};

const RUN: Duration = Duration::from_millis(500);

pub fn rows() -> Vec<Row> {
    let lexicons = Lexicons::shipped();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reply/mail");
    let mut mails: Vec<Vec<u8>> = std::fs::read_dir(folder)
        .expect("the folder of mails")
        .filter_map(|entry| {
            let path = entry.expect("a file").path();
            (path.extension()? == "eml").then(|| std::fs::read(&path).expect("a message"))
        })
        .collect();
    mails.sort();
    let parser = mail_parser::MessageParser::default();
    let (mut parsed, mut read) = (Vec::new(), Vec::new());
    for _ in 0..runs() {
        parsed.push(per_second(&mails, |raw| {
            std::hint::black_box(parser.parse(raw));
        }));
        read.push(per_second(&mails, |raw| {
            std::hint::black_box(read_letter(&lexicons, "en", Answering::Look, &open(raw), None));
        }));
    }
    let (parsed, read) = (median(parsed), median(read));
    vec![Row {
        measure: "replies read a second".to_owned(),
        ours: format!("{read:.0}/s"),
        beside: format!("{parsed:.0}/s: parsing the same MIME alone"),
        ratio: Some(read / parsed),
        aim: Aim::AtLeast(0.5),
        note: format!("{} messages of tests/reply/mail", mails.len()),
    }]
}

fn per_second(mails: &[Vec<u8>], work: impl Fn(&[u8])) -> f64 {
    let begun = Instant::now();
    let mut done = 0_u32;
    while begun.elapsed() < RUN {
        for raw in mails {
            work(raw);
            done += 1;
        }
    }
    f64::from(done) / begun.elapsed().as_secs_f64()
}
