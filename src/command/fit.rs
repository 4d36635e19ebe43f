//! `fadewatch fit`: whether a fit is ready to begin; if not, why, and what to try next.
//!
//! Never here: working it out (`review`); keeping the fitting (`enroll`, `refit`).
//! Promises: nothing is stored but the page that was asked for; not ready shows in the exit code.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::setting::{CommandError, now, show_warnings};
use crate::care::Site;
use crate::care::fitting::FitPractice;
use crate::config::{self, Clinic, FittingFile, fitting_version};
use crate::follow_up::Calendar;
use crate::notice::Languages;
use crate::review::{
    FittingWords, PageOf, Readiness, Words, fitting_page, next_in_words, readiness,
    shortfall_in_words, verdict_in_words,
};

/// The clinic file that is used where none is named and there is one.
const CLINIC_FILE: &str = "clinic.toml";

/// What `fit` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch fit client-example.toml --page fitting.html\n\nThe file \
    is a client file, or holds `[fitting]` alone. Exit code 5: not ready.\nThe values come from \
    `[fit]` in the clinic file; without a clinic file they are\ncommon practice (no published \
    source)."
)]
pub(super) struct FitArgs {
    /// The client file, or a file with `[fitting]` alone.
    file: PathBuf,
    /// Print JSON.
    #[arg(long, conflicts_with = "page")]
    json: bool,
    /// Write a page to print: the record, whether it is ready, what to try next.
    #[arg(long, value_name = "OUT.html")]
    page: Option<PathBuf>,
    /// The language of the answer and the page: de, en, es, fr.
    #[arg(long, value_name = "TAG", default_value = "en")]
    language: String,
    /// The clinic file; without it, `clinic.toml` where there is one, else common practice.
    #[arg(long = "config", value_name = "FILE", env = "FADEWATCH_CONFIG")]
    clinic: Option<PathBuf>,
}

/// The answer as programs read it.
#[derive(Serialize)]
struct FitJson {
    ready: bool,
    client: Option<String>,
    risk: Option<String>,
    fitted_on: String,
    version: String,
    /// In working order.
    missing: Vec<String>,
    next: Option<String>,
    seat_for_client: bool,
    values: ValuesJson,
}

/// The values that the fit was held to.
#[derive(Serialize)]
struct ValuesJson {
    clearance_least: String,
    clearance_most: String,
    feeler_thickness: String,
    imprint_most: &'static str,
    build_up_pairs_most: u32,
    build_up_one_side_most: u32,
    comfort_fill_for: Vec<String>,
    source: &'static str,
}

impl FitArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let languages = Languages::shipped();
        paper::known_language(&languages, &self.language)?;
        let clinic = self.clinic()?;
        let practice = clinic.as_ref().map_or_else(FitPractice::common, |c| c.fit.clone());
        let zone = clinic.as_ref().map_or("UTC", |clinic| clinic.time_zone.as_str());
        let calendar = Calendar::new(zone)
            .expect("OK because a clinic file with an unknown zone is refused, and UTC is known");
        let today = calendar.date(now());
        let checked = config::read_fitting(&self.file, clinic.as_ref(), today)?;
        show_warnings(&checked.warnings);
        let file = checked.value;
        let ready = readiness(&file.fitting, file.risk.as_ref(), &practice);
        let all_words = FittingWords::shipped();
        let words = all_words.of(&self.language);
        if let Some(path) = &self.page {
            self.write_page(path, &file, &ready, (&practice, words, &languages))?;
        }
        if self.json {
            paper::print_json(&as_json(&file, &ready, (&practice, words)))?;
        } else {
            paper::print(&in_words(&ready, (&practice, words)))?;
        }
        Ok(if ready.is_ready() { Exit::Done.into() } else { Exit::Unwell.into() })
    }

    /// The clinic file that was named, or that lies here; none where there is none.
    fn clinic(&self) -> Result<Option<Clinic>, CommandError> {
        let here = Path::new(CLINIC_FILE);
        let path = match &self.clinic {
            Some(path) => path.as_path(),
            None if here.exists() => here,
            None => {
                paper::warn(
                    "there is no clinic file here: the fit is held to common practice; name the \
                     clinic file with --config",
                );
                return Ok(None);
            }
        };
        let checked = config::read_clinic(path)?;
        show_warnings(&checked.warnings);
        Ok(Some(checked.value))
    }

    fn write_page(
        &self,
        path: &Path,
        file: &FittingFile,
        readiness: &Readiness,
        (practice, words, languages): (&FitPractice, &Words, &Languages),
    ) -> Result<(), CommandError> {
        let wording = languages.wording(words.code());
        let of = PageOf {
            fitting: &file.fitting,
            version: &fitting_version(&file.fitting),
            client: file.client.as_ref(),
            risk: file.risk.as_ref(),
            readiness,
            practice,
        };
        let page = fitting_page(of, words, &|sites: &[Site]| wording.sites(sites));
        paper::write(path, &page)
    }
}

fn in_words(readiness: &Readiness, (practice, words): (&FitPractice, &Words)) -> String {
    let mut out = format!("{}\n", verdict_in_words(readiness, words));
    for (number, shortfall) in (1..).zip(readiness.shortfalls()) {
        out.push_str(&format!("  {number}. {}\n", shortfall_in_words(shortfall, practice, words)));
    }
    if let Some(next) = readiness.next() {
        out.push_str(&format!("{}\n", next_in_words(next, words)));
    }
    out
}

fn as_json(
    file: &FittingFile,
    readiness: &Readiness,
    (practice, words): (&FitPractice, &Words),
) -> FitJson {
    let lacks = readiness.shortfalls().iter();
    FitJson {
        ready: readiness.is_ready(),
        client: file.client.as_ref().map(ToString::to_string),
        risk: file.risk.as_ref().map(ToString::to_string),
        fitted_on: file.fitting.date.to_string(),
        version: fitting_version(&file.fitting).as_str().to_owned(),
        missing: lacks.map(|lack| shortfall_in_words(lack, practice, words)).collect(),
        next: readiness.next().map(|next| next_in_words(next, words)),
        seat_for_client: readiness.seat_for_client().is_some(),
        values: ValuesJson {
            clearance_least: practice.clearance_least.to_string(),
            clearance_most: practice.clearance_most.to_string(),
            feeler_thickness: practice.feeler_thickness.to_string(),
            imprint_most: practice.imprint_most.id(),
            build_up_pairs_most: practice.build_up_pairs_most,
            build_up_one_side_most: practice.build_up_one_side_most,
            comfort_fill_for: practice.comfort_fill_for.iter().map(ToString::to_string).collect(),
            source: "common practice, set by the clinic",
        },
    }
}
