//! The journal: it only grows, and shows what other hands did to it.

use fadewatch::store::{JournalLine, StoreError, Tampering};

use super::Bench;
use crate::bench::Host as _;
use crate::sample::at;

fn with_two_follow_ups() -> Bench {
    let bench = Bench::new();
    for client in ["C-1", "C-2"] {
        let follow_up = bench.enroll(client);
        for minutes in [0, 30, 60] {
            bench.clock(follow_up, at(minutes));
        }
    }
    bench
}

/// Does to the file what our own program never would, and returns what verifying finds.
fn findings_after(tampering: &str) -> Vec<Tampering> {
    let bench = with_two_follow_ups().with_hands(|host| {
        assert!(host.tamper(tampering) > 0, "the tampering did nothing");
    });
    bench.store.read_blocking(|view| view.verify_journal()).unwrap().findings
}

#[test]
fn an_untouched_journal_verifies() {
    let bench = with_two_follow_ups();
    let verified = bench.store.read_blocking(|view| view.verify_journal()).unwrap();
    assert_eq!(verified.findings, []);
    assert!(verified.entries > 6);
}

#[test]
fn entries_read_in_their_order_and_lead_to_their_occasions() {
    let bench = with_two_follow_ups();
    let (lines, tail) = bench
        .store
        .read_blocking(|view| {
            let follow_up = view.follow_ups(None, 1)?[0].follow_up;
            let lines = view.journal_of(follow_up)?;
            let occasion = view.occasion(lines[1].occasion)?;
            assert_eq!((occasion.kind.as_str(), occasion.at), ("due", at(0)));
            assert_eq!(view.journal_line(lines[1].seq)?, lines[1]);
            Ok::<_, StoreError>((lines, view.journal_tail(follow_up, 2)?))
        })
        .unwrap();
    assert!(lines.iter().zip(1..).all(|(line, number)| line.number == number));
    assert!(lines.iter().all(|line| line.rule == line.entry.event.rule()));
    assert_eq!(tail, lines[lines.len() - 2..]);
}

#[test]
fn the_whole_journal_can_be_followed_piece_by_piece() {
    let bench = with_two_follow_ups();
    bench
        .store
        .read_blocking(|view| {
            let all = view.journal_since(None, u32::MAX)?;
            let mut followed = Vec::new();
            loop {
                let after = followed.last().map(|line: &JournalLine| line.seq);
                let more = view.journal_since(after, 3)?;
                assert!(more.len() <= 3);
                if more.is_empty() {
                    break;
                }
                followed.extend(more);
            }
            assert_eq!(followed, all);
            assert!(all.windows(2).all(|pair| pair[0].seq < pair[1].seq));
            let of_each: usize = view
                .follow_ups(None, 2)?
                .iter()
                .map(|listed| view.journal_of(listed.follow_up).map(|lines| lines.len()))
                .sum::<Result<usize, _>>()?;
            assert_eq!(of_each, all.len());
            Ok::<_, StoreError>(())
        })
        .unwrap();
}

#[test]
fn the_database_itself_refuses_to_change_or_delete_what_is_journalled() {
    with_two_follow_ups().with_hands(|host| {
        for forbidden in [
            "UPDATE journal SET rule = 'R1' WHERE seq = 1",
            "DELETE FROM journal WHERE seq = 1",
            "DELETE FROM journal",
            "UPDATE occasion SET detail = '{}' WHERE id = 1",
            "DELETE FROM occasion WHERE id = 1",
        ] {
            let refused = host.run(forbidden).unwrap_err();
            assert!(refused.contains("append-only"), "{forbidden}: {refused}");
        }
    });
}

#[test]
fn the_database_itself_refuses_rows_that_cannot_be() {
    with_two_follow_ups().with_hands(|host| {
        for (forbidden, named) in [
            ("UPDATE follow_up SET standing = 'lost'", "follow_up_standing_is_known"),
            ("UPDATE follow_up SET standing = 'closed'", "follow_up_closed_has_nothing_due"),
            ("UPDATE follow_up SET last_entry = NULL", "follow_up_with_entries_knows_its_last"),
            (
                "INSERT INTO journal (follow_up, number, at_utc_ms, rule, occasion, body, hash)
                 VALUES (1, 2, 0, 'R1', 1, x'', zeroblob(32))",
                "journal_only_the_first_has_no_previous",
            ),
            (
                "INSERT INTO person (kind, ref, name, mail, mail_key, language)
                 VALUES ('contact', 'x', '', '', '', '')",
                "person_contact_belongs_to_a_follow_up",
            ),
        ] {
            let refused = host.run(forbidden).unwrap_err();
            assert!(refused.contains(named), "{forbidden}: {refused}");
        }
    });
}

#[test]
fn a_changed_entry_shows_whatever_column_was_changed() {
    for column in ["at_utc_ms = at_utc_ms + 1", "rule = 'R0'", "body = x'7b7d'", "previous = 1"] {
        let sql = format!("UPDATE journal SET {column} WHERE follow_up = 1 AND number = 3");
        let findings = findings_after(&sql);
        assert!(
            matches!(findings[..], [Tampering::Changed { number: 3, .. }]),
            "{column}: {findings:?}"
        );
    }
}

#[test]
fn an_entry_hashed_anew_by_other_hands_breaks_the_chain_after_it() {
    let findings = findings_after(
        "UPDATE journal SET rule = 'R0', hash = zeroblob(32) WHERE follow_up = 2 AND number = 2",
    );
    assert!(matches!(findings[..], [Tampering::Changed { number: 2, .. }]), "{findings:?}");
}

#[test]
fn a_removed_entry_shows_in_the_middle_and_at_the_end() {
    let findings = findings_after("DELETE FROM journal WHERE follow_up = 1 AND number = 2");
    assert!(
        matches!(findings[..], [Tampering::OutOfOrder { expected: 2, found: 3, .. }]),
        "{findings:?}"
    );
    let findings = findings_after(
        "DELETE FROM journal WHERE seq = (SELECT last_entry FROM follow_up WHERE id = 2)",
    );
    assert!(matches!(findings[..], [Tampering::WrongEnd { .. }]), "{findings:?}");
}

#[test]
fn an_entry_given_to_another_client_shows_in_both_journals() {
    let findings = findings_after("UPDATE journal SET follow_up = 2 WHERE seq = 2");
    assert_eq!(findings.len(), 2, "{findings:?}");
}

#[test]
fn a_changed_or_removed_occasion_shows_in_the_entries_that_it_made() {
    for sql in [
        "UPDATE occasion SET detail = '{\"by\":\"ot-9\"}' WHERE id = 1",
        "DELETE FROM occasion WHERE id = 1",
    ] {
        let findings = findings_after(sql);
        assert!(matches!(findings[..], [Tampering::Changed { number: 1, .. }]), "{findings:?}");
    }
}
