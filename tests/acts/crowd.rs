//! Many looks that fall due at once: their mail is composed beside the acts, and is the same mail.

use fadewatch::service::{due, enrolling};
use fadewatch::store::StoreError;

use crate::desk::{Desk, at, client};

/// All mail that waits once so many clients were asked at one time: Message-ID and bytes.
fn asked_at_once(clients: usize) -> Vec<(String, Vec<u8>)> {
    let mut desk = Desk::new();
    let office = &desk.office;
    desk.store
        .write(|tx| {
            (1..clients).try_for_each(|n| {
                let client = client(&office.clinic, &format!("C{n}"));
                enrolling::enroll(office, tx, &client, "a test", at("09:00")).map(|_| ())
            })
        })
        .unwrap();
    let batch = desk.store.write(|tx| due::act_on_due(office, tx, at("10:00"))).unwrap();
    assert_eq!(batch.follow_ups, clients);
    let claimed = desk.store.write(|tx| tx.claim_mail(at("10:00"), 1000));
    let claimed: Result<Vec<_>, StoreError> = claimed;
    claimed.unwrap().into_iter().map(|mail| (mail.mail.message_id, mail.mail.raw)).collect()
}

#[test]
fn mail_of_a_crowd_is_the_same_to_the_byte_as_mail_of_a_few() {
    let (few, crowd) = (asked_at_once(5), asked_at_once(40));
    assert_eq!((few.len(), crowd.len()), (5, 40));
    assert_eq!(few, crowd[..5]);
    assert!(crowd.iter().all(|(id, raw)| String::from_utf8_lossy(raw).contains(id.as_str())));
}
