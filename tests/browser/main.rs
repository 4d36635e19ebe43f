//! The board in a real browser: Debian's Chromium without a window, driven by `walk.mjs` beside this.
//!
//! Each test has a clinic and a board of its own. The walks look at every page by axe-core, for a
//! sideways scroll and for errors of the browser; what an act led to is read in the journal here.
//! Pictures of the pages are left in `target/board-pages`, to be looked at.
//!
//! Never here: rules; how pages are made.
//! Promises: a browser or a program that is missing fails the tests and is named.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[path = "../board/browser.rs"]
#[allow(dead_code, reason = "the tests of the board use more of it")]
mod browser;
#[path = "../board/clinic.rs"]
#[allow(dead_code, reason = "the tests of the board use more of it")]
mod clinic;
#[path = "../command/world.rs"]
#[allow(dead_code, reason = "the tests of the command line use more of it")]
mod world;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use chrono::Days;

use crate::clinic::{Clinic, until};

/// Where Debian's package puts it.
const CHROMIUM: &str = "/usr/bin/chromium";

/// A fitting that a client file of the shipped settings holds.
fn fitting() -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/client-example.toml");
    let text = fs::read_to_string(file).unwrap();
    text[text.find("[fitting]").unwrap()..].to_owned()
}

/// Takes a walk through the board; what it prints is shown where it fails.
fn walk(clinic: &Clinic, name: &str, width: u32) {
    assert!(Path::new(CHROMIUM).exists(), "{CHROMIUM} is missing: run tests/setup.sh");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let pictures = root.join("target/board-pages");
    fs::create_dir_all(&pictures).unwrap();
    let begins = (clinic.world.today + Days::new(1)).to_string();
    let walked = serde_json::json!({
        "walk": name,
        "width": width,
        "chromium": CHROMIUM,
        "board": clinic.address(),
        "mails": clinic.world.path("mail/out"),
        "modules": root.join("target/node/node_modules"),
        "pictures": pictures,
        "today": clinic.world.today.to_string(),
        "begins": begins,
        "zone": clinic.world.zone.zone_name(),
        "fitting": fitting(),
        "config": clinic.world.path("clinic.toml"),
        "fadewatch": assert_cmd::cargo::cargo_bin!("fadewatch"),
    });
    let Output { status, stdout, stderr } = Command::new("node")
        .arg(root.join("tests/browser/walk.mjs"))
        .arg(walked.to_string())
        .output()
        .expect("node is missing: run tests/setup.sh");
    let told = format!("{}{}", String::from_utf8_lossy(&stdout), String::from_utf8_lossy(&stderr));
    assert!(status.success(), "{told}\nlog of the service:\n{}", clinic.log());
}

/// What the walk through all acts must have left in the record.
fn acts_are_recorded(clinic: &Clinic) {
    for (client, told) in [
        ("A7", "seating takes alert"),
        ("A7", "seating lets sitting begin again, at step 1"),
        ("A7", "marked at ischium-left"),
        ("B2", "taken by seating"),
        ("B2", "duty"),
        ("C3", "holiday"),
        ("C3", "seating ends the pause, at step 1"),
        ("C3", "fitting"),
        ("C3", "marked at sacrum"),
        ("C3", "third"),
    ] {
        let journal = clinic.journal(client);
        assert!(journal.contains(told), "no `{told}` in the journal of {client}: {journal}");
    }
    assert!(clinic.journal("E5").contains("begins"), "{}", clinic.journal("E5"));
    assert_eq!(clinic.world.json(&["cover", "--json"])["now"][0], "duty");
}

fn with_mail_set_aside() -> Clinic {
    let clinic = Clinic::busy();
    clinic.deliver("neighbour", "neighbour@elsewhere.example", "A darker patch on the sacrum.");
    clinic.deliver("shop", "shop@elsewhere.example", "Your order has been sent.");
    let desk = clinic.sign_in("desk");
    until("both mails are set aside", || {
        let page = desk.get("/aside");
        page.shows("neighbour@elsewhere") && page.shows("shop@elsewhere")
    });
    clinic
}

#[test]
fn every_page_and_act_works_on_a_phone_and_the_checker_of_accessibility_finds_nothing() {
    let clinic = with_mail_set_aside();
    walk(&clinic, "everything", 375);
    acts_are_recorded(&clinic);
}

#[test]
fn every_page_and_act_works_at_a_desk_and_the_checker_of_accessibility_finds_nothing() {
    let clinic = with_mail_set_aside();
    walk(&clinic, "everything", 1280);
    acts_are_recorded(&clinic);
}

#[test]
fn without_scripts_every_act_works_all_the_same() {
    let clinic = with_mail_set_aside();
    walk(&clinic, "without-scripts", 375);
    acts_are_recorded(&clinic);
}

#[test]
fn an_alert_is_taken_up_by_the_keyboard_alone_with_the_focus_in_sight() {
    let clinic = Clinic::busy();
    walk(&clinic, "keyboard", 1280);
    assert!(clinic.journal("A7").contains("seating takes alert"), "{}", clinic.journal("A7"));
}

#[test]
fn news_comes_to_an_open_page_without_reading_it_anew() {
    let clinic = Clinic::busy();
    walk(&clinic, "news", 1280);
}

#[test]
fn pages_can_be_read_in_a_dark_scheme_and_enlarged() {
    let clinic = Clinic::busy();
    walk(&clinic, "dark", 375);
}
