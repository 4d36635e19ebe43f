//! What the board tells machines that watch this one.

use crate::browser::{Answer, Browser};
use crate::clinic::{Clinic, until};
use crate::world::World;

fn ask(browser: &Browser, host: &str, path: &str, more: &[(&str, &str)]) -> Answer {
    let mut headers = vec![("Host", host)];
    headers.extend(more);
    browser.raw("GET", path, &headers, "")
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn a_monitor_on_this_machine_hears_what_the_health_command_says_without_signing_in() {
    let clinic = Clinic::serve(World::busy());
    let browser = clinic.browser();
    let state = |of: &serde_json::Value| {
        let checks = of["checks"].as_array().unwrap().iter();
        checks.map(|check| (check["check"].clone(), check["well"].clone())).collect::<Vec<_>>()
    };
    until("the service gave a sign of life", || json(&browser.get("/health").body)["well"] == true);
    let health = browser.get("/health");
    assert_eq!((health.status, health.header("content-type")), (200, Some("application/json")));
    assert_eq!(state(&json(&health.body)), state(&clinic.world.json(&["health", "--json"])));

    let metrics = browser.get("/metrics");
    assert_eq!(metrics.status, 200);
    assert_eq!(metrics.header("content-type"), Some("text/plain; version=0.0.4; charset=utf-8"));
    let read = crate::python::run("command/read_metrics.py", &[], metrics.body.as_bytes());
    let read = json(&read);
    assert_eq!(read["fadewatch_well service"], 1.0);
    assert_eq!(read["fadewatch_well database"], 1.0);
    assert!(read["fadewatch_waiting outbox"].is_number());
    for answer in [health, metrics] {
        for personal in ["Robin", "robin@", "Kim", "seating@", "A7", "B2", "C3", "D4"] {
            assert!(!answer.body.contains(personal), "{personal}: {}", answer.body);
        }
    }
}

#[test]
fn a_monitor_hears_by_the_status_that_the_service_is_not_well() {
    let clinic = Clinic::serve(World::busy());
    until("all is well", || clinic.browser().get("/health").status == 200);
    // What the service tells of itself cannot be read any more, nor written.
    let file = clinic.world.path("data/trouble.json");
    until("a folder lies in the place of the file", || {
        let _ = std::fs::remove_file(&file);
        std::fs::create_dir(&file).is_ok()
    });
    let health = clinic.browser().get("/health");
    assert_eq!(health.status, 503);
    assert_eq!(json(&health.body)["well"], false);
    let metrics = clinic.browser().get("/metrics");
    assert_eq!(metrics.status, 200, "a collector takes no metrics out of a refusal");
    let read = crate::python::run("command/read_metrics.py", &[], metrics.body.as_bytes());
    assert_eq!(json(&read)["fadewatch_well trouble"], 0.0);
}

#[test]
fn what_a_proxy_passes_on_is_not_taken_for_this_machine() {
    let open = Clinic::serve(World::busy());
    let behind = Clinic::serve_with(World::busy(), |_| {
        "behind_proxy = true\naddress = \"https://board.clinic.example\"".to_owned()
    });
    for path in ["/health", "/metrics"] {
        for clinic in [&open, &behind] {
            let (browser, host) = (clinic.browser(), clinic.host());
            assert_ne!(ask(&browser, &host, path, &[]).status, 404, "{path}");
            for (name, value) in [
                ("X-Forwarded-For", "198.51.100.7"),
                ("X-Forwarded-For", "127.0.0.1"),
                ("X-Forwarded-For", ""),
                ("Forwarded", "for=127.0.0.1"),
                ("X-Real-IP", "127.0.0.1"),
                ("X-Forwarded-Proto", "https"),
                ("Via", "1.1 proxy"),
            ] {
                let passed_on = ask(&browser, &host, path, &[(name, value)]);
                assert_eq!(passed_on.status, 404, "{path} with {name}: {value}");
                assert!(!passed_on.shows("database"), "{}", passed_on.body);
            }
        }
        // A proxy that says nothing of itself shows by the name that it was asked for.
        let silent = ask(&behind.browser(), "board.clinic.example", path, &[]);
        assert_eq!(silent.status, 404, "{path}");
        let elsewhere = ask(&open.browser(), "elsewhere.example", path, &[]);
        assert_eq!(elsewhere.status, 421, "{path}");
    }
}
