//! How replies are read, measured on labelled fixtures.
//!
//! `dev.jsonl` and `mail/` were given with the job; `own-*.jsonl` are our own, each written before
//! the reader was run on it. At first sight it read 91.8 % of `own-held-out.jsonl` right (220
//! English lines, five of them falsely calm), 90.0 % of `own-fresh.jsonl` (none falsely calm),
//! 88.1 % of `own-fresh-2.jsonl` (one) and 93.1 % of `own-fresh-3.jsonl` (none). Of
//! `own-fresh-4.jsonl` it read at first sight 91.4 % (English), 93.4 % (Spanish), 91.8 % (German)
//! and 93.5 % (French) right, two falsely calm and one under-read; of `own-fresh-5.jsonl` 86.2,
//! 94.2, 98.4 and 96.9 %, one falsely calm and one under-read; of `own-fresh-6.jsonl` 92.3, 89.9,
//! 95.0 and 95.0 %, three falsely calm and one read as `close`; of `own-fresh-7.jsonl` 93.2
//! and 94.2 % (English and Spanish), one falsely calm; of `own-signs.jsonl`, made to
//! mislead, 82.5 %, two falsely calm and one read as `resume`. `own-fresh-8.jsonl` is seven sets in
//! several voices, at first sight 93.3, 85.5, 90.8, 84.3 (slips and orders made to mislead), 88.7,
//! 89.1 and 84.3 % right, six falsely calm, seven under-read and thirteen read as `resume` or
//! `close`, ten of those in the set made to mislead; `own-fresh-9.jsonl` 96.2 and
//! `own-fresh-10.jsonl` 92.7 % right, none falsely calm, none under-read (of four lines the clock
//! time or the sites were labelled anew after the run); `own-fresh-11.jsonl` 91.2 %, one falsely
//! calm (of six lines a label was mended after the run), `own-fresh-12.jsonl` 90.3 %, none falsely
//! calm (five labels mended), `own-fresh-13.jsonl` 90.0 %, none falsely calm (five mended; one of
//! them was 'not yet' at a second look, first labelled `persisting` and read as `not-looked`), and
//! `own-fresh-14.jsonl`, plainer, 95.4 %, none falsely calm (two mended). `own-fresh-15.jsonl` to
//! `own-fresh-18.jsonl` were written by four hands in the manner of `dev.jsonl` and read, at first
//! sight and by one version, 83.0, 89.3, 85.9 and 88.0 % right, with one, one, none and one falsely
//! calm and none, one, none and one under-read. `own-lists.jsonl` has hundreds of ways of saying each
//! reading, made as unlike each other as their writers could; that version read 64 to 86 % of them,
//! 20 falsely calm, eight under-read and seven read as `resume` or `close`. Of 79 whole mails in
//! `mail-own/` it read 67 right. What each showed was then mended in the grammar and the word lists;
//! after that `own-fresh-19.jsonl` was read 94.6 % right at first sight, none falsely calm, none
//! under-read, `unclear` without need on 3.9 %, sites right on 97.7 %, and, that mended too,
//! `own-fresh-20.jsonl` 97.5 % right, none falsely calm, none under-read (120 lines).
//! On replies that nobody has seen, expect less than these tests show. `own-harm.jsonl` has replies
//! that only sound calm; its labels are unused.
//!
//! Never here: rules of a follow-up.
//! Promises: no line and no variant of one is read calm where its label is not.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

mod confusion;
mod families;
mod labelled;
mod languages;
mod mails;
mod outside;
mod robust;
mod rounds;
mod variants;
