use super::*;

fn letter(raw: &str) -> Letter {
    open(raw.replace('\n', "\r\n").as_bytes())
}

#[test]
fn bytes_that_are_no_message_give_a_letter_without_words() {
    for raw in [&b""[..], b"\xff\xfe\x00", b"\r\n\r\n"] {
        assert_eq!(open(raw).words, "");
    }
}

#[test]
fn an_answer_in_the_subject_alone_is_heard() {
    let own = letter("From: A <A@Home.Example>\nSubject: no marks\n\n");
    assert_eq!((own.words.as_str(), own.from.as_deref()), ("no marks", Some("a@home.example")));
    assert_eq!(letter("From: a@home.example\nSubject: Re: Skin check\n\n").words, "");
}

#[test]
fn forwarded_words_count_only_when_the_writer_says_nothing() {
    let below =
        "---------- Forwarded message ---------\nFrom: x@y.example\nSubject: t\n\nred heel\n";
    let own = letter(&format!("From: a@b.example\n\nsee below, no marks here\n\n{below}"));
    assert_eq!((own.words.as_str(), own.only_forwarded), ("see below, no marks here", false));
    let bare = letter(&format!("From: a@b.example\n\n{below}"));
    assert_eq!((bare.words.as_str(), bare.only_forwarded), ("red heel", true));
}

#[test]
fn lines_of_the_notice_are_taken_out_however_they_are_quoted() {
    let original = "Please look at the skin now.\nRed or darker patch (say where)\ngone";
    let reply = "Please look at the skin now.\n* Red or darker patch (say where)\ngone\n";
    assert_eq!(without_original(reply, original), "gone");
}

#[test]
fn the_reports_of_a_delivery_are_read_for_each_recipient() {
    let raw = "From: d@mx.example\nContent-Type: multipart/report; report-type=delivery-status; \
               boundary=b\n\n--b\nContent-Type: text/plain\n\nno luck\n--b\n\
               Content-Type: message/delivery-status\n\nReporting-MTA: dns; mx.example\n\n\
               Final-Recipient: rfc822; A@x.example\nAction: failed\nStatus: 5.1.1\n\n\
               Final-Recipient: rfc822; b@x.example\nAction: expanded\nStatus: 2.0.0\n--b\n\
               Content-Type: text/rfc822-headers\n\nMessage-ID: <n.1@f.example>\n\n--b--\n";
    let Kind::DeliveryReport(reports) = letter(raw).kind else { panic!("not a report") };
    let told: Vec<_> =
        reports.iter().map(|r| (r.address.as_str(), r.action, r.status.as_deref())).collect();
    assert_eq!(
        told,
        [
            ("a@x.example", Delivery::Failed, Some("5.1.1")),
            ("b@x.example", Delivery::Expanded, Some("2.0.0"))
        ]
    );
    assert!(reports.iter().all(|r| r.original_message_id.as_deref() == Some("n.1@f.example")));
}

#[test]
fn a_person_who_answers_over_a_list_stays_a_person() {
    let raw = "From: a@b.example\nList-Id: <l.b.example>\nIn-Reply-To: <p@f.example>\n\nred heel\n";
    assert_eq!(letter(raw).kind, Kind::Person);
    let news = "From: a@b.example\nList-Id: <l.b.example>\n\nred heel\n";
    assert_eq!(letter(news).kind, Kind::Automatic(Automatic::Bulk));
}

#[test]
fn a_calendar_answer_and_an_absence_notice_are_machines() {
    let calendar = "From: a@b.example\nSubject: s\nContent-Type: text/calendar; method=REPLY\n\n\
                    BEGIN:VCALENDAR\nMETHOD:REPLY\nEND:VCALENDAR\n";
    assert_eq!(letter(calendar).kind, Kind::Automatic(Automatic::CalendarAnswer));
    let away = "From: a@b.example\nAuto-Submitted: auto-replied (vacation)\n\nbye\n";
    assert_eq!(letter(away).kind, Kind::Automatic(Automatic::AutoSubmitted));
}

#[test]
fn a_signed_message_gives_its_words() {
    let clear = "From: a@b.example\n\n-----BEGIN PGP SIGNED MESSAGE-----\nHash: SHA256\n\n\
                 no marks\n-----BEGIN PGP SIGNATURE-----\n\nxyz\n-----END PGP SIGNATURE-----\n";
    assert_eq!(letter(clear).words, "no marks");
    let mime = "From: a@b.example\nContent-Type: multipart/signed; \
                protocol=\"application/pkcs7-signature\"; \
                boundary=b\n\n--b\nContent-Type: text/plain\n\nred heel\n--b\n\
                Content-Type: application/pkcs7-signature; name=smime.p7s\n\nAAAA\n--b--\n";
    assert_eq!(letter(mime).words, "red heel");
}

#[test]
fn what_stands_above_a_legal_footer_without_a_blank_line_is_heard() {
    let footer = "This email is confidential and intended for the addressee only.\nIf you are not \
                  the intended recipient please delete it.\n";
    let own = letter(&format!("From: a@b.example\n\nblister on the left heel\n{footer}"));
    assert_eq!(own.words, "blister on the left heel");
    assert_eq!(letter(&format!("From: a@b.example\n\nno marks\n\n{footer}")).words, "no marks");
}

#[test]
fn accents_in_undeclared_latin_letters_are_heard() {
    let head = b"From: a@b.example\r\nContent-Type: text/plain\r\n\r\n".to_vec();
    let with = |body: &[u8]| open(&[head.as_slice(), body].concat()).words;
    assert_eq!(with(b"rojo en el tal\xf3n izquierdo"), "rojo en el talón izquierdo");
    assert!(with(b"\xf3\xe9\xfc no \x81\x90").contains(char::REPLACEMENT_CHARACTER));
}
