//! A clinic of any size: its office, its store on a disk, and clients who are all alike.
//!
//! Never here: measuring.
//! Promises: every client is asked for a routine look at the same minute of every day; the clients
//! are enrolled by the service's own act.

use std::path::Path;
use std::sync::Arc;

use chrono::{NaiveDate, NaiveTime};
use fadewatch::care::{ClientRef, ContactId, Reading, RiskLevel, Verdict};
use fadewatch::config::{ClientFile, Language, MailAddress, PersonName, parse_clinic, parse_plan};
use fadewatch::follow_up::Instant;
use fadewatch::notice::Languages;
use fadewatch::reply::Lexicons;
use fadewatch::service::acts_by_hand::{PhoneReport, report};
use fadewatch::service::picturing::Easel;
use fadewatch::service::{Office, ServiceError, ahead, due, enrolling};
use fadewatch::store::{FollowUpId, Mode, Store, Tx};
use tokio::runtime::Runtime;

/// Clients enrolled in one transaction.
const ENROLLED_AT_ONCE: usize = 1000;

/// A clinic with its store.
pub struct Clinic {
    pub office: Arc<Office>,
    pub store: Store,
    runtime: Runtime,
}

/// The first local day of every client.
pub fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 6).unwrap()
}

/// The clinic file; `folder` holds data, plans and mail.
pub fn clinic_file(folder: &Path) -> String {
    let folder = folder.display();
    format!(
        "name = \"Invented Seating Clinic\"\ntime_zone = \"Europe/London\"\n\
         phone = \"01632 960 123\"\nout_of_hours = \"Call your emergency doctor.\"\n\
         data_folder = \"{folder}/data\"\nplans_folder = \"{folder}/plans\"\ncover = [\"seating\"]\n\
         [[clinician]]\nid = \"seating\"\nname = \"Person Seating\"\n\
         mail = \"seating@clinic.example\"\nrole = \"clinician\"\nlanguage = \"en\"\n\
         [mail]\nfrom = \"checks@clinic.example\"\ngive_up_after = \"4h\"\n\
         [mail.out]\nmaildir = \"{folder}/out\"\n[mail.in]\nmaildir = \"{folder}/in\"\n"
    )
}

impl Clinic {
    /// An empty clinic in a folder.
    pub fn new(folder: &Path) -> Self {
        let file = clinic_file(folder);
        std::fs::write(folder.join("clinic.toml"), &file).unwrap();
        std::fs::create_dir_all(folder.join("plans")).unwrap();
        let clinic = parse_clinic("clinic.toml", &file).unwrap().value;
        let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped())
            .unwrap()
            .with_easel(Easel::Beside);
        let store = Store::open(&folder.join("data"), Mode::Service).unwrap();
        Self { office: Arc::new(office), store, runtime: Runtime::new().unwrap() }
    }

    /// Runs an act of the service in one transaction.
    pub fn write<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Office, &mut Tx<'_>) -> Result<T, ServiceError> + Send + 'static,
    ) -> T {
        let office = Arc::clone(&self.office);
        self.store.write_blocking(move |tx| work(&office, tx)).unwrap()
    }

    /// Enrols so many clients, on the evening before their first day.
    pub fn enroll(&self, range: std::ops::Range<usize>) -> Vec<FollowUpId> {
        let numbers: Vec<usize> = range.collect();
        let eve = self.at(-1, "20:00");
        let mut enrolled = Vec::new();
        for some in numbers.chunks(ENROLLED_AT_ONCE) {
            let files: Vec<ClientFile> = some.iter().map(|number| self.client(*number)).collect();
            enrolled.extend(self.write(move |office, tx| {
                files
                    .iter()
                    .map(|file| Ok(enrolling::enroll(office, tx, file, "bench", eve)?.follow_up))
                    .collect::<Result<Vec<_>, ServiceError>>()
            }));
        }
        enrolled
    }

    fn client(&self, number: usize) -> ClientFile {
        let text = include_str!("../../../config/plans/two-week.toml");
        let plan = parse_plan("two-week.toml", text).unwrap().value;
        ClientFile {
            reference: ClientRef::new(&format!("B{number}")).unwrap(),
            call_name: PersonName::new("Sam").unwrap(),
            risk: RiskLevel::new("moderate").unwrap(),
            risk_score: None,
            time_zone: self.office.clinic.time_zone.clone(),
            sittings_at: vec![time("09:30"), time("15:00")],
            quiet: None,
            contacts: vec![fadewatch::config::Contact {
                id: ContactId::new("home").unwrap(),
                name: PersonName::new("Person Home").unwrap(),
                mail: MailAddress::new(&format!("person-{number}@home.example")).unwrap(),
                language: Language::new("en").unwrap(),
                asked: fadewatch::care::AskedHours::ANY,
            }],
            cover: self.office.clinic.cover.clone(),
            plan,
            begins: first_day(),
            fitting: None,
        }
    }

    /// The instant of a wall-clock time, so many days after the first.
    pub fn at(&self, days: i64, clock: &str) -> Instant {
        let day = first_day() + chrono::TimeDelta::days(days);
        self.office.calendar.instant(day, time(clock))
    }

    /// Does what is due, batch by batch, until nothing is due any more, as the service does.
    pub fn act_on_due(&self, now: Instant) {
        self.runtime.block_on(async {
            let (store, office) = (&self.store, &self.office);
            loop {
                let crowd = store.read(move |view| view.due_follow_ups(now, u32::MAX));
                let crowd: Vec<FollowUpId> = crowd.await.unwrap();
                if crowd.is_empty() {
                    return;
                }
                let batch =
                    ahead::act_on_crowd(store, office, &crowd, || std::future::ready(now), || {});
                assert!(batch.await.unwrap().undrawn.is_empty(), "nothing here calls for a chart");
            }
        });
    }

    /// Lets time pass up to an instant, with every request answered: all clear.
    pub fn live_until(&self, until: Instant) {
        self.write(move |office, tx| {
            while let Some(next) = tx.earliest_due()?.filter(|next| *next <= until) {
                let asked = tx.due_follow_ups(next, u32::MAX)?;
                let batch = due::act_on_due(office, tx, next)?;
                office.draw(tx, &batch.undrawn);
                for follow_up in asked {
                    if tx.load(follow_up)?.state.unsettled_looks().any(is_open) {
                        report(office, tx, follow_up, &all_clear(), next)?;
                    }
                }
            }
            Ok(())
        });
    }
}

fn is_open(look: &fadewatch::follow_up::state::Look) -> bool {
    look.status == fadewatch::follow_up::state::LookStatus::Open
}

fn all_clear() -> PhoneReport {
    PhoneReport {
        by: ContactId::new("home").unwrap(),
        taken_by: fadewatch::care::ClinicianId::new("seating").unwrap(),
        verdict: Verdict::bare(Reading::Clear),
        words: None,
    }
}

fn time(clock: &str) -> NaiveTime {
    NaiveTime::parse_from_str(clock, "%H:%M").unwrap()
}
