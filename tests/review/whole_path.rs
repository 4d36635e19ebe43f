//! A fitting from the client file to the alert: refused, begun, fitted again, spoken of.

use std::fs;
use std::sync::Arc;

use chrono::NaiveDate;
use fadewatch::care::fitting::{FreeWords, InSpiteOf};
use fadewatch::care::{ClientRef, ClinicianId, ContactId, Reading, Verdict};
use fadewatch::config::{ClientFile, fitting_version, read_client, read_clinic};
use fadewatch::follow_up::{Event, Instant};
use fadewatch::notice::Languages;
use fadewatch::reply::Lexicons;
use fadewatch::service::acts_by_hand::{PhoneReport, report};
use fadewatch::service::{Office, Refusal, ServiceError, due, enrolling, refitting};
use fadewatch::store::{FollowUpId, Mode, Store, Tx};
use tempfile::TempDir;

use crate::{FITTING, fitting};

/// A clinic with its data folder.
struct Clinic {
    folder: TempDir,
    office: Arc<Office>,
    store: Store,
}

impl Clinic {
    fn new(change: (&str, &str)) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let shipped = |name: &str| format!("{}/config/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = fs::read_to_string(shipped("clinic.toml")).unwrap();
        assert!(text.contains(change.0));
        let text = text.replacen(change.0, change.1, 1);
        fs::write(folder.path().join("clinic.toml"), text).unwrap();
        fs::create_dir(folder.path().join("plans")).unwrap();
        fs::copy(shipped("plans/two-week.toml"), folder.path().join("plans/two-week.toml"))
            .unwrap();
        let clinic = read_clinic(&folder.path().join("clinic.toml")).unwrap().value;
        let store = Store::open(&clinic.data_folder, Mode::Service).unwrap();
        let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped()).unwrap();
        Self { folder, office: Arc::new(office), store }
    }

    /// The shipped client with some parts of the fitting of these tests changed.
    fn client(&self, changes: &[(&str, &str)]) -> ClientFile {
        let shipped = concat!(env!("CARGO_MANIFEST_DIR"), "/config/client-example.toml");
        let text = fs::read_to_string(shipped).unwrap();
        let (client, _) = text.split_once("[fitting]").unwrap();
        let mut fitting = FITTING.to_owned();
        for (part, to) in changes {
            assert!(fitting.contains(part));
            fitting = fitting.replacen(part, to, 1);
        }
        let path = self.folder.path().join("client.toml");
        fs::write(&path, format!("{client}{fitting}")).unwrap();
        let read = read_client(&path, &self.office.clinic, day());
        read.unwrap_or_else(|problems| panic!("{problems}")).value
    }

    fn write<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Office, &mut Tx<'_>) -> Result<T, ServiceError> + Send + 'static,
    ) -> Result<T, ServiceError> {
        let office = Arc::clone(&self.office);
        self.store.write_blocking(move |tx| work(&office, tx))
    }

    fn enroll(&self, client: ClientFile) -> Result<FollowUpId, ServiceError> {
        let from = self.at(0, 5);
        self.write(move |office, tx| enrolling::enroll(office, tx, &client, "desk", from))
            .map(|enrolled| enrolled.follow_up)
    }

    fn at(&self, hour: u32, minute: u32) -> Instant {
        let time = chrono::NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
        self.office.calendar.instant(day(), time)
    }

    /// Lets the first day pass up to a first look, and says by phone what was seen.
    fn mark_lasts(&self, follow_up: FollowUpId) {
        let until = self.at(11, 0);
        self.write(move |office, tx| {
            while let Some(next) = tx.earliest_due()?.filter(|next| *next <= until) {
                due::act_on_due(office, tx, next)?;
            }
            Ok(())
        })
        .unwrap();
        let said = PhoneReport {
            by: ContactId::new("first").unwrap(),
            taken_by: ClinicianId::new("desk").unwrap(),
            verdict: Verdict {
                sites: vec!["ischium-left".parse().unwrap()],
                ..Verdict::bare(Reading::Persisting)
            },
            words: None,
        };
        self.write(move |office, tx| report(office, tx, follow_up, &said, until).map(|_| ()))
            .unwrap();
    }

    /// The plain part of the alert.
    fn alert(&self) -> String {
        self.store
            .read_blocking(|view| {
                let mails = view.newest_mails(20)?;
                let raw: Vec<Vec<u8>> = mails
                    .iter()
                    .filter_map(|m| view.raw_mail(m.id).transpose())
                    .collect::<Result<_, fadewatch::store::StoreError>>()?;
                Ok::<_, fadewatch::store::StoreError>(raw)
            })
            .unwrap()
            .iter()
            .filter_map(|raw| mail_parser::MessageParser::default().parse(raw.as_slice()))
            .filter_map(|mail| mail.body_text(0).map(std::borrow::Cow::into_owned))
            .find(|text| text.contains("a mark") && text.contains("What to examine first"))
            .unwrap_or_else(|| panic!("there is no alert with a guide"))
    }
}

fn day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 6).unwrap()
}

const AS_SHIPPED: (&str, &str) = ("fitting_required = false", "fitting_required = false");
const UNDER: (&str, &str) = ("left = \"16mm\"", "left = \"12mm\"");

