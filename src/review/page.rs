//! The fitting record as a page to print: the record, whether it is ready, what to try next.
//!
//! Never here: working readiness out; files.
//! Promises: one file without scripts or anything remote; everything that people wrote is escaped;
//! prints in black on one sheet.

use super::fitting_lines::{
    build_up_in_words, capital, clearance_in_words, comfort_fill_in_words, legs_in_words,
    pelvis_in_words, supports_in_words,
};
use super::readiness::Readiness;
use super::readiness_words::{next_in_words, shortfall_in_words, verdict_in_words};
use super::words::Words;
use crate::care::fitting::{FitPractice, FittingVersion};
use crate::care::{ClientRef, Fitting, RiskLevel, Site};

/// What a page is made of.
#[derive(Clone, Copy)]
pub struct PageOf<'a> {
    /// The record.
    pub fitting: &'a Fitting,
    /// Its version.
    pub version: &'a FittingVersion,
    /// Whose it is, where that is known.
    pub client: Option<&'a ClientRef>,
    /// The risk level, where it is known.
    pub risk: Option<&'a RiskLevel>,
    /// Whether it is ready.
    pub readiness: &'a Readiness,
    /// The values that it was held to.
    pub practice: &'a FitPractice,
}

/// The page. `site_names` lists sites in the language of the words.
pub fn fitting_page(
    of: PageOf<'_>,
    words: &Words,
    site_names: &dyn Fn(&[Site]) -> String,
) -> String {
    let title = escaped(words.say("page.title"));
    let body = [
        head(of, words),
        readiness(of, words),
        checks(of.fitting, words),
        record(of.fitting, words, site_names),
        values(of.practice, words),
        format!(
            "<p class=\"sign\">{}</p>\n<p class=\"small\">{}</p>\n",
            escaped(words.say("page.signature")),
            escaped(words.say("page.caution"))
        ),
    ];
    format!(
        "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<h1>{title}</h1>\n\
         {}</body>\n</html>\n",
        escaped(words.code()),
        body.concat()
    )
}

fn head(of: PageOf<'_>, words: &Words) -> String {
    let not_given = words.say("page.not-given");
    let client = of.client.map_or(not_given, ClientRef::as_str);
    let risk = of.risk.map_or(not_given, RiskLevel::as_str);
    rows(&[
        (words.say("page.client"), client),
        (words.say("page.risk"), risk),
        (words.say("page.date"), &of.fitting.date.to_string()),
        (words.say("page.fitter"), of.fitting.fitter.as_str()),
        (words.say("page.seat"), of.fitting.seat.as_str()),
        (words.say("page.version"), of.version.short()),
    ])
}

fn readiness(of: PageOf<'_>, words: &Words) -> String {
    let mut out = format!(
        "<h2>{}</h2>\n<p class=\"verdict\">{}</p>\n",
        escaped(words.say("page.verdict")),
        escaped(verdict_in_words(of.readiness, words))
    );
    if of.readiness.is_ready() {
        return out;
    }
    let missing: String = of
        .readiness
        .shortfalls()
        .iter()
        .map(|shortfall| {
            let phrase = shortfall_in_words(shortfall, of.practice, words);
            format!("<li>{}</li>\n", escaped(&capital(&phrase)))
        })
        .collect();
    out.push_str(&format!("<h3>{}</h3>\n<ol>\n{missing}</ol>\n", escaped(words.say("page.why"))));
    if let Some(next) = of.readiness.next() {
        out.push_str(&format!(
            "<h3>{}</h3>\n<p class=\"next\">{}</p>\n",
            escaped(words.say("page.next")),
            escaped(&next_in_words(next, words))
        ));
    }
    out
}

fn checks(fitting: &Fitting, words: &Words) -> String {
    let lines: String = fitting
        .checks
        .iter()
        .map(|(check, checked)| {
            let note = checked.note.as_ref().map_or("", |note| note.as_str());
            format!(
                "<tr><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                escaped(&capital(words.say(&format!("check.{check}")))),
                escaped(words.say(&format!("result.{}", checked.result.id()))),
                escaped(note)
            )
        })
        .collect();
    format!(
        "<h2>{}</h2>\n<table class=\"checks\">\n<thead><tr><th scope=\"col\">{}</th>\
         <th scope=\"col\">{}</th><th scope=\"col\">{}</th></tr></thead>\n<tbody>\n{lines}</tbody>\
         \n</table>\n",
        escaped(words.say("page.checks")),
        escaped(words.say("page.check")),
        escaped(words.say("page.result")),
        escaped(words.say("page.note")),
    )
}

