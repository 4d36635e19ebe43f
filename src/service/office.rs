//! What every act of the service needs beside the store: the clinic, its languages, its own
//! addresses, the plans in use.
//!
//! Never here: clients; anything that changes while the service runs, but for the plans that are
//! read as they are met.
//! Promises: shared by all loops; holds no secret.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use super::at_hand::StatesAtHand;
use super::error::ServiceError;
use super::mailing::Stationery;
use super::picturing::{Easel, PictureShelf};
use crate::care::{ClinicianId, Plan, PlanVersion};
use crate::config;
use crate::follow_up::{Calendar, Instant};
use crate::notice;
use crate::post::{Address, Mailbox};
use crate::reply::Lexicons;
use crate::review::{FittingWords, Guide};
use crate::store::{FollowUpId, Loaded, StoreError, Token, View};

/// The office that all acts are done in.
#[derive(Debug)]
pub struct Office {
    /// The clinic file.
    pub clinic: config::Clinic,
    /// What notices say about the clinic.
    pub about: notice::Clinic,
    /// The clinic's own zone.
    pub calendar: Calendar,
    /// The languages that people are written to in.
    pub languages: Arc<notice::Languages>,
    /// The languages that replies are read in.
    pub lexicons: Arc<Lexicons>,
    /// What to examine after a finding.
    pub guide: Guide,
    /// The words about fittings.
    pub fitting_words: FittingWords,
    /// The clinicians, as notices know them.
    pub clinicians: BTreeMap<ClinicianId, notice::Person>,
    /// What mail is sent from.
    pub from: Mailbox,
    /// What replies come back to; a token is added to it.
    pub reply_to: Address,
    /// Pictures that were drawn lately.
    pub pictures: PictureShelf,
    /// What mail is composed of.
    pub stationery: Stationery,
    /// States that were worked with lately.
    pub states: StatesAtHand,
    plans: Mutex<HashMap<PlanVersion, Arc<Plan>>>,
    dice: Dice,
}

/// Where random bits come from.
#[derive(Debug)]
enum Dice {
    /// The machine.
    System,
    /// A number that counts up, mixed: for runs that must repeat exactly.
    Seeded(Mutex<u64>),
}

impl Office {
    /// Sets the office up.
    ///
    /// # Errors
    /// When an address of the clinic file cannot be written to.
    pub fn new(
        clinic: config::Clinic,
        languages: impl Into<Arc<notice::Languages>>,
        lexicons: impl Into<Arc<Lexicons>>,
    ) -> Result<Self, ServiceError> {
        let address = |text: &config::MailAddress, whom: &str| {
            Address::parse(text.as_str())
                .map_err(|_| ServiceError::Address { whom: whom.to_owned() })
        };
        let from = address(&clinic.mail.from, "the clinic (mail.from)")?;
        let reply_to = address(&clinic.mail.reply_to, "the clinic (mail.reply_to)")?;
        let calendar = Calendar::new(clinic.time_zone.as_str())
            .expect("OK because a clinic file with an unknown zone is refused");
        let clinicians = clinic
            .clinicians
            .iter()
            .map(|clinician| {
                let (name, language) = (clinician.name.as_str(), clinician.language.as_str());
                (clinician.id.clone(), notice::Person::new(name, language))
            })
            .collect();
        let about = notice::Clinic {
            name: clinic.name.clone(),
            phone: clinic.phone.clone(),
            out_of_hours: clinic.out_of_hours.clone(),
        };
        Ok(Self {
            from: Mailbox::new(&clinic.name, from),
            reply_to,
            clinic,
            about,
            calendar,
            languages: languages.into(),
            lexicons: lexicons.into(),
            guide: config::shipped_review_guide(),
            fitting_words: FittingWords::shipped(),
            clinicians,
            pictures: PictureShelf::default(),
            stationery: Stationery::default(),
            states: StatesAtHand::default(),
            plans: Mutex::new(HashMap::new()),
            dice: Dice::System,
        })
    }

    /// The same office with a review guide of the clinic's own.
    #[must_use]
    pub fn with_guide(mut self, guide: Guide) -> Self {
        self.guide = guide;
        self
    }

    /// The same office with its pictures drawn somewhere else.
    #[must_use]
    pub fn with_easel(mut self, easel: Easel) -> Self {
        self.pictures = PictureShelf::with_easel(easel);
        self
    }

    /// The same office with its mail composed of something else.
    #[must_use]
    pub fn with_stationery(mut self, stationery: Stationery) -> Self {
        self.stationery = stationery;
        self
    }

    /// The same office with random bits that follow from a seed, for runs that must repeat.
    #[must_use]
    pub fn with_seed(mut self, seed: u64) -> Self {
        self.dice = Dice::Seeded(Mutex::new(seed));
        self
    }

    /// Forgets what was met so far and begins the random bits of a seed anew: an office for the
    /// next of many runs that must repeat.
    pub fn begin_anew(&self, seed: u64) {
        self.plans.lock().unwrap_or_else(PoisonError::into_inner).clear();
        self.states.clear();
        if let Dice::Seeded(count) = &self.dice {
            *count.lock().unwrap_or_else(PoisonError::into_inner) = seed;
        }
    }

    /// Loads a follow-up that is to be acted on, by the state at hand where there is one.
    ///
    /// # Errors
    /// As `View::load`.
    pub fn load(&self, view: &View<'_>, follow_up: FollowUpId) -> Result<Loaded, StoreError> {
        view.load_unless_known(follow_up, |at| self.states.take(follow_up, at))
    }

    /// Lays a follow-up back that was loaded and is as it was, for the next to load it.
    pub fn lay_back(&self, loaded: Loaded) {
        self.states.lay_down(loaded.follow_up, loaded.head, Arc::new(loaded.state));
    }

    /// A plan that a follow-up is pinned to.
    ///
    /// # Errors
    /// When the store does not have it.
    pub fn plan(&self, view: &View<'_>, version: &PlanVersion) -> Result<Arc<Plan>, StoreError> {
        let known = || self.plans.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(plan) = known().get(version) {
            return Ok(Arc::clone(plan));
        }
        let plan = Arc::new(view.plan(version)?);
        known().insert(version.clone(), Arc::clone(&plan));
        Ok(plan)
    }

    /// A new token.
    ///
    /// # Errors
    /// When the machine gives no random bits.
    pub fn token(&self, now: Instant) -> Result<Token, StoreError> {
        match &self.dice {
            Dice::System => Token::new(now),
            Dice::Seeded(count) => {
                let mut count = count.lock().unwrap_or_else(PoisonError::into_inner);
                *count = count.wrapping_add(1);
                let high = mixed(*count);
                let bits = u128::from(high) << 64 | u128::from(mixed(high ^ *count));
                Ok(Token::from_random(now, bits.to_be_bytes()))
            }
        }
    }
}

/// The finaliser of SplitMix64 (Steele, Lea and Flood 2014; constants from memory): every bit of
/// the result depends on every bit of the number.
fn mixed(number: u64) -> u64 {
    let mut z = number.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
