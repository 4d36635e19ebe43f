//! What a follow-up is held to from enrolment on: the client's own times, contacts and risk level.
//!
//! Never here: names, addresses, the plan itself.
//! Promises: times of day are sorted; there is at least one contact.

use chrono::{NaiveDate, NaiveTime};
use serde::{Deserialize, Serialize};

use super::calendar::{Calendar, QuietHours};
use crate::care::{ClinicianId, ContactId, Ladder, Plan, PlanVersion, RiskLevel};

/// The terms of one client's follow-up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Terms {
    /// The plan's risk level for this client; the plan has a ladder for it.
    pub risk: RiskLevel,
    /// The pinned version of the plan.
    pub plan: PlanVersion,
    /// The client's time zone.
    pub zone: Calendar,
    /// Times of day at which sittings are planned; sorted, no repeats (R2).
    pub sittings_at: Vec<NaiveTime>,
    /// Quiet hours, where the client has any (R24).
    pub quiet: Option<QuietHours>,
    /// Who is asked, in calling order; at least one.
    pub contacts: Vec<ContactId>,
    /// Clinicians who get this client's alerts, in calling order; where empty, the clinic's cover.
    pub cover: Vec<ClinicianId>,
    /// The first local day.
    pub begins: NaiveDate,
}

/// What the core needs beside the state: the plan that is pinned, and who is on cover now.
#[derive(Clone, Copy, Debug)]
pub struct Basis<'a> {
    /// The plan whose version the follow-up is pinned to.
    pub plan: &'a Plan,
    /// Clinicians on cover in calling order; at least one.
    pub cover: &'a [ClinicianId],
}

impl<'a> Basis<'a> {
    /// The ladder that the terms name.
    ///
    /// # Panics
    /// When the plan has no such level: enrolment and adoption refuse that, so it is our bug.
    pub fn ladder(&self, terms: &Terms) -> &'a Ladder {
        self.plan
            .ladder(&terms.risk)
            .expect("OK because enrolment and adoption check that the plan has the client's level")
    }
}

impl Serialize for Calendar {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.zone_name())
    }
}

impl<'de> Deserialize<'de> for Calendar {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        Self::new(&name).map_err(serde::de::Error::custom)
    }
}
