//! Notices about the clinic as a whole: mail set aside, absence of the service, a plan with
//! problems, the daily sign of life.
//!
//! Never here: anything about one follow-up.
//! Promises: what came due or lies unanswered is named by the client's reference only.

use super::draft::{Block, Draft, Urgency};
use super::languages::Languages;
use super::phrase::Clock;
use super::setting::one_line;
use super::wording::Wording;
use crate::care::{ClientRef, Minutes};
use crate::follow_up::{Calendar, Instant, Noticed};

/// Who reads a notice about the whole clinic, and when.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'a> {
    /// The languages at hand.
    pub languages: &'a Languages,
    /// The reader's language tag.
    pub language: &'a str,
    /// The clinic's zone.
    pub zone: &'a Calendar,
    /// Now.
    pub now: Instant,
}

/// Why a mail was set aside before it could be read as an answer (R29).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum UnreadReason {
    /// Its address is not on file.
    UnknownSender,
    /// It carries no token, or none that we gave out.
    UnknownToken,
    /// Its token went to somebody else.
    WrongSender,
    /// The receiving server could not prove the address.
    Unproven,
    /// It is damaged.
    Unreadable,
    /// The one who wrote it has written too often in the last hour.
    TooMany,
}

/// A mail that was set aside.
#[derive(Clone, Copy)]
pub struct UnreadMail<'a> {
    /// Why.
    pub why: UnreadReason,
    /// When it came.
    pub came_at: Instant,
    /// The address that it names as its sender, if any.
    pub sender: Option<&'a str>,
    /// Its words, if any could be read.
    pub words: Option<&'a str>,
}

/// What came due for one client while the service was away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DueMeanwhile {
    /// The client.
    pub client: ClientRef,
    /// Looks that came due.
    pub looks: u32,
    /// Sittings that were planned.
    pub sittings: u32,
}

/// How all follow-ups stand.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Standings {
    /// Follow-ups that run.
    pub follow_ups: u32,
    /// Those stopped, and since when.
    pub stopped: Vec<(ClientRef, Instant)>,
    /// Those suspended.
    pub suspended: Vec<ClientRef>,
    /// Looks that wait for an answer beyond their first wait, and since when.
    pub overdue: Vec<(ClientRef, Instant)>,
}

/// What is planned, as a calendar that goes with the daily message.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum DayCalendar {
    /// Nothing is planned.
    #[default]
    Nothing,
    /// An iCalendar file.
    File(String),
    /// More than a mail should carry.
    TooLong,
}

impl<'a> Desk<'a> {
    /// A mail was set aside (R29). It is shown with its words.
    pub fn mail_set_aside(&self, mail: &UnreadMail<'_>) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::Request, w.unread_subject());
        draft.lead(w.unread_lead(&self.when(mail.came_at)));
        draft.line(match mail.why {
            UnreadReason::UnknownSender => w.unread_unknown_sender(),
            UnreadReason::UnknownToken => w.unread_unknown_token(),
            UnreadReason::WrongSender => w.unread_wrong_sender(),
            UnreadReason::Unproven => w.unread_unproven(),
            UnreadReason::Unreadable => w.unread_unreadable(),
            UnreadReason::TooMany => w.trouble_too_many(),
        });
        if let Some(sender) = mail.sender {
            draft.line(w.unread_from(&one_line(sender)));
        }
        if let Some(words) = mail.words {
            draft.quote(w, words);
        }
        draft.line(w.unread_do());
        draft.small(w.caution_clinician());
        draft
    }

    /// The service was away and runs again (R26).
    pub fn service_was_away(&self, since: Instant, due: &[DueMeanwhile]) -> Draft {
        let w = self.wording();
        let minutes = (self.now - since).num_minutes();
        let duration = w.duration(Minutes::new(u32::try_from(minutes).unwrap_or(0)));
        let mut draft = self.draft(Urgency::Request, w.away_subject(&duration));
        let until = self.when(self.now);
        draft.lead(w.away_lead(&duration, &self.when(since), &until));
        let items: Vec<String> = due.iter().filter_map(|due| due_line(w, due)).collect();
        if items.is_empty() {
            draft.line(w.away_nothing());
        } else {
            draft.line(w.away_due());
            draft.push(Block::Unordered(items));
        }
        draft.small(w.caution_clinician());
        draft
    }

    /// The machine's clock was set back: `instead_of` is what it would show now.
    pub fn clock_was_set_back(&self, instead_of: Instant, noticed: Noticed) -> Draft {
        let w = self.wording();
        let minutes = (instead_of - self.now).num_minutes();
        let duration = w.duration(Minutes::new(u32::try_from(minutes).unwrap_or(0)));
        let mut draft = self.draft(Urgency::Request, w.clock_subject(&duration));
        draft.lead(w.clock_lead(&self.when(instead_of), &self.when(self.now)));
        draft.line(w.clock_goes_on());
        if noticed == Noticed::AtStart {
            draft.line(w.clock_at_start());
        }
        draft.line(w.clock_do());
        draft.small(w.caution_clinician());
        draft
    }

