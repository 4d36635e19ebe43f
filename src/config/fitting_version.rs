//! The version of a fitting: a hash over its canonical form.
//!
//! Never here: bytes of files; comments and white space make no new version.
//! Promises: equal records have equal versions, on every machine and in every later release.
//!
//! The canonical form is a text in UTF-8 that begins with the line `fadewatch fitting 1`. Each
//! entry follows on a line of its own, `path = value`, in the order below: texts as JSON strings,
//! clearances in their written unit, days as `YYYY-MM-DD`, lists with `, ` between. What the
//! record leaves out has no line. The version is the SHA-256 of that text, in lower-case
//! hexadecimal.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

use crate::care::fitting::{ClearanceHow, ComfortFill, FittingVersion, Levelled, Pelvis};
use crate::care::{Fitting, Side, Site};

/// The version of a fitting.
pub fn fitting_version(fitting: &Fitting) -> FittingVersion {
    let digest = Sha256::digest(fitting_canonical(fitting).as_bytes());
    let mut hash = String::with_capacity(64);
    for byte in digest {
        write!(hash, "{byte:02x}").expect("OK because writing to a string cannot fail");
    }
    FittingVersion::from_hash(hash)
}

/// The canonical form of a fitting.
pub fn fitting_canonical(fitting: &Fitting) -> String {
    let mut text = String::from("fadewatch fitting 1\n");
    let mut add = |path: &str, value: &str| {
        writeln!(text, "{path} = {value}").expect("OK because writing to a string cannot fail");
    };
    add("date", &fitting.date.to_string());
    add("fitter", &quoted(fitting.fitter.as_str()));
    add("seat", &quoted(fitting.seat.as_str()));
    add("off_loads", &listed(&fitting.off_loads));
    add("loads", &listed(&fitting.loads));
    for (check, checked) in fitting.checks.iter() {
        add(&format!("checks.{check}"), checked.result.id());
        if let Some(note) = &checked.note {
            add(&format!("checks.{check}.note"), &quoted(note.as_str()));
        }
    }
    if let Some(clearance) = fitting.clearance {
        add("clearance.left", &clearance.left.to_string());
        add("clearance.right", &clearance.right.to_string());
        match clearance.how {
            ClearanceHow::Hand => add("clearance.found_by", "hand"),
            ClearanceHow::Feeler { left, right } => {
                add("clearance.found_by", "feeler");
                add("clearance.imprint_left", left.id());
                add("clearance.imprint_right", right.id());
            }
        }
    }
    add("build_up.left", &fitting.build_up.pieces(Side::Left).to_string());
    add("build_up.right", &fitting.build_up.pieces(Side::Right).to_string());
    add("build_up.seat_takes", &fitting.build_up.seat_takes().to_string());
    match fitting.pelvis {
        Pelvis::NotChecked => add("pelvis.low_side", "not-checked"),
        Pelvis::Level => add("pelvis.low_side", "none"),
        Pelvis::Oblique(obliquity) => {
            add("pelvis.low_side", obliquity.low_side.id());
            add("pelvis.obliquity", obliquity.kind.id());
            let levelled = obliquity.levelled == Levelled::Yes;
            add("pelvis.levelled", &levelled.to_string());
        }
    }
    add("legs", fitting.legs.id());
    add("thigh_supports", fitting.thigh_supports.id());
    add("comfort_fill", &(fitting.comfort_fill == ComfortFill::Used).to_string());
    text
}

fn listed(sites: &[Site]) -> String {
    sites.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
