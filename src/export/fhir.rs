//! One client's follow-up as an HL7 FHIR R4 bundle: Patient (a reference only), EpisodeOfCare,
//! CarePlan, an Observation for each look, a Communication for each stop and alert.
//!
//! Never here: names, addresses, words of people; codes of LOINC or SNOMED CT: the sources that
//! this service rests on give codes for counts of pressure injuries only, which it does not record,
//! and a code that fits half would be wrong.
//! Promises: the same file gives the same ids; a look that nobody answered is an Observation without
//! a value, marked as not made, never a clear one.

use serde_json::{Map, Value, json};
use sha2::{Digest as _, Sha256};

use super::dossier::Dossier;
use crate::follow_up::event::{AlertCause, StopReason};
use crate::follow_up::state::{Look, LookStatus, Standing};
use crate::follow_up::{Event, Instant};

/// The bundle.
pub fn fhir(of: &Dossier) -> Value {
    let bundle = Bundle { of };
    let mut entries = vec![
        bundle.entry("Patient", "0", bundle.patient()),
        bundle.entry("EpisodeOfCare", "0", bundle.episode()),
        bundle.entry("CarePlan", "0", bundle.care_plan()),
    ];
    for look in of.state.looks().filter(|look| is_over(look)) {
        entries.push(bundle.entry("Observation", &look.id.to_string(), bundle.observation(look)));
    }
    for (line, _) in &of.journal {
        if let Some(told) = bundle.communication(&line.entry.event, line.entry.at) {
            entries.push(bundle.entry("Communication", &line.number.to_string(), told));
        }
    }
    json!({
        "resourceType": "Bundle",
        "type": "collection",
        "timestamp": of.stamp(of.now),
        "entry": entries,
    })
}

struct Bundle<'d> {
    of: &'d Dossier,
}

