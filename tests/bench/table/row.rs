//! A line of the table, and medians.
//!
//! Never here: measuring, machines.
//! Promises: a figure that was not taken in this run is not in the table.

use std::time::Duration;

/// A line of the table.
pub struct Row {
    pub measure: String,
    pub ours: String,
    pub beside: String,
    pub ratio: Option<f64>,
    pub aim: Aim,
    pub note: String,
}

/// What a ratio or a value is to be.
pub enum Aim {
    AtLeast(f64),
    AtMost(f64),
}

impl Row {
    /// As a line of Markdown.
    pub fn line(&self) -> String {
        let Self { measure, ours, beside, ratio, aim, note } = self;
        let shown = ratio.map_or_else(String::new, |ratio| format!("{ratio:.2}"));
        let (aim, met) = match (aim, ratio) {
            (Aim::AtLeast(least), Some(ratio)) => (format!("≥ {least}"), yes(*ratio >= *least)),
            (Aim::AtMost(most), Some(ratio)) => (format!("≤ {most}"), yes(*ratio <= *most)),
            (Aim::AtLeast(_) | Aim::AtMost(_), None) => (String::new(), ""),
        };
        format!("| {measure} | {ours} | {beside} | {shown} | {aim} | {met} | {note} |")
    }
}

fn yes(met: bool) -> &'static str {
    if met { "yes" } else { "**no**" }
}

/// How often each figure is taken.
pub fn runs() -> usize {
    std::env::var("FADEWATCH_BENCH_RUNS").map_or(3, |text| text.parse().expect("a number"))
}

/// The middle one.
pub fn median<T: PartialOrd + Copy>(mut values: Vec<T>) -> T {
    values.sort_by(|a, b| a.partial_cmp(b).expect("OK because no measure is NaN"));
    values[values.len() / 2]
}

/// A duration in milliseconds.
pub fn ms(took: Duration) -> f64 {
    took.as_secs_f64() * 1000.0
}
