//! Signing in and out, and what keeps everybody else out.

use crate::browser::encoded;
use crate::clinic::{Clinic, until};

#[test]
fn a_link_signs_in_once_and_opening_it_uses_nothing_up() {
    let clinic = Clinic::busy();
    assert_eq!(clinic.browser().get("/").header("location"), Some("/sign-in"));
    let link = clinic.link("seating");
    let path = link.strip_prefix(&clinic.address()).unwrap().to_owned();
    // As a mail program that looks at links before a person does.
    for _ in 0..3 {
        assert!(clinic.browser().get(&path).shows("Sign in here"));
    }
    let browser = clinic.enter(&link).unwrap();
    assert!(browser.get("/").shows("A. Example, clinician"));
    assert!(clinic.enter(&link).is_none(), "the link works twice");
    assert!(clinic.browser().get(&path).shows("does not work any more"));
}

#[test]
fn signing_out_ends_the_session() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    assert_eq!(browser.get("/").status, 200);
    assert_eq!(browser.submit("/", "/sign-out", &[]).status, 303);
    assert_eq!(browser.get("/").header("location"), Some("/sign-in"));
}

#[test]
fn an_unknown_address_gets_the_same_answer_and_no_mail() {
    let clinic = Clinic::busy();
    let ask = |mail: &str| clinic.browser().post("/sign-in", &[("mail", mail)]);
    let (known, unknown) = (ask("seating@clinic.example"), ask("stranger@clinic.example"));
    assert_eq!((known.status, &known.body), (unknown.status, &unknown.body));
    until("the link has come", || !clinic.links("seating").is_empty());
    assert!(clinic.mails_to("stranger").is_empty());
    assert_eq!(ask("no address at all").status, 422);
}

#[test]
fn asking_for_links_again_and_again_is_refused_and_knocking_too() {
    let clinic = Clinic::busy();
    let ask = |mail: &str| clinic.browser().post("/sign-in", &[("mail", mail)]);
    for mail in ["seating@clinic.example", "stranger@clinic.example"] {
        let statuses: Vec<u16> = (0..5).map(|_| ask(mail).status).collect();
        assert_eq!(statuses, [200, 200, 200, 200, 429], "{mail}");
    }
    let tries: Vec<u16> = (0..30)
        .map(|n| clinic.browser().post("/enter", &[("link", &format!("guess-{n}"))]).status)
        .collect();
    assert_eq!(tries.iter().filter(|status| **status == 410).count(), 20, "{tries:?}");
    assert_eq!(tries.last(), Some(&429));
}

#[test]
fn the_session_cookie_is_kept_from_scripts_and_from_other_sites() {
    let clinic = Clinic::busy();
    let link = clinic.link("guest");
    let key = link.rsplit('/').next().unwrap();
    let answer = clinic.browser().post("/enter", &[("link", key)]);
    let cookie = answer.header("set-cookie").unwrap();
    for part in ["Path=/", "HttpOnly", "SameSite=Strict"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    // 256 bits take 43 letters.
    let value = cookie.split(['=', ';']).nth(1).unwrap();
    assert_eq!(value.len(), 43, "{cookie}");
}

#[test]
fn every_answer_tells_the_browser_to_run_and_keep_nothing_but_ours() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("guest");
    for path in ["/", "/client/A7", "/sign-in", "/no-such-page", "/cover", "/ended"] {
        let answer = browser.get(path);
        let policy = answer.header("content-security-policy").unwrap();
        for part in ["default-src 'none'", "script-src 'self'", "frame-ancestors 'none'"] {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{path}");
        assert_eq!(answer.header("referrer-policy"), Some("no-referrer"), "{path}");
        assert_eq!(answer.header("cache-control"), Some("no-store"), "{path}");
        assert_eq!(answer.header("cross-origin-opener-policy"), Some("same-origin"), "{path}");
    }
}

#[test]
fn a_request_for_another_host_is_turned_away() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    // A page of somebody else's whose name leads to this machine.
    let answer = browser.raw("GET", "/", &[("Host", "elsewhere.example")], "");
    assert_eq!(answer.status, 421);
    assert!(!answer.shows("A7"));
}

#[test]
fn a_form_without_its_token_or_from_another_site_changes_nothing() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    let before = clinic.journal("A7");
    let path = "/client/A7/decide";
    let host = clinic.host();
    assert_eq!(browser.post(path, &[("decision", "seen")]).status, 403);
    assert_eq!(browser.post(path, &[("decision", "seen"), ("form_key", "guess")]).status, 403);
    let key = browser.get("/").field("form_key");
    let body = encoded(&[("decision", "seen"), ("form_key", &key)]);
    for headers in [
        vec![("Host", host.as_str()), ("Sec-Fetch-Site", "cross-site")],
        vec![("Host", host.as_str()), ("Origin", "https://elsewhere.example")],
        vec![("Host", host.as_str())],
    ] {
        assert_eq!(browser.raw("POST", path, &headers, &body).status, 403, "{headers:?}");
    }
    assert_eq!(clinic.browser().post(path, &[("decision", "seen")]).status, 401);
    assert_eq!(clinic.journal("A7"), before);
}

#[test]
fn no_name_address_or_link_gets_into_the_log() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("seating");
    browser.get("/client/A7");
    browser.submit("/client/A7", "/client/A7/decide", &[("decision", "seen")]);
    clinic.browser().post("/sign-in", &[("mail", "stranger@clinic.example")]);
    let log = clinic.log();
    assert!(log.contains("signed in on the board"), "{log}");
    let link = clinic.links("seating").pop().unwrap();
    let secret = link.rsplit('/').next().unwrap();
    for private in ["A. Example", "Robin", "Sam", "@clinic.example", "@home.example", secret] {
        assert!(!log.contains(private), "`{private}` in the log:\n{log}");
    }
}