#[test]
fn an_unsafe_start_is_refused_with_what_is_missing_and_what_to_try() {
    let clinic = Clinic::new(AS_SHIPPED);
    let refused = clinic.enroll(clinic.client(&[UNDER])).unwrap_err();
    assert!(matches!(&refused, ServiceError::Refused(Refusal::FitNotReady { .. })));
    insta::assert_snapshot!(refused.to_string());
    let a7 = ClientRef::new("A7").unwrap();
    let enrolled = clinic.store.read_blocking(|view| view.follow_up_of(&a7)).unwrap();
    assert_eq!(enrolled, None);
}

#[test]
fn a_clinician_may_begin_all_the_same_and_the_journal_says_who_but_not_in_which_words() {
    let clinic = Clinic::new(AS_SHIPPED);
    let client = clinic.client(&[UNDER]);
    let from = clinic.at(0, 5);
    let reason = FreeWords::new("measured in a thick pad").unwrap();
    let decided = InSpiteOf { by: ClinicianId::new("seating").unwrap(), reason };
    let kept_decision = decided.clone();
    let follow_up = clinic
        .write(move |office, tx| {
            let by = ("seating", Some(&decided));
            enrolling::enroll_in_spite_of(office, tx, &client, by, from)
        })
        .unwrap()
        .follow_up;
    let (lines, kept, as_journalled) = clinic
        .store
        .read_blocking(|view| {
            let lines = view.journal_of(follow_up)?;
            let as_journalled = view.is_state_as_journalled(follow_up)?;
            Ok::<_, fadewatch::store::StoreError>((lines, view.fitting(follow_up)?, as_journalled))
        })
        .unwrap();
    assert!(as_journalled);
    let kept = kept.unwrap();
    assert_eq!(kept.in_spite_of, Some(kept_decision));
    let Event::Fitted { version, in_spite_of, .. } = &lines[1].entry.event else {
        panic!("the second entry is the fitting")
    };
    assert_eq!(*version, kept.version);
    assert_eq!(in_spite_of.as_ref().map(ClinicianId::as_str), Some("seating"));
    let journal = serde_json::to_string(&lines.iter().map(|l| &l.entry).collect::<Vec<_>>());
    let journal = journal.unwrap();
    for words in ["thick pad", "A. Example", "relief", "raised by"] {
        assert!(!journal.contains(words), "{words}");
    }
}

#[test]
fn a_clinic_can_ask_that_nobody_begins_without_a_fitting() {
    let clinic = Clinic::new(("fitting_required = false", "fitting_required = true"));
    let shipped = concat!(env!("CARGO_MANIFEST_DIR"), "/config/client-example.toml");
    let text = fs::read_to_string(shipped).unwrap();
    let path = clinic.folder.path().join("bare.toml");
    fs::write(&path, text.split_once("[fitting]").unwrap().0).unwrap();
    let problems = read_client(&path, &clinic.office.clinic, day()).unwrap_err().to_string();
    assert!(problems.contains("the client file lacks `[fitting]`"), "{problems}");
    assert!(problems.contains("fitting_required = true"), "{problems}");
}

#[test]
fn a_client_fitted_again_is_followed_on_the_newest_fitting() {
    let clinic = Clinic::new(AS_SHIPPED);
    let follow_up = clinic.enroll(clinic.client(&[])).unwrap();
    let refit = |changes: &'static [(&str, &str)], hour: u32| {
        let (fitting, at) = (fitting(changes), clinic.at(hour, 0));
        clinic.write(move |office, tx| {
            refitting::refit(office, tx, follow_up, ("desk", &fitting, None), at)
        })
    };
    let same = refit(&[], 8).unwrap_err();
    assert!(matches!(same, ServiceError::Refused(Refusal::SameFitting)), "{same}");
    let unready = refit(&[UNDER], 8).unwrap_err();
    assert!(matches!(unready, ServiceError::Refused(Refusal::FitNotReady { .. })), "{unready}");
    let changed = &[("left = \"16mm\"", "left = \"17mm\"")];
    let acted = refit(changed, 9).unwrap();
    assert_eq!(acted.state.fitting, Some(fitting_version(&fitting(changed))));
    let kept = clinic.store.read_blocking(|view| view.fittings(follow_up)).unwrap();
    let numbers: Vec<u32> = kept.iter().map(|kept| kept.number).collect();
    assert_eq!(numbers, [1, 2]);
    assert_eq!(kept[0].version, fitting_version(&fitting(&[])));
    assert_eq!(kept[1].version, fitting_version(&fitting(changed)));
    // Going back to an earlier fit is a fitting again.
    assert!(refit(&[], 10).is_ok());
}

#[test]
fn an_alert_says_the_fitting_in_three_lines_and_what_to_examine_first() {
    let clinic = Clinic::new(AS_SHIPPED);
    let follow_up = clinic.enroll(clinic.client(&[])).unwrap();
    clinic.mark_lasts(follow_up);
    let alert = clinic.alert();
    let from = alert.find("Seat fitting").or_else(|| alert.find("Fitting")).unwrap_or(0);
    insta::assert_snapshot!(alert[from..].lines().take(24).collect::<Vec<_>>().join("\n"));
    assert!(alert.contains("Bottoming out first"), "{alert}");
}

#[test]
fn an_alert_of_a_client_without_a_fitting_still_says_what_to_examine() {
    let clinic = Clinic::new(AS_SHIPPED);
    let mut client = clinic.client(&[]);
    client.fitting = None;
    let follow_up = clinic.enroll(client).unwrap();
    clinic.mark_lasts(follow_up);
    assert!(clinic.alert().contains("the record does not say"));
}
