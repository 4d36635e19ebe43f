//! The trade: sites, findings, risk levels, fittings and the tolerance-progression plan, as
//! checked types.
//!
//! Never here: clocks, files, mail, SQL, wording.
//! Promises: a value of one of these types is valid; nothing inside re-checks it.

pub mod amount;
pub mod fitting;
pub mod hours;
pub mod person;
pub mod plan;
pub mod reading;
pub mod risk;
pub mod rota;
pub mod site;

pub use amount::Minutes;
pub use fitting::{Clearance, Fitting, FittingVersion};
pub use hours::AskedHours;
pub use person::{ClientRef, ClinicianId, ContactId};
pub use plan::{Ladder, Limits, Plan, PlanVersion, RepeatMarks, Routine, Step, StopTerms};
pub use reading::{Finding, Reading, StepChoice, Verdict};
pub use risk::RiskLevel;
pub use site::{Place, Side, Site};