    /// A plan file has problems and was not taken. Each problem is a line of its own.
    pub fn plan_has_problems(&self, file: &str, problems: &[String]) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::Request, w.plan_subject());
        draft.lead(w.plan_lead(&one_line(file)));
        draft.push(Block::Unordered(problems.to_vec()));
        draft.line(w.plan_keeps());
        draft.small(w.caution_clinician());
        draft
    }

    /// The daily sign of life: its absence is the sign of trouble.
    pub fn still_alive(&self, standings: &Standings, calendar: DayCalendar) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::News, w.alive_subject());
        draft.lead(w.alive_lead(&w.counted("count.follow_ups", standings.follow_ups)));
        // 'Nobody is overdue' is news too, and the first that the reader wants to know.
        if standings.overdue.is_empty() {
            draft.line(w.alive_overdue_none());
        } else {
            let overdue = u32::try_from(standings.overdue.len()).unwrap_or(u32::MAX);
            draft.line(w.alive_overdue(&w.counted("count.overdue", overdue)));
            let since =
                |(client, at): &(ClientRef, Instant)| w.away_client(client, &self.when(*at));
            draft.push(Block::Unordered(standings.overdue.iter().map(since).collect()));
        }
        self.not_sitting(&mut draft, standings);
        match calendar {
            DayCalendar::Nothing => {}
            DayCalendar::File(file) => {
                draft.line(w.alive_calendar());
                draft.calendar = Some(file);
            }
            DayCalendar::TooLong => draft.line(w.alive_calendar_too_long()),
        }
        draft.small(w.alive_missing());
        draft
    }

    /// Who does not sit: counts first, then each by reference, as a count leads nobody to a client.
    fn not_sitting(&self, draft: &mut Draft, standings: &Standings) {
        let w = self.wording();
        let (stopped, suspended) = (&standings.stopped, &standings.suspended);
        if stopped.is_empty() && suspended.is_empty() {
            draft.line(w.alive_standing_none());
            return;
        }
        let counted = |name, len| w.counted(name, u32::try_from(len).unwrap_or(u32::MAX));
        draft.line(w.alive_standing(
            &counted("count.stopped", stopped.len()),
            &counted("count.suspended", suspended.len()),
        ));
        let stopped =
            stopped.iter().map(|(client, at)| w.alive_stopped_client(client, &self.when(*at)));
        let suspended = suspended.iter().map(|client| w.alive_suspended_client(client));
        draft.push(Block::Unordered(stopped.chain(suspended).collect()));
    }

    /// A message that tries the mail account, to a clinician who is asked to answer it.
    pub fn trial(&self, clinic: &str) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::Request, w.trial_subject());
        draft.lead(w.trial_lead(&one_line(clinic)));
        draft.line(w.trial_ask());
        draft.small(w.caution_clinician());
        draft
    }

    /// A message that the service sends to itself, to try the way there and back.
    pub fn trial_to_itself(&self, clinic: &str) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::News, w.trial_subject());
        draft.lead(w.trial_lead(&one_line(clinic)));
        draft.line(w.trial_own());
        draft
    }

    /// A link that signs a member of the staff in on the board.
    pub fn sign_in(&self, clinic: &str, link: &str, lasts: Minutes) -> Draft {
        let w = self.wording();
        let mut draft = self.draft(Urgency::Request, w.sign_in_subject());
        draft.lead(w.sign_in_lead(&one_line(clinic)));
        draft.line(link.to_owned());
        draft.line(w.sign_in_how(&w.duration(lasts)));
        draft.small(w.sign_in_not_you());
        draft
    }

    pub(super) fn wording(&self) -> &'a Wording {
        self.languages.wording(self.language)
    }

    pub(super) fn draft(&self, urgency: Urgency, what: String) -> Draft {
        let w = self.wording();
        Draft::new(w, urgency, w.frame_clinic_subject(&what), w.frame_clinic_reply_subject())
    }

    pub(super) fn when(&self, at: Instant) -> String {
        self.wording().when(Clock { zone: self.zone, now: self.now }, at)
    }
}

/// `A7: 2 skin checks and 1 sitting`; none where nothing came due.
fn due_line(w: &Wording, due: &DueMeanwhile) -> Option<String> {
    let counts = [("count.looks", due.looks), ("count.sittings", due.sittings)];
    let parts = counts.into_iter().filter(|(_, count)| *count > 0);
    let what = w.list(parts.map(|(name, count)| w.counted(name, count)));
    (!what.is_empty()).then(|| w.away_client(&due.client, &what))
}
