//! A clinic with the client `A7`, whose service does what a test lets it do, when it says so.
//!
//! Never here: what is tested.

use chrono::{DateTime, NaiveDate, Utc};
use fadewatch::config::{ClientFile, Clinic, parse_client, parse_clinic};
use fadewatch::follow_up::event::Entry;
use fadewatch::follow_up::{Instant, State};
use fadewatch::notice::Languages;
use fadewatch::reply::{Lexicons, letter};
use fadewatch::service::taking::{Arrived, Placed, take_in};
use fadewatch::service::{Office, answers, due, enrolling};
use fadewatch::store::{FollowUpId, RequestTarget, Solo, StoreError};
use mail_parser::MessageParser;

/// The clinic at work. Times are of 6 March 2026, UTC, unless a day stands before them.
pub struct Desk {
    pub office: Office,
    pub store: Solo,
    pub follow_up: FollowUpId,
    letters: u32,
}

/// A mail of the service, as its reader finds it.
#[derive(Clone, Debug)]
pub struct Mail {
    pub to: String,
    pub subject: String,
    pub text: String,
    pub target: RequestTarget,
    reply_to: String,
}

impl Desk {
    /// The client sits at 10:00 and 15:30 for 15 minutes; alerts are repeated every 30 minutes.
    pub fn new() -> Self {
        let clinic = parse_clinic("clinic.toml", include_str!("../config/right/clinic.toml"));
        let clinic = clinic.unwrap().value;
        let client = client(&clinic, "A7");
        let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped());
        let office = office.unwrap().with_seed(1);
        let mut store = Solo::in_memory().unwrap();
        let now = at("09:00");
        let enrolled = store.write(|tx| enrolling::enroll(&office, tx, &client, "a test", now));
        let follow_up = enrolled.unwrap().follow_up;
        Self { office, store, follow_up, letters: 0 }
    }

    /// The service does what is due by then.
    pub fn runs_at(&mut self, when: &str) -> &mut Self {
        let (office, now) = (&self.office, at(when));
        self.store.write(|tx| due::act_on_due(office, tx, now)).unwrap();
        self
    }

    /// Somebody answers a mail, and the service works it through.
    pub fn answered(&mut self, mail: &Mail, words: &str, when: &str) -> &mut Self {
        self.met(mail, words, (when, when), false)
    }

    /// The service meets an answer that the mail server dates otherwise than our clock does; it
    /// may have lain waiting when the service started.
    pub fn met(
        &mut self,
        mail: &Mail,
        words: &str,
        (dated, when): (&str, &str),
        lay_waiting: bool,
    ) -> &mut Self {
        self.letters += 1;
        let (number, now, received_at) = (self.letters, at(when), Some(at(dated)));
        let raw = format!(
            "From: <{}>\r\nTo: <{}>\r\nSubject: Re: {}\r\nMessage-ID: <{number}@home.example>\r\n\
             Content-Type: text/plain; charset=utf-8\r\n\r\n{words}\r\n",
            mail.to, mail.reply_to, mail.subject
        );
        let raw = raw.into_bytes();
        let mail = Arrived { raw, is_whole: true, received_at, lay_waiting, mark: None };
        let office = &self.office;
        let placed = Placed::new("clinic", mail);
        self.store.write(|tx| take_in(office, tx, &placed, now)).unwrap();
        let taken = self.store.write(|tx| tx.take_received()).unwrap().unwrap();
        let letter = letter::open(&taken.raw);
        self.store.write(|tx| answers::work_through(office, tx, &taken, &letter, now)).unwrap();
        self
    }

    /// Sends what waits, and shows it.
    pub fn sent(&mut self, when: &str) -> Vec<Mail> {
        let now = at(when);
        let claimed = self.store.write(|tx| {
            let claimed = tx.claim_mail(now, 1000)?;
            for mail in &claimed {
                tx.mark_sent(mail.id, now)?;
            }
            Ok::<_, StoreError>(claimed)
        });
        claimed.unwrap().iter().map(|mail| Mail::read(&mail.mail.raw, mail.mail.target)).collect()
    }

    /// The state, which is also what the journal adds up to.
    pub fn state(&mut self) -> State {
        let follow_up = self.follow_up;
        self.store
            .read(|view| {
                assert!(view.is_state_as_journalled(follow_up)?);
                Ok::<_, StoreError>(view.load(follow_up)?.state)
            })
            .unwrap()
    }

    /// The journal.
    pub fn journal(&mut self) -> Vec<Entry> {
        let follow_up = self.follow_up;
        let lines = self.store.read(|view| view.journal_of(follow_up)).unwrap();
        lines.into_iter().map(|line| line.entry).collect()
    }
}

impl Mail {
    fn read(raw: &[u8], target: RequestTarget) -> Self {
        let message = MessageParser::default().parse(raw).unwrap();
        let address = |header: Option<&mail_parser::Address<'_>>| {
            header.unwrap().first().unwrap().address().unwrap().to_owned()
        };
        Self {
            to: address(message.to()),
            reply_to: address(message.reply_to()),
            subject: message.subject().unwrap().to_owned(),
            text: message.body_text(0).unwrap().into_owned(),
            target,
        }
    }
}

/// A client who is like `A7`, under another reference.
pub fn client(clinic: &Clinic, reference: &str) -> ClientFile {
    read_client(clinic, reference, |file| file)
}

/// The same, called otherwise.
pub fn called(clinic: &Clinic, reference: &str, call_name: &str) -> ClientFile {
    read_client(clinic, reference, |file| {
        file.replace("call_name = \"Sam\"", &format!("call_name = \"{call_name}\""))
    })
}

fn read_client(clinic: &Clinic, reference: &str, with: impl Fn(String) -> String) -> ClientFile {
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    let file =
        include_str!("../config/right/client.toml").replace("\"A7\"", &format!("\"{reference}\""));
    let plan = include_str!("../config/right/plan.toml").to_owned();
    let read = parse_client("client.toml", &with(file), clinic, today, |_| {
        Ok(("two-week.toml".to_owned(), plan))
    });
    read.unwrap().value
}

/// `10:15`, or `7 10:15` for another day of March 2026.
pub fn at(when: &str) -> Instant {
    let (day, time) = when.split_once(' ').unwrap_or(("6", when));
    format!("2026-03-{day:0>2}T{time}:00Z").parse::<DateTime<Utc>>().unwrap()
}
