//! What one due look costs as the clinic grows, and as a follow-up's history grows.
//!
//! Never here: the look itself (`clinic`).
//! Promises: each size is measured in the same way, on follow-ups that the service itself wrote.

use std::time::Instant;

use super::clinic::Clinic;
use super::row::{Aim, Row, median, runs};

/// Looks that one figure is made from.
const LOOKS: usize = 500;
const CLINICS: [usize; 3] = [1_000, 10_000, 100_000];
const HISTORY_DAYS: [i64; 3] = [7, 90, 365];
/// Follow-ups with a long history: a year of one takes some seconds to make.
const WITH_HISTORY: usize = 10;

pub fn rows(clients_max: usize) -> Vec<Row> {
    let clinics: Vec<(String, f64)> = CLINICS
        .into_iter()
        .filter(|clients| *clients <= clients_max)
        .map(|clients| (clients.to_string(), by_clinic(clients)))
        .collect();
    let histories = |read: Read| -> Vec<(String, f64)> {
        HISTORY_DAYS.into_iter().map(|days| (format!("{days} d"), by_history(days, read))).collect()
    };
    let (at_hand, anew) = (histories(Read::AtHand), histories(Read::Anew));
    vec![
        row("cost of a due look as the clinic grows (follow-ups)", &clinics),
        row("cost of a due look as its history grows (days)", &at_hand),
        row("the same, with each state read anew from the disk", &anew),
    ]
}

fn row(measure: &str, costs: &[(String, f64)]) -> Row {
    let shown = costs.iter().map(|(size, micros)| format!("{size}: {micros:.0} µs"));
    let (first, last) = (costs[0].1, costs[costs.len() - 1].1);
    Row {
        measure: measure.to_owned(),
        ours: shown.collect::<Vec<_>>().join(", "),
        beside: "the smallest".to_owned(),
        ratio: Some(last / first),
        aim: Aim::AtMost(1.2),
        note: String::new(),
    }
}

/// Microseconds for one look of a batch, commit included.
fn by_clinic(clients: usize) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let clinic = Clinic::new(folder.path());
    clinic.enroll(0..clients);
    let due = clinic.at(0, "08:00");
    let costs = (0..runs()).map(|_| {
        let begun = Instant::now();
        let batch =
            clinic.write(move |office, tx| fadewatch::service::due::act_on_due(office, tx, due));
        begun.elapsed().as_secs_f64() * 1e6 / batch.follow_ups.min(LOOKS) as f64
    });
    // A clinic of a thousand has two batches only.
    median(costs.take(clients / LOOKS).collect())
}

/// Where the state of a follow-up comes from.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Read {
    /// The service has just worked with it.
    AtHand,
    /// From the store, as after a start and in every large clinic.
    Anew,
}

fn by_history(days: i64, read: Read) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let clinic = Clinic::new(folder.path());
    clinic.enroll(0..WITH_HISTORY);
    clinic.live_until(clinic.at(days, "07:00"));
    let costs = (0..runs() as i64).map(|run| {
        let due = clinic.at(days + run, "08:00");
        if read == Read::Anew {
            clinic.office.begin_anew(0);
        }
        let begun = Instant::now();
        let batch =
            clinic.write(move |office, tx| fadewatch::service::due::act_on_due(office, tx, due));
        let took = begun.elapsed().as_secs_f64() * 1e6 / batch.follow_ups as f64;
        clinic.live_until(clinic.at(days + run + 1, "07:00"));
        took
    });
    median(costs.collect())
}
