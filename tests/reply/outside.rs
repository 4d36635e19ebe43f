//! An outside check of whole messages: the sample mails of general reply-parsing packages, and the
//! examples of the standards.
//!
//! Never here: mails of our own.
//! Promises: the writer's own words are found in every sample, or none at all, never the words
//! that were quoted.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use fadewatch::care::Reading;
use fadewatch::reply::letter::{Automatic, Delivery, Kind, open, read_letter};
use fadewatch::reply::{Answering, Lexicons};

/// The folder of the packages, fetched from their registries where they are not there yet.
fn packages() -> &'static Path {
    static FETCHED: OnceLock<PathBuf> = OnceLock::new();
    FETCHED.get_or_init(|| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let script = root.join("tests/reply/outside.sh");
        let fetched = Command::new("bash").arg(script).status().expect("bash");
        assert!(fetched.success(), "tests/reply/outside.sh failed; see above");
        root.join("target/outside")
    })
}

fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let all = std::fs::read_dir(folder).expect("a folder of samples");
    let mut files: Vec<PathBuf> = all
        .map(|entry| entry.expect("a file").path())
        .filter(|path| path.extension().is_some_and(|e| e == ending))
        .collect();
    files.sort();
    files
}

fn spoken(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn words_of_html(path: &Path) -> String {
    let head = b"From: a@b.example\r\nContent-Type: text/html; charset=utf-8\r\n\r\n".to_vec();
    let html = std::fs::read(path).expect("a sample");
    spoken(&open(&[head, html].concat()).words)
}

#[test]
fn the_own_words_are_found_in_the_replies_of_twelve_mail_programs() {
    let samples = files(&packages().join("talon/tests/fixtures/standard_replies"), "eml");
    assert_eq!(samples.len(), 12);
    for path in samples {
        let letter = open(&std::fs::read(&path).expect("a sample"));
        assert_eq!(letter.kind, Kind::Person, "{}", path.display());
        // Two of them have a signature below, which is no word of an answer.
        assert_eq!(spoken(&letter.words), "Hello", "{}", path.display());
    }
}

#[test]
fn the_own_words_are_found_in_the_html_of_nine_mail_programs() {
    let samples = files(&packages().join("talon/tests/fixtures/html_replies"), "html");
    assert_eq!(samples.len(), 9);
    for path in samples {
        assert_eq!(words_of_html(&path), "Hi. I am fine. Thanks, Alex", "{}", path.display());
    }
}

#[test]
fn quoted_words_are_never_taken_for_own_ones_in_the_html_of_office_programs() {
    let folder = packages().join("planer/test/examples/html");
    // What is quoted in each, and what is the writer's own. In the last one the own words stand
    // between two quoted mails without a mark of their own, and nothing is read: it is asked again.
    for (name, quoted, own) in [
        (
            "microsoft-namespaces",
            "Odio et pretium rutrum neque",
            Some("Lorem ipsum dolor sit amet"),
        ),
        ("office-365", "Do you like the holidays?", Some("I really hope that you're doing well!")),
        ("outlook-mixed", "We'd love to set up a quick phone call with you", None),
    ] {
        let path = folder.join(name).with_extension("html");
        let whole = String::from_utf8_lossy(&std::fs::read(&path).expect("a sample")).into_owned();
        let words = words_of_html(&path);
        assert!(spoken(&whole).contains(quoted), "{name} is another file");
        assert!(!words.contains(quoted), "{name}: {words}");
        match own {
            Some(own) => assert!(words.contains(own), "{name}: {words}"),
            None => assert_eq!(words, "", "{name}"),
        }
    }
}

fn letter_of(text: &str) -> fadewatch::reply::letter::Letter {
    open(text.replace('\n', "\r\n").as_bytes())
}

/// RFC 3464, appendix E.1: a simple report.
const REPORT: &str = "\
Date: Thu, 7 Jul 1994 17:16:05 -0400
From: Mail Delivery Subsystem <MAILER-DAEMON@CS.UTK.EDU>
Message-Id: <199407072116.RAA14128@CS.UTK.EDU>
Subject: Returned mail: Cannot send message for 5 days
To: <owner-info-mime@cs.utk.edu>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
      boundary=\"RAA14128.773615765/CS.UTK.EDU\"

--RAA14128.773615765/CS.UTK.EDU

The original message was received at Sat, 2 Jul 1994 17:10:28 -0400
from root@localhost

   ----- The following addresses had delivery problems -----
<louisl@larry.slip.umd.edu>  (unrecoverable error)

----- Transcript of session follows -----
<louisl@larry.slip.umd.edu>... Deferred: Connection timed out
      with larry.slip.umd.edu.
Message could not be delivered for 5 days
Message will be deleted from queue

--RAA14128.773615765/CS.UTK.EDU
content-type: message/delivery-status

Reporting-MTA: dns; cs.utk.edu

Original-Recipient: rfc822;louisl@larry.slip.umd.edu
Final-Recipient: rfc822;louisl@larry.slip.umd.edu
Action: failed
Status: 4.0.0
Diagnostic-Code: smtp; 426 connection timed out
Last-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400

--RAA14128.773615765/CS.UTK.EDU
content-type: message/rfc822

Message-ID: <original@cs.utk.edu>
Subject: a notice

--RAA14128.773615765/CS.UTK.EDU--
";

#[test]
fn the_report_of_rfc_3464_is_a_failure_for_its_recipient() {
    let Kind::DeliveryReport(reports) = letter_of(REPORT).kind else { panic!("no report") };
    assert_eq!(reports.len(), 1);
    assert_eq!(reports[0].address, "louisl@larry.slip.umd.edu");
    assert_eq!(reports[0].action, Delivery::Failed);
    assert_eq!(reports[0].status.as_deref(), Some("4.0.0"));
    assert_eq!(reports[0].original_message_id.as_deref(), Some("original@cs.utk.edu"));
}

#[test]
fn the_fields_of_rfc_3834_tell_a_machine_from_a_person() {
    // Section 5: only `no` is a person's; the keyword may be followed by parameters.
    for (field, kind) in [
        ("auto-generated", Kind::Automatic(Automatic::AutoSubmitted)),
        ("auto-replied", Kind::Automatic(Automatic::AutoSubmitted)),
        ("Auto-Replied; owner-email=\"x@y.example\"", Kind::Automatic(Automatic::AutoSubmitted)),
        ("no", Kind::Person),
    ] {
        let letter = letter_of(&format!(
            "From: a@b.example\nSubject: Re: look\nAuto-Submitted: {field}\n\nno marks\n"
        ));
        assert_eq!(letter.kind, kind, "{field}");
    }
}

/// RFC 8098, section 9: a receipt that a message was shown.
const RECEIPT: &str = "\
Date: Wed, 20 Sep 1995 00:19:00 (EDT) -0400
From: Joe Recipient <Joe_Recipient@example.com>
Message-Id: <199509200019.12345@example.com>
Subject: Re: First draft of report
To: Jane Sender <Jane_Sender@example.org>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=disposition-notification;
    boundary=\"RAA14128.773615765/example.com\"

--RAA14128.773615765/example.com

The message sent on 1995 Sep 19 at 13:30:00 (EDT) -0400 to Joe
Recipient <Joe_Recipient@example.com> with subject \"First draft of
report\" has been displayed.
This is no guarantee that the message has been read or understood.

--RAA14128.773615765/example.com
Content-Type: message/disposition-notification

Reporting-UA: joes-pc.cs.example.com; Foomail 97.1
Original-Recipient: rfc822;Joe_Recipient@example.com
Final-Recipient: rfc822;Joe_Recipient@example.com
Original-Message-ID: <199509192301.23456@example.org>
Disposition: manual-action/MDN-sent-manually; displayed

--RAA14128.773615765/example.com--
";

/// RFC 5546, section 4.2.2: an attendee accepts, with the mail around it that RFC 6047 asks for.
const ACCEPTED: &str = "\
From: b@example.com
To: a@example.com
Subject: Re: Conference
MIME-Version: 1.0
Content-Type: text/calendar; method=REPLY; charset=UTF-8

BEGIN:VCALENDAR
PRODID:-//Example/ExampleCalendarClient//EN
METHOD:REPLY
VERSION:2.0
BEGIN:VEVENT
ATTENDEE;PARTSTAT=ACCEPTED:mailto:b@example.com
ORGANIZER:mailto:a@example.com
UID:calsrv.example.com-873970198738777@example.com
SEQUENCE:0
REQUEST-STATUS:2.0;Success
DTSTAMP:19970612T190000Z
END:VEVENT
END:VCALENDAR
";

#[test]
fn receipts_and_calendar_answers_of_the_standards_are_read_as_automatic() {
    let lexicons = Lexicons::shipped();
    for (text, kind) in [(RECEIPT, Automatic::ReadReceipt), (ACCEPTED, Automatic::CalendarAnswer)] {
        let letter = letter_of(text);
        assert_eq!(letter.kind, Kind::Automatic(kind));
        let found = read_letter(&lexicons, "en", Answering::Look, &letter, None);
        assert_eq!(found.verdict.reading, Reading::Automatic);
    }
}