impl Bundle<'_> {
    fn entry(&self, kind: &str, number: &str, mut resource: Map<String, Value>) -> Value {
        resource.insert("resourceType".to_owned(), json!(kind));
        resource.insert("id".to_owned(), json!(self.id(kind, number)));
        json!({ "fullUrl": self.url(kind, number), "resource": resource })
    }

    fn patient(&self) -> Map<String, Value> {
        object(json!({
            "identifier": [{
                "system": format!("https://{}/fadewatch/clients", self.of.domain),
                "value": self.of.client,
            }],
        }))
    }

    fn episode(&self) -> Map<String, Value> {
        let (status, end) = match self.of.state.standing {
            Standing::Open | Standing::Suspended | Standing::Stopped { .. } => ("active", None),
            Standing::Paused { .. } => ("onhold", None),
            Standing::Closed => ("finished", self.closed_at()),
        };
        object(json!({
            "status": status,
            "patient": self.client(),
            "managingOrganization": { "display": self.of.clinic },
            "period": self.period(end),
        }))
    }

    fn care_plan(&self) -> Map<String, Value> {
        let (of, terms) = (self.of, &self.of.state.terms);
        let status = match of.state.standing {
            Standing::Open => "active",
            Standing::Suspended | Standing::Stopped { .. } | Standing::Paused { .. } => "on-hold",
            Standing::Closed => "completed",
        };
        let steps = of.plan.ladder(&terms.risk).map_or(&[][..], |ladder| ladder.steps.as_slice());
        let activity: Vec<Value> = (1..)
            .zip(steps)
            .map(|(number, step)| {
                let present = of.state.step().is_some_and(|step| step.count() == number);
                let before = of.state.step().is_none_or(|step| number < step.count());
                let status = match (&of.state.standing, present, before) {
                    (_, _, true) => "completed",
                    (Standing::Open, true, _) => "in-progress",
                    (Standing::Closed, ..) => "stopped",
                    (_, true, _) => "on-hold",
                    _ => "not-started",
                };
                json!({ "detail": {
                    "status": status,
                    "description": format!(
                        "Step {number}: sit {} min, {} a day, {} clear sittings in a row to advance",
                        step.sit.count(),
                        step.sittings_per_day,
                        step.clear_to_advance,
                    ),
                }})
            })
            .collect();
        object(json!({
            "status": status,
            "intent": "plan",
            "title": of.plan.title,
            "identifier": [{
                "system": format!("https://{}/fadewatch/plans", of.domain),
                "value": format!("{} {}", of.plan.id, terms.plan.as_str()),
            }],
            "subject": self.client(),
            "period": self.period(self.closed_at()),
            "activity": activity,
        }))
    }

    fn observation(&self, look: &Look) -> Map<String, Value> {
        let mut observation = object(json!({
            "code": { "text": "Skin check at the sites that the seat off-loads" },
            "subject": self.client(),
            "basedOn": [{ "reference": self.url("CarePlan", "0") }],
        }));
        let mut put = |key: &str, value: Value| observation.insert(key.to_owned(), value);
        if let Some(first) = look.of {
            put(
                "derivedFrom",
                json!([{ "reference": self.url("Observation", &first.to_string()) }]),
            );
        }
        let Some(found) = &look.found else {
            // Nobody looked, or nobody said so: what is not known is said to be not known.
            let at = look.clock.as_ref().map_or(look.due, |clock| clock.first_asked);
            put("status", json!("cancelled"));
            put("effectiveDateTime", json!(self.of.stamp(at)));
            put(
                "dataAbsentReason",
                json!({
                    "coding": [{
                        "system": "http://terminology.hl7.org/CodeSystem/data-absent-reason",
                        "code": "unknown",
                    }],
                    "text": "asked, not answered in time",
                }),
            );
            return observation;
        };
        put("status", json!("final"));
        put("effectiveDateTime", json!(self.of.stamp(found.looked_at)));
        put("issued", json!(self.of.stamp(found.said_at)));
        put("performer", json!([{ "display": format!("contact {}", found.by) }]));
        put("valueCodeableConcept", json!({ "text": found.finding.reading().name() }));
        if !found.sites.is_empty() {
            let sites: Vec<String> = found.sites.iter().map(ToString::to_string).collect();
            put("bodySite", json!({ "text": sites.join(", ") }));
        }
        if let Some(fade) = found.fade {
            put(
                "component",
                json!([{
                    "code": { "text": "Fade time of the mark" },
                    "valueQuantity": {
                        "value": fade.count(),
                        "unit": "min",
                        "system": "http://unitsofmeasure.org",
                        "code": "min",
                    },
                }]),
            );
        }
        observation
    }

    fn communication(&self, event: &Event, at: Instant) -> Option<Map<String, Value>> {
        let (to, reason, told) = match event {
            Event::Alerted { cause, to, again, .. } => {
                let again = if *again > 0 { ", sent again" } else { "" };
                let reason = match cause {
                    AlertCause::Stop => "sitting is stopped",
                    AlertCause::AlarmingAgain => "an alarming sign while stopped",
                    AlertCause::NobodyReachable => "no contact can be reached by mail",
                };
                (format!("clinician {to}"), reason, format!("Alert: {reason}{again}"))
            }
            Event::ToldToStop { to } => {
                let told = "Told to keep the client off the seat".to_owned();
                (format!("contact {to}"), "sitting is stopped", told)
            }
            Event::Stopped { why, .. } => {
                let why = match why {
                    StopReason::Persisting => "a mark has lasted or come back",
                    StopReason::Alarming => "an alarming sign",
                    StopReason::RecheckUnreported => "nobody reported on a mark",
                    StopReason::Clinician => "a clinician's word",
                };
                return Some(self.note(at, None, "sitting is stopped", &format!("Stop: {why}")));
            }
            _ => return None,
        };
        Some(self.note(at, Some(to), reason, &told))
    }

    fn note(
        &self,
        at: Instant,
        to: Option<String>,
        reason: &str,
        told: &str,
    ) -> Map<String, Value> {
        let mut note = object(json!({
            "status": "completed",
            "subject": self.client(),
            "about": [{ "reference": self.url("EpisodeOfCare", "0") }],
            "sent": self.of.stamp(at),
            "reasonCode": [{ "text": reason }],
            "payload": [{ "contentString": told }],
        }));
        if let Some(to) = to {
            note.insert("recipient".to_owned(), json!([{ "display": to }]));
        }
        note
    }

    fn client(&self) -> Value {
        json!({ "reference": self.url("Patient", "0") })
    }

    fn period(&self, end: Option<Instant>) -> Value {
        let mut period = object(json!({ "start": self.of.state.terms.begins }));
        if let Some(end) = end {
            period.insert("end".to_owned(), json!(self.of.stamp(end)));
        }
        Value::Object(period)
    }

    fn closed_at(&self) -> Option<Instant> {
        let closed = |event: &Event| matches!(event, Event::Closed { .. });
        let line = self.of.journal.iter().rfind(|(line, _)| closed(&line.entry.event));
        line.map(|(line, _)| line.entry.at)
    }

    fn url(&self, kind: &str, number: &str) -> String {
        format!("urn:uuid:{}", self.id(kind, number))
    }

    /// A UUID of our own making (version 8, RFC 9562): the same part of the same follow-up of the
    /// same clinic has the same one in every export.
    fn id(&self, kind: &str, number: &str) -> String {
        let whose = format!("{}\n{}\n{kind}\n{number}", self.of.domain, self.of.client);
        let hash = Sha256::digest(whose.as_bytes());
        let mut bytes = [0_u8; 16];
        bytes.copy_from_slice(&hash[..16]);
        bytes[6] = bytes[6] & 0x0f | 0x80;
        bytes[8] = bytes[8] & 0x3f | 0x80;
        let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        let part = |from: usize, to: usize| &hex[from..to];
        format!("{}-{}-{}-{}-{}", part(0, 8), part(8, 12), part(12, 16), part(16, 20), part(20, 32))
    }
}

/// A look that was answered or missed; others have nothing to tell yet, or never will.
fn is_over(look: &Look) -> bool {
    look.found.is_some() || look.status == LookStatus::Missed
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => unreachable!("only objects are handed in"),
    }
}
