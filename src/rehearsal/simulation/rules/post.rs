//! What becomes of mail, and what people answer: in readings, as if every word were understood.
//!
//! Never here: what anybody means (`minds`), words.
//! Promises: a mail that is neither refused nor sent back arrives; contacts tell what they saw,
//! except where trouble says otherwise.

use chrono::{TimeDelta, Timelike};

use super::{Happening, Rules};
use crate::care::{Minutes, Place, Reading, Side, Site, StepChoice, Verdict};
use crate::follow_up::{Aim, Answered, Instant, Occasion, Target};
use crate::rehearsal::simulation::dice::Dice;
use crate::rehearsal::simulation::fault::Fault;
use crate::rehearsal::simulation::ledger::{Cause, Utterance, Writer};
use crate::rehearsal::simulation::minds::{Mind, Saying};
use crate::rehearsal::simulation::transactions::Halt;
use crate::store::RequestTarget;

/// Who reads a mail: by place among the client's contacts or the clinic's clinicians.
#[derive(Clone, Copy, Debug)]
pub(super) enum Reader {
    Contact(usize),
    Clinician(usize),
}

/// A mail of the service.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mail {
    pub(super) client: usize,
    pub(super) reader: Reader,
    pub(super) cause: Cause,
    pub(super) target: RequestTarget,
}

/// Something that comes to the clinic: an answer, or the report that a mail failed for good.
#[derive(Clone, Debug)]
pub(super) struct Letter {
    pub(super) client: usize,
    pub(super) occasion: Occasion,
    /// What was said, by its number in the record; none in a report.
    pub(super) said: Option<usize>,
    /// When it came, by the world's clock.
    pub(super) came_at: Instant,
    /// When it came by the service's clock, once the service has taken it in.
    pub(super) dated: Option<Instant>,
}

impl Rules {
    /// A mail is handed over.
    pub(super) fn post(&mut self, mail: Mail) {
        self.mails += 1;
        let refused = self.strikes(Fault::RefusedForGood, 2);
        let bounces = self.strikes(Fault::Bounce, 2);
        if refused || bounces {
            if let Reader::Contact(place) = mail.reader {
                let after = TimeDelta::minutes(self.servers.between(0, 60));
                let contact = self.contacts[mail.client][place].0.clone();
                let occasion = Occasion::Unreachable { contact };
                let wait = if bounces { after } else { TimeDelta::seconds(1) };
                self.letter(mail.client, occasion, None, self.now + wait);
            }
            return;
        }
        let mut wait = TimeDelta::seconds(self.servers.between(1, 60));
        if let Some(until) = self.cut_off_until.filter(|until| *until > self.now) {
            wait += until - self.now + TimeDelta::minutes(self.servers.between(0, 16));
        }
        let for_now = self.strikes(Fault::RefusedForNow, 20);
        if self.strikes(Fault::RefusedUs, 8) || for_now {
            wait += TimeDelta::minutes(self.servers.between(1, 30));
        }
        if self.strikes(Fault::SlowMail, 10) {
            wait += TimeDelta::minutes(self.servers.between(20, 480));
        }
        self.agenda.put(self.now + wait, Happening::Read(mail));
        if self.strikes(Fault::AnswerLost, 15) {
            let again = wait + TimeDelta::minutes(self.servers.between(1, 16));
            self.agenda.put(self.now + again, Happening::Read(mail));
        }
        if self.strikes(Fault::MailDoubled, 10) {
            let again = wait + TimeDelta::minutes(self.servers.between(0, 90));
            self.agenda.put(self.now + again, Happening::Read(mail));
        }
    }

    /// Somebody reads a mail.
    pub(super) fn read(&mut self, mail: Mail) {
        let Mail { client, reader, cause, target } = mail;
        let mut mind = Mind {
            seed: self.trial.seed,
            marks_per_mille: self.marks_per_mille,
            ledger: &self.ledger,
            dice: &mut self.people,
        };
        let sayings = match reader {
            Reader::Contact(place) => {
                mind.contact_says(client, (cause, target), self.contacts[client][place].1)
            }
            Reader::Clinician(place) => mind.clinician_says(client, self.clinicians[place].1),
        };
        for saying in sayings {
            match reader {
                Reader::Contact(place) => self.contact_answers(mail, place, saying),
                Reader::Clinician(place) => self.clinician_answers(mail, place, saying),
            }
        }
        if let Reader::Contact(place) = reader
            && self.strikes(Fault::AbsenceNotice, 15)
        {
            let automatic = Verdict::bare(Reading::Automatic);
            let at = self.now + TimeDelta::seconds(5);
            self.say(mail, (place, aim(target)), (Writer::Machine, automatic), at);
        }
    }

