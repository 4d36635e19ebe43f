//! The ledger of what hinders the service: what stands, since when, and what is still to be told.
//!
//! Never here: noticing trouble, telling it, clocks.
//! Promises: a passing hitch is not told; what lasts is told within minutes, again every few hours
//! while it lasts, and once more when it is over; each area counts for itself.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use super::standing::Standing;
use crate::follow_up;
use crate::notice::ServiceTrouble;

/// What can be in trouble by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Area {
    /// Mail to people.
    MailOut,
    /// Mail from people.
    MailIn,
    /// Mail to people that is late though the way out is open.
    Backlog,
    /// The data.
    Data,
    /// The soundness of what is in the data.
    Soundness,
    /// The machine's clock.
    Clock,
    /// The service's own loops.
    Loops,
    /// The daily message.
    Daily,
    /// The daily backup.
    Backup,
    /// The board.
    Board,
}

/// How often it is told again while it lasts (common practice, no source).
const AGAIN: Duration = Duration::from_secs(4 * 3600);

/// What hinders the service at present.
#[derive(Debug)]
pub struct Ledger {
    lasting: Duration,
    standing: BTreeMap<Area, Entry>,
    over: Vec<ServiceTrouble>,
}

#[derive(Debug)]
struct Entry {
    what: ServiceTrouble,
    since: follow_up::Instant,
    begun: Instant,
    told: Option<Instant>,
}

/// What is to be told now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct News {
    /// All that stands, where any of it is to be told, with since when.
    pub troubles: Vec<(ServiceTrouble, follow_up::Instant)>,
    /// What was told and is over.
    pub over: Vec<ServiceTrouble>,
}

impl Ledger {
    /// An empty ledger. Mail and the disk may fail for `lasting` before that is told: servers are
    /// restarted, and a person who is told of every hitch stops reading.
    pub fn new(lasting: Duration) -> Self {
        Self { lasting, standing: BTreeMap::new(), over: Vec::new() }
    }

    /// Notes how an area is: in trouble, or well.
    pub fn note(
        &mut self,
        area: Area,
        trouble: Option<ServiceTrouble>,
        at: follow_up::Instant,
        now: Instant,
    ) {
        match (trouble, self.standing.get_mut(&area)) {
            // The cause may change while the trouble lasts: a server that is restarted refuses
            // logins before it answers.
            (Some(what), Some(standing)) => standing.what = what,
            (Some(what), None) => {
                self.standing.insert(area, Entry { what, since: at, begun: now, told: None });
            }
            (None, Some(_)) => {
                let ended = self.standing.remove(&area);
                self.over.extend(ended.filter(|s| s.told.is_some()).map(|s| s.what));
            }
            (None, None) => {}
        }
    }

    /// What stands in an area.
    pub fn standing(&self, area: Area) -> Option<ServiceTrouble> {
        self.standing.get(&area).map(|standing| standing.what)
    }

    /// What stands and was told.
    pub fn told(&self) -> Vec<Standing> {
        let told = self.standing.values().filter(|entry| entry.told.is_some());
        told.map(|entry| Standing { what: entry.what, since: entry.since }).collect()
    }

    /// How much stands.
    pub fn count(&self) -> usize {
        self.standing.len()
    }

    /// What is to be told now; from then on it counts as told.
    pub fn news(&mut self, now: Instant) -> News {
        let lasting = |area: Area| match area {
            Area::MailOut | Area::MailIn | Area::Data | Area::Board => self.lasting,
            Area::Soundness
            | Area::Clock
            | Area::Loops
            | Area::Daily
            | Area::Backup
            | Area::Backlog => Duration::ZERO,
        };
        let is_due = |(area, standing): (&Area, &Entry)| match standing.told {
            Some(told) => now.saturating_duration_since(told) >= AGAIN,
            None => now.saturating_duration_since(standing.begun) >= lasting(*area),
        };
        let over = std::mem::take(&mut self.over);
        if !self.standing.iter().any(is_due) {
            return News { troubles: Vec::new(), over };
        }
        let ripe = |(area, standing): &(&Area, &mut Entry)| {
            standing.told.is_some()
                || now.saturating_duration_since(standing.begun) >= lasting(**area)
        };
        let mut troubles = Vec::new();
        for (_, standing) in self.standing.iter_mut().filter(ripe) {
            standing.told = Some(now);
            troubles.push((standing.what, standing.since));
        }
        // A jump of the clock is an event, not a state: once told it is done with.
        self.standing.remove(&Area::Clock);
        News { troubles, over }
    }
}

impl News {
    /// Whether there is nothing to tell.
    pub fn is_empty(&self) -> bool {
        self.troubles.is_empty() && self.over.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, Utc};

    use super::*;
    use crate::care::Minutes;
    use crate::notice::{MailTrouble, MailWay};

    const LASTING: Duration = Duration::from_secs(180);
    const SILENT: ServiceTrouble = ServiceTrouble::Mail(MailWay::Out, MailTrouble::NoAnswer);

    fn at() -> follow_up::Instant {
        DateTime::<Utc>::from_timestamp(1_800_000_000, 0).unwrap()
    }

    fn told(news: News) -> Vec<ServiceTrouble> {
        news.troubles.into_iter().map(|(what, _)| what).collect()
    }

    #[test]
    fn a_hitch_is_not_told_and_what_lasts_is_told_within_minutes_again_later_and_when_over() {
        let (mut ledger, begun) = (Ledger::new(LASTING), Instant::now());
        let minute = |count: u64| begun + Duration::from_secs(60 * count);
        ledger.note(Area::MailOut, Some(SILENT), at(), minute(0));
        assert!(ledger.news(minute(2)).is_empty());
        ledger.note(Area::MailOut, None, at(), minute(2));
        assert!(ledger.news(minute(2)).is_empty(), "a hitch that nobody was told of has no end");

        ledger.note(Area::MailOut, Some(SILENT), at(), minute(10));
        assert_eq!(told(ledger.news(minute(13))), [SILENT]);
        ledger.note(Area::MailOut, Some(SILENT), at(), minute(14));
        assert!(ledger.news(minute(14)).is_empty());
        assert_eq!(told(ledger.news(minute(13 + 240))), [SILENT]);
        ledger.note(Area::MailOut, None, at(), minute(300));
        let news = ledger.news(minute(300));
        assert_eq!((news.troubles, news.over), (vec![], vec![SILENT]));
        assert!(ledger.news(minute(301)).is_empty());
    }

    #[test]
    fn a_jump_of_the_clock_is_told_at_once_and_once_only() {
        let (mut ledger, now) = (Ledger::new(LASTING), Instant::now());
        let jump = ServiceTrouble::ClockAhead(Minutes::new(90));
        ledger.note(Area::Clock, Some(jump), at(), now);
        assert_eq!(told(ledger.news(now)), [jump]);
        assert!(ledger.news(now + AGAIN * 2).is_empty());
    }

    #[test]
    fn what_is_new_is_told_together_with_what_stands_already() {
        let (mut ledger, begun) = (Ledger::new(LASTING), Instant::now());
        ledger.note(Area::MailOut, Some(SILENT), at(), begun);
        assert_eq!(told(ledger.news(begun + LASTING)), [SILENT]);
        ledger.note(Area::Backup, Some(ServiceTrouble::Backup), at(), begun + LASTING);
        let both = told(ledger.news(begun + LASTING));
        assert_eq!(both, [SILENT, ServiceTrouble::Backup]);
    }
}