fn record(fitting: &Fitting, words: &Words, site_names: &dyn Fn(&[Site]) -> String) -> String {
    let rows = rows(&[
        (words.say("page.clearance"), &capital(&clearance_in_words(fitting.clearance, words))),
        (words.say("page.build_up"), &capital(&build_up_in_words(fitting, words))),
        (words.say("page.pelvis"), &capital(&pelvis_in_words(fitting.pelvis, words))),
        (words.say("page.legs"), &capital(legs_in_words(fitting, words))),
        (words.say("page.thigh_supports"), &capital(supports_in_words(fitting, words))),
        (words.say("page.comfort_fill"), &capital(comfort_fill_in_words(fitting, words))),
        (words.say("page.off_loads"), &capital(&site_names(&fitting.off_loads))),
        (words.say("page.loads"), &capital(&site_names(&fitting.loads))),
    ]);
    format!("<h2>{}</h2>\n{rows}", escaped(words.say("page.record")))
}

fn values(practice: &FitPractice, words: &Words) -> String {
    let levels: Vec<&str> = practice.comfort_fill_for.iter().map(RiskLevel::as_str).collect();
    let levels = if levels.is_empty() { "–".to_owned() } else { levels.join(", ") };
    let lines = [
        words.fill(
            "page.values_clearance",
            &[
                ("least", &words.length(practice.clearance_least)),
                ("most", &words.length(practice.clearance_most)),
            ],
        ),
        words.fill(
            "page.values_imprint",
            &[
                ("thickness", &words.length(practice.feeler_thickness)),
                ("most", words.say(&format!("imprint.{}", practice.imprint_most.id()))),
            ],
        ),
        words.fill(
            "page.values_build_up",
            &[
                ("pairs", &practice.build_up_pairs_most.to_string()),
                ("one_side", &practice.build_up_one_side_most.to_string()),
            ],
        ),
        words.fill("page.values_comfort_fill", &[("levels", &levels)]),
        words.say("page.values_recheck").to_owned(),
    ];
    let lines: String = lines.iter().map(|line| format!("<li>{}</li>\n", escaped(line))).collect();
    format!(
        "<h2>{}</h2>\n<ul>\n{lines}</ul>\n<p class=\"small\">{}</p>\n",
        escaped(words.say("page.values")),
        escaped(words.say("page.values_source"))
    )
}

fn rows(rows: &[(&str, &str)]) -> String {
    let rows: String = rows
        .iter()
        .map(|(name, value)| {
            let (name, value) = (escaped(name), escaped(value));
            format!("<tr><th scope=\"row\">{name}</th><td>{value}</td></tr>\n")
        })
        .collect();
    format!("<table>\n{rows}</table>\n")
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            other => out.push(other),
        }
    }
    out
}

const STYLE: &str = "\
@page { size: A4; margin: 16mm; }
body { max-width: 48rem; margin: 0 auto; padding: 1rem; color: #111; background: #fff;
  font: 15px/1.4 -apple-system, 'Segoe UI', Roboto, 'Noto Sans', Arial, sans-serif; }
h1 { font-size: 1.4rem; margin: 0 0 .6rem; }
h2 { font-size: 1.05rem; margin: 1.1rem 0 .4rem; border-bottom: 1px solid #666; }
h3 { font-size: 1rem; margin: .7rem 0 .2rem; }
p, ol, ul { margin: .2rem 0; }
table { width: 100%; border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .2rem .5rem .2rem 0;
  border-bottom: 1px solid #bbb; overflow-wrap: anywhere; }
th[scope=row] { width: 11rem; font-weight: 600; }
.checks td:nth-child(2) { white-space: nowrap; }
.verdict { font-size: 1.15rem; font-weight: 700; }
.next { border: 2px solid #111; padding: .5rem .7rem; font-weight: 600; }
.sign { margin-top: 2.4rem; border-top: 1px solid #111; width: 24rem; max-width: 100%; }
.small { font-size: .85rem; }
@media print { html { font-size: 13px; } body { max-width: none; padding: 0; font-size: 9.5pt; line-height: 1.3; }
  h2 { margin: .7rem 0 .2rem; } th, td { padding: .1rem .4rem .1rem 0; }
  h2, h3 { break-after: avoid; } tr, li, .next, .sign { break-inside: avoid; } }
";
