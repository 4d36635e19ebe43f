//! The board beside the service: news as it comes, and neither holds the other up.

use std::io::Read as _;
use std::net::{TcpListener, TcpStream};
use std::time::Duration;

use crate::clinic::{Clinic, until};
use crate::world::World;

/// Reads until a text has come.
fn read_until(stream: &mut TcpStream, wanted: &str) -> String {
    let (mut read, mut portion) = (String::new(), [0; 4096]);
    while !read.contains(wanted) {
        let length = stream.read(&mut portion).unwrap();
        assert!(length > 0, "the stream ended after {read}");
        read.push_str(&String::from_utf8_lossy(&portion[..length]));
    }
    read
}

#[test]
fn an_open_page_hears_of_what_a_command_commits() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("guest");
    let mut stream = browser.begin("GET", "/live", &[("Host", &clinic.host())], "").unwrap();
    let head = read_until(&mut stream, "event: news");
    assert!(head.contains("text/event-stream"), "{head}");
    assert_eq!(clinic.world.run(&["decide", "A7", "seen", "--by", "duty"]).code, 0);
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    read_until(&mut stream, "event: news");
    assert!(browser.get("/client/A7").shows("Taken up by duty"));
    assert_eq!(clinic.browser().get("/live").header("location"), Some("/sign-in"));
}

#[test]
fn a_taken_port_hinders_the_board_and_not_the_follow_up() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port();
    let mut clinic = Clinic::start(World::busy(), port);
    until("the board says so", || clinic.log().contains("the board cannot open"));
    until("the alert goes out", || !clinic.mails_to("seating").is_empty());
    assert!(clinic.is_running());
}

#[test]
fn browsers_that_say_nothing_do_not_keep_others_out_of_the_follow_up() {
    let clinic = Clinic::busy();
    let silent: Vec<TcpStream> =
        (0..250).map(|_| TcpStream::connect(clinic.host()).unwrap()).collect();
    assert_eq!(clinic.world.run(&["decide", "A7", "seen", "--by", "duty"]).code, 0);
    until("the service mailed what followed", || !clinic.mails_to("duty").is_empty());
    // They are ended by the board, and it answers again.
    until("the board answers", || clinic.browser().is_answered("/sign-in"));
    drop(silent);
}

#[test]
fn a_form_without_end_is_refused() {
    let clinic = Clinic::busy();
    let browser = clinic.sign_in("desk");
    let words = "x".repeat(300_000);
    let fields = [("by", "first"), ("reading", "clear"), ("words", words.as_str())];
    assert_eq!(browser.submit("/", "/client/C3/report", &fields).status, 400);
}