    /// A contact answers, with all that can go wrong with it.
    fn contact_answers(&mut self, mail: Mail, place: usize, saying: Saying) {
        let at = self.now + saying.after;
        let mut verdict = self.verdict(mail.client, saying, at);
        let (mut by, mut writer, mut aim) = (place, Writer::Asked, aim(mail.target));
        if self.strikes(Fault::ReplyContradicting, 20) {
            let otherwise =
                *self.people.pick(&[Reading::Clear, Reading::Marked, Reading::Alarming]);
            let other = Verdict::bare(otherwise);
            let later = at + TimeDelta::minutes(self.people.between(0, 3));
            self.say(mail, (by, aim), (writer.clone(), other), later);
        }
        if self.strikes(Fault::ReplyOverreaching, 8) {
            let decision = [Reading::Resume, Reading::Close, Reading::KeepStopped, Reading::Seen];
            verdict = Verdict::bare(*self.people.pick(&decision));
        }
        if self.strikes(Fault::ReplyWrongPerson, 20) {
            if let Some(other) = (0..self.contacts[mail.client].len()).find(|one| *one != place) {
                (by, writer, aim) = (other, Writer::OnFile, Aim::Nothing);
            }
        } else if self.strikes(Fault::ReplyTokenLost, 20) {
            (writer, aim) = (Writer::OnFile, Aim::Nothing);
        }
        if self.strikes(Fault::ReplyGarbled, 10) {
            verdict = Verdict::bare(Reading::Unclear);
        }
        self.say(mail, (by, aim), (writer, verdict), at);
    }

    fn say(
        &mut self,
        mail: Mail,
        (place, aim): (usize, Aim),
        (writer, verdict): (Writer, Verdict),
        at: Instant,
    ) {
        let by = self.contacts[mail.client][place].0.clone();
        let (means, minutes) = (verdict.reading, verdict.minutes.map(Minutes::count));
        let occasion = Occasion::Reply { by, verdict, aim };
        self.utter(mail, occasion, (writer, means, minutes), at);
    }

    fn clinician_answers(&mut self, mail: Mail, place: usize, saying: Saying) {
        let RequestTarget::Alert(alert) = mail.target else { return };
        let dice = &mut self.people;
        let named = saying.means == Reading::Resume && dice.per_mille(200);
        let step = u32::try_from(dice.between(1, 5)).unwrap_or(1);
        let step = named.then_some(StepChoice::Step(step));
        let verdict = Verdict { step, ..Verdict::bare(saying.means) };
        let (by, answers) = (self.clinicians[place].0.clone(), Some(Answered::Alert(alert)));
        let occasion = Occasion::Decision { by, verdict, answers };
        let said = (Writer::Clinician, saying.means, None);
        self.utter(mail, occasion, said, self.now + saying.after);
    }

    /// Something is said, and goes its way to the clinic.
    fn utter(
        &mut self,
        mail: Mail,
        occasion: Occasion,
        (writer, means, minutes): (Writer, Reading, Option<u32>),
        at: Instant,
    ) {
        let mut arrives = at + TimeDelta::seconds(self.people.between(1, 90));
        if self.strikes(Fault::ReplyLate, 25) {
            arrives += TimeDelta::minutes(self.troubles.between(60, 2000));
        }
        if self.strikes(Fault::ReplyReordered, 25) {
            arrives += TimeDelta::minutes(self.troubles.between(2, 90));
        }
        let utterance = Utterance {
            means,
            minutes,
            client: mail.client,
            writer,
            target: mail.target,
            is_plain: true,
            worked_at: None,
        };
        // Said twice, not delivered twice: the service tells one mail from the same mail again.
        if self.strikes(Fault::ReplyDoubled, 30) {
            let again = arrives + TimeDelta::minutes(self.troubles.between(0, 1500));
            self.record(utterance.clone(), occasion.clone(), again);
        }
        self.record(utterance, occasion, arrives);
    }

    fn record(&mut self, utterance: Utterance, occasion: Occasion, arrives: Instant) {
        let (client, number) = (utterance.client, self.ledger.said.len());
        self.ledger.said.push(utterance);
        self.letter(client, occasion, Some(number), arrives);
    }

    fn letter(&mut self, client: usize, occasion: Occasion, said: Option<usize>, came_at: Instant) {
        let letter = Letter { client, occasion, said, came_at, dated: None };
        self.agenda.put(came_at, Happening::Arrive(letter));
    }

    /// A letter reaches the mailbox.
    pub(super) fn arrive(&mut self, mut letter: Letter) -> Result<(), Halt> {
        letter.came_at = self.now;
        self.inbox.push_back(letter);
        self.pump()
    }

    /// What is understood of somebody who says this.
    fn verdict(&mut self, client: usize, saying: Saying, at: Instant) -> Verdict {
        let dice = &mut self.people;
        let is_mark = saying.means.is_worrying() || saying.means == Reading::Faded;
        let sites = if is_mark && dice.per_mille(700) { vec![site(dice)] } else { Vec::new() };
        let minutes = (saying.means == Reading::Faded).then(|| Minutes::new(saying.minutes));
        let states_time = saying.means == Reading::Started && dice.per_mille(500);
        let stated_at = states_time.then(|| {
            let shown = self.ledger.clients[client].calendar.local(at).time();
            shown.with_second(0).unwrap_or(shown)
        });
        Verdict { sites, minutes, stated_at, ..Verdict::bare(saying.means) }
    }
}

/// What an answer to a mail is an answer to, as the service takes it.
fn aim(target: RequestTarget) -> Aim {
    match target {
        RequestTarget::Announcement(sitting) => Aim::Request(Target::Announcement(sitting)),
        RequestTarget::Look(look) => Aim::Request(Target::Look(look)),
        RequestTarget::Alert(_) | RequestTarget::Other => Aim::Newest,
    }
}

/// A site that is named.
fn site(dice: &mut Dice) -> Site {
    match dice.below(4) {
        0 => Site::sided(Place::Ischium, Side::Left),
        1 => Site::sided(Place::Heel, Side::Right),
        2 => Site::unsided(Place::Ischium),
        _ => Site::unsided(Place::Sacrum),
    }
}
