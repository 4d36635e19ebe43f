//! Every trouble has words of its own in every shipped language.

use std::collections::BTreeSet;

use fadewatch::care::Minutes;
use fadewatch::follow_up::{Calendar, Instant};
use fadewatch::notice::{Desk, Languages, MailTrouble, MailWay, ServiceTrouble, Waiting};

fn all() -> Vec<ServiceTrouble> {
    let causes = [
        MailTrouble::NoAnswer,
        MailTrouble::Certificate,
        MailTrouble::Login,
        MailTrouble::Folder,
        MailTrouble::Answer,
    ];
    let mut all: Vec<ServiceTrouble> = [MailWay::Out, MailWay::In]
        .into_iter()
        .flat_map(|way| causes.map(|why| ServiceTrouble::Mail(way, why)))
        .collect();
    all.extend([
        ServiceTrouble::Full,
        ServiceTrouble::Data,
        ServiceTrouble::Damaged,
        ServiceTrouble::ClockAhead(Minutes::new(90)),
        ServiceTrouble::ClockBack(Minutes::new(90)),
        ServiceTrouble::Hanging,
        ServiceTrouble::DailyMessage,
        ServiceTrouble::Backup,
        ServiceTrouble::Flood,
        ServiceTrouble::StrangersMail,
        ServiceTrouble::Board,
        ServiceTrouble::Backlog(Waiting { mails: 1200, longest: Minutes::new(25) }),
    ]);
    all
}

#[test]
fn every_trouble_reads_differently_in_every_shipped_language_and_is_marked_urgent() {
    let (languages, zone) = (Languages::shipped(), Calendar::new("Europe/London").unwrap());
    let now: Instant = "2026-03-06T12:00:00Z".parse().unwrap();
    let mut texts = BTreeSet::new();
    for language in ["en", "de", "es", "fr"] {
        let desk = Desk { languages: &languages, language, zone: &zone, now };
        for trouble in all() {
            let draft = desk.service_in_trouble(&[(trouble, now)]);
            assert_eq!(draft.urgency(), fadewatch::notice::Urgency::Alert);
            let notice = draft.addressed("checks@clinic.example");
            assert!(!notice.text.contains(['{', '}']), "{}", notice.text);
            assert!(texts.insert(notice.text.clone()), "{language}: {trouble:?} is not told apart");
            let over = desk.service_in_order(&[trouble]).addressed("checks@clinic.example");
            assert_ne!(over.subject, notice.subject);
            texts.insert(over.text);
        }
    }
    assert_eq!(texts.len(), 4 * 2 * all().len());
}
