//! A board that others can reach: with TLS of its own, and behind a proxy.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::clinic::{Clinic, until};
use crate::world::World;

/// Makes a certificate for this machine in a folder.
fn certificate(folder: &Path) {
    let made = Command::new("openssl")
        .args(["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"])
        .args(["-days", "2", "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"])
        .args(["-keyout", "board-key.pem", "-out", "board.pem"])
        .current_dir(folder)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}

/// Says something over TLS to a board whose certificate must fit, and returns the answer.
fn say(clinic: &Clinic, text: &str) -> String {
    let mut openssl = Command::new("openssl")
        .args(["s_client", "-quiet", "-verify_return_error", "-CAfile", "board.pem"])
        .args(["-verify_hostname", "localhost", "-connect", &clinic.host()])
        .current_dir(clinic.world.folder.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    openssl.stdin.as_mut().unwrap().write_all(text.as_bytes()).unwrap();
    let output = openssl.wait_with_output().unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn with_tls_the_cookie_is_bound_to_the_host_and_browsers_are_told_to_stay_with_https() {
    let world = World::busy();
    certificate(world.folder.path());
    let clinic = Clinic::serve_with(world, |port| {
        format!(
            "certificate = \"board.pem\"\nkey = \"board-key.pem\"\n\
             address = \"https://localhost:{port}\""
        )
    });
    let host = format!("localhost:{}", clinic.port);
    let post = |path: &str, body: &str| {
        say(
            &clinic,
            &format!(
                "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: https://{host}\r\n\
                 Connection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
                 Content-Length: {}\r\n\r\n{body}",
                body.len()
            ),
        )
    };
    let asked = post("/sign-in", "mail=seating%40clinic.example");
    assert!(asked.contains("strict-transport-security: max-age="), "{asked}");
    until("the link has come", || !clinic.links("seating").is_empty());
    let link = clinic.links("seating").pop().unwrap();
    assert!(link.starts_with(&format!("https://{host}/enter/")), "{link}");
    let entered = post("/enter", &format!("link={}", link.rsplit('/').next().unwrap()));
    let cookie = entered.lines().find(|line| line.starts_with("set-cookie:")).unwrap();
    assert!(cookie.contains("__Host-fadewatch=") && cookie.contains("; Secure"), "{cookie}");
    // In the clear it says nothing.
    assert!(!clinic.browser().is_answered("/sign-in"));
}

#[test]
fn behind_a_proxy_each_visitor_counts_by_the_address_that_the_proxy_saw() {
    let clinic = Clinic::serve_with(World::busy(), |_| {
        "behind_proxy = true\naddress = \"https://board.clinic.example\"".to_owned()
    });
    let knock = |forwarded: &str| {
        let headers = [
            ("Host", "board.clinic.example"),
            ("Sec-Fetch-Site", "same-origin"),
            ("X-Forwarded-For", forwarded),
        ];
        clinic.browser().raw("POST", "/enter", &headers, "link=guess")
    };
    for _ in 0..30 {
        assert_eq!(knock("192.0.2.1").status, 410);
    }
    assert_eq!(knock("192.0.2.1").status, 429);
    // What a visitor writes in front of it changes nothing.
    assert_eq!(knock("192.0.2.99, 192.0.2.1").status, 429);
    let other = knock("192.0.2.1, 192.0.2.2");
    assert_eq!(other.status, 410);
    assert!(other.header("strict-transport-security").is_some());
}
