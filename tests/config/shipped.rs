//! The files that are shipped, and the published values that they rest on.

use chrono::NaiveDate;
use fadewatch::care::risk::RiskScale;
use fadewatch::care::{Plan, RiskLevel};
use fadewatch::config::{
    Clinic, MailIn, MailOut, RiskScore, Scenario, Security, read_client, read_clinic, read_plan,
    read_scenario,
};

use crate::shipped;

fn plan(name: &str) -> Plan {
    let checked = read_plan(&shipped(&format!("plans/{name}.toml"))).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    checked.value
}

fn clinic() -> Clinic {
    let checked = read_clinic(&shipped("clinic.toml")).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    checked.value
}

fn level(name: &str) -> RiskLevel {
    RiskLevel::new(name).unwrap()
}

fn sitting_minutes(plan: &Plan, of: &str) -> Vec<u32> {
    let ladder = plan.ladder(&level(of)).unwrap();
    ladder.steps.iter().map(|step| step.sit.count()).collect()
}

#[test]
fn the_shipped_plan_has_four_levels_and_waits_for_a_clinics_approval() {
    let plan = plan("graded-sitting");
    let levels: Vec<&str> = plan.risk.keys().map(RiskLevel::as_str).collect();
    assert_eq!(levels, ["high", "low", "moderate", "very-high"]);
    assert_eq!(plan.approval, None);
}

#[test]
fn the_low_ladder_is_the_published_one_and_no_higher_risk_climbs_faster() {
    let plan = plan("graded-sitting");
    // National Spinal Injuries Centre, guide to getting up: 30 min, then 1, 2, 3, 4, 5 h.
    assert_eq!(sitting_minutes(&plan, "low"), [30, 60, 120, 180, 240, 300]);
    let mut above = sitting_minutes(&plan, "low");
    for of in ["moderate", "high", "very-high"] {
        let sits = sitting_minutes(&plan, of);
        assert!(sits.iter().zip(&above).all(|(sit, above)| sit <= above), "{of}");
        assert!(sits.last() <= above.last(), "{of}");
        above = sits;
    }
}

#[test]
fn no_mark_earns_credit_past_the_strictest_adult_limit_or_goes_unstopped_past_the_common_one() {
    let looks = plan("graded-sitting").looks;
    // Queen Elizabeth National Spinal Injuries Unit, Glasgow: 15 min.
    assert!(looks.slow_fade.count() <= 15);
    // Stoke Mandeville, University of Washington, Veterans Health Library and others: 30 min.
    assert!(looks.fade_limit.count() <= 30);
}

#[test]
fn every_level_looks_daily_through_the_two_days_in_which_deep_damage_shows() {
    for ladder in plan("graded-sitting").risk.values() {
        assert!(!ladder.look_at.is_empty());
        // Twice daily: Salisbury spinal centre; Sydney Children's Hospitals Network.
        assert!(ladder.routine.as_ref().unwrap().look_at.len() >= 2);
        // NPIAP 2021: colour about 48 h after the pressure; the first review comes later.
        assert!(ladder.routine.as_ref().unwrap().review_after_days[0] > 2);
    }
}

#[test]
fn a_client_can_be_enrolled_with_the_shipped_files() {
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    let checked = read_client(&shipped("client-example.toml"), &clinic(), today).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    let client = checked.value;
    assert_eq!(client.reference.as_str(), "A7");
    assert_eq!(client.contacts.len(), 2);
    assert_eq!(client.cover, clinic().cover);
    assert_eq!(client.plan.id, "two-week");
}

#[test]
fn the_clinics_paths_count_from_its_file_and_ports_follow_the_security() {
    let clinic = clinic();
    assert_eq!(clinic.plans_folder, shipped("plans"));
    assert_eq!(clinic.data_folder, shipped("data"));
    let MailOut::Smtp(out) = clinic.mail.out else { panic!("the example names a server") };
    assert_eq!((out.port, out.security), (587, Security::Starttls));
    let MailIn::Imap { server, folder } = clinic.mail.incoming else { panic!("likewise") };
    assert_eq!((server.port, folder.as_str()), (993, "INBOX"));
}

#[test]
fn scores_on_published_scales_lead_to_levels_at_their_published_edges() {
    let scores = clinic().risk_scores;
    for (scale, score, expected) in [
        // Waterlow: 0-9 low, 10-14 at risk, 15-19 high, 20+ very high (AHRQ NBK143566, gpnotebook).
        (RiskScale::Waterlow, 9, "low"),
        (RiskScale::Waterlow, 10, "moderate"),
        (RiskScale::Waterlow, 14, "moderate"),
        (RiskScale::Waterlow, 15, "high"),
        (RiskScale::Waterlow, 19, "high"),
        (RiskScale::Waterlow, 20, "very-high"),
        // SCIPUS: above 6 at risk (Rehabilitation Measures Database; NINDS).
        (RiskScale::Scipus, 6, "low"),
        (RiskScale::Scipus, 7, "high"),
        // Braden: 19-23 none (bands A); 10-12 high, below 10 very high (bands B). Where the two
        // disagree, between 13 and 18, none may be taken as low.
        (RiskScale::Braden, 19, "low"),
        (RiskScale::Braden, 18, "moderate"),
        (RiskScale::Braden, 13, "moderate"),
        (RiskScale::Braden, 12, "high"),
        (RiskScale::Braden, 10, "high"),
        (RiskScale::Braden, 9, "very-high"),
        // Norton: a published calculator has above 13 as not high.
        (RiskScale::Norton, 14, "moderate"),
        (RiskScale::Norton, 13, "high"),
    ] {
        let found = scores.level(RiskScore { scale, score });
        assert_eq!(found, Some(&level(expected)), "{} {score}", scale.name());
    }
}

#[test]
fn every_possible_score_has_a_level_that_the_shipped_plan_knows() {
    let (scores, plan) = (clinic().risk_scores, plan("graded-sitting"));
    for scale in RiskScale::ALL {
        let (lowest, highest) = scale.range();
        for score in lowest..=highest {
            let level = scores.level(RiskScore { scale, score }).unwrap();
            assert!(plan.ladder(level).is_some(), "{} {score}", scale.name());
        }
    }
}

#[test]
fn the_six_shipped_scenarios_are_read_without_a_word() {
    for name in [
        "clean-build-up",
        "slow-fade",
        "persisting-mark",
        "silent-caregiver",
        "daylight-saving-night",
        "clinic-closed-weekend",
    ] {
        let path = shipped(&format!("scenarios/{name}.toml"));
        let checked = read_scenario(&path).unwrap_or_else(|problems| panic!("{problems}"));
        assert!(checked.warnings.is_empty(), "{}", checked.warnings);
        let Scenario { plan, client, .. } = checked.value;
        assert!(plan.ladder(&client.risk).is_some(), "{name}");
    }
}

#[test]
fn people_in_shipped_files_have_addresses_that_can_never_exist() {
    let clinic = clinic();
    for clinician in &clinic.clinicians {
        assert!(clinician.mail.as_str().ends_with(".example"));
    }
    for path in ["clinic.toml", "client-example.toml"] {
        let text = std::fs::read_to_string(shipped(path)).unwrap();
        for word in text.split_whitespace().filter(|word| word.contains('@')) {
            assert!(word.contains(".example") || word.contains("TOKEN"), "{path}: {word}");
        }
    }
}
