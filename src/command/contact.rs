//! `fadewatch contact`: who is asked about a client, in which order, at which address.
//!
//! Never here: what a change leads to (open looks, R27).
//! Promises: names and addresses are printed only where they were asked for.

use std::process::ExitCode;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::exit::Exit;
use super::outcome;
use super::paper;
use super::report::act_and_tell;
use super::said_by::SaidBy;
use super::setting::{CommandError, ConfigOption, now};
use super::table::{Cell, Ink, Table};
use super::who::{self, Act};
use crate::care::{AskedHours, ContactId, Minutes, Plan};
use crate::config::{Language, MailAddress, PersonName, hours_in_words, typed_hours};
use crate::follow_up::{Instant, State};
use crate::overview::contacts::hours_left_open;
use crate::service::acts_by_hand;
use crate::service::{Office, ServiceError};
use crate::store::{FollowUpId, Loaded, Person, Store, StoreError, View};

/// What `contact` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
        fadewatch contact A7 list\n  \
        fadewatch contact A7 set first --mail robin@new.example --by desk\n  \
        fadewatch contact A7 set third --name Lee --mail lee@home.example --language en --by desk\n  \
        fadewatch contact A7 set first --asked \"Mon-Fri 07:00-15:00\" --by desk\n  \
        fadewatch contact A7 order second first --by desk")]
pub(super) struct ContactArgs {
    /// The client's reference.
    client: String,
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Show the contacts, with names and addresses.
    #[command(after_help = "Example:\n  fadewatch contact A7 list")]
    List {
        /// Print JSON.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        config: ConfigOption,
    },
    /// Change a contact's name, address, language or hours, or add a contact.
    #[command(after_help = "Examples:\n  fadewatch contact A7 set first --mail robin@new.example \
        --by desk\n  fadewatch contact A7 set first --asked \"Mon-Fri 07:00-15:00; Sat 08:00-12:00\" \
        --by desk\n  fadewatch contact A7 set first --any-hour --by desk\n\n\
        Another address makes the contact reachable again. In their hours, by the client's clock,\n\
        contacts are asked before others; where nobody's hours hold, the first is asked.")]
    Set(SetArgs),
    /// Say who is asked, in which order; whoever is not named is asked no longer.
    #[command(after_help = "Example:\n  fadewatch contact A7 order second first --by desk")]
    Order(OrderArgs),
}

#[derive(Debug, Args)]
struct SetArgs {
    /// The contact; a new one is asked last.
    contact: String,
    /// The name they are greeted by.
    #[arg(long, value_parser = PersonName::new)]
    name: Option<PersonName>,
    /// Where requests go and answers come from.
    #[arg(long, value_parser = MailAddress::new)]
    mail: Option<MailAddress>,
    /// The language they are written to in, such as `en`.
    #[arg(long, value_parser = Language::new)]
    language: Option<Language>,
    /// The hours in which they are asked before others, such as `22:00-06:00`; several with `;`.
    #[arg(long, value_name = "HOURS", value_parser = typed_hours, conflicts_with = "any_hour")]
    asked: Option<AskedHours>,
    /// They are asked at any hour.
    #[arg(long)]
    any_hour: bool,
    #[command(flatten)]
    said: SaidBy,
}

#[derive(Debug, Args)]
struct OrderArgs {
    /// The contacts, the first to be asked first.
    #[arg(required = true)]
    contacts: Vec<String>,
    #[command(flatten)]
    said: SaidBy,
}

/// A contact with what is known of them.
#[derive(Debug, Serialize)]
pub(super) struct Known {
    id: String,
    name: Option<String>,
    mail: Option<String>,
    language: Option<String>,
    reachable: bool,
    /// The hours in which they are asked before others; none means at any hour.
    asked: AskedHours,
    /// Whether these hold now.
    on_shift: bool,
    /// How long after the first request this contact is asked, where nobody answers (R14).
    asked_after_minutes: Option<u32>,
}

impl ContactArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        match &self.what {
            What::List { json, config } => {
                let (office, store) = config.open_to_read()?;
                let known = store.read_blocking(|view| -> Result<_, CommandError> {
                    let loaded = who::loaded(view, &self.client)?;
                    let plan = office.plan(view, &loaded.plan)?;
                    Ok(known(view, loaded.follow_up, (&loaded.state, &plan), now())?)
                })?;
                if *json {
                    paper::print_json(&known)?;
                } else {
                    paper::print(&table(&known).rendered(paper::colour()))?;
                }
                Ok(Exit::Done.into())
            }
            What::Set(set) => set.run(&self.client),
            What::Order(order) => order.run(&self.client),
        }
    }
}

impl SetArgs {
    fn run(&self, client: &str) -> Result<ExitCode, CommandError> {
        let (office, store) = self.said.config.open()?;
        let by = who::staff(&office.clinic, &self.said.by, Act::Report)?;
        let loaded = store.read_blocking(|view| who::loaded(view, client))?;
        let contact = ContactId::new(&self.contact)
            .map_err(|error| CommandError::BadInput(format!("`{}`: {error}", self.contact)))?;
        let hours = self.hours();
        let person = self.person(&office, &store, &loaded, &contact)?;
        let at = now();
        let follow_up = loaded.follow_up;
        let plan = store.read_blocking(|view| office.plan(view, &loaded.plan))?;
        store.write_blocking(move |tx| {
            let (by, contact) = (&by, &contact);
            if let Some(person) = &person {
                acts_by_hand::set_contact(&office, tx, follow_up, (by, contact, person), at)?;
            }
            if let Some(hours) = &hours {
                acts_by_hand::set_hours(&office, tx, follow_up, (by, contact, hours), at)?;
            }
            Ok::<_, ServiceError>(())
        })?;
        let after = store.read_blocking(|view| view.load(follow_up))?;
        let known =
            store.read_blocking(|view| known(view, follow_up, (&after.state, &plan), at))?;
        if self.said.json {
            paper::print_json(&known)?;
        } else {
            paper::print(&table(&known).rendered(paper::colour()))?;
        }
        for gap in hours_left_open(&after.state, &plan) {
            paper::warn(&gap);
        }
        outcome::warn_if_away(&store, at)?;
        store.close();
        Ok(Exit::Done.into())
    }

    fn hours(&self) -> Option<AskedHours> {
        if self.any_hour { Some(AskedHours::ANY) } else { self.asked.clone() }
    }

    /// What is known of the contact, with what was said anew; none where their hours alone are.
    fn person(
        &self,
        office: &Office,
        store: &Store,
        loaded: &Loaded,
        contact: &ContactId,
    ) -> Result<Option<Person>, CommandError> {
        let on_file = store.read_blocking(|view| view.contact(loaded.follow_up, contact))?;
        if self.name.is_none() && self.mail.is_none() && self.language.is_none() {
            return match (self.hours(), on_file) {
                (Some(_), Some(_)) => Ok(None),
                (Some(_), None) => Err(incomplete(contact, &loaded.state)),
                (None, _) => Err(CommandError::BadInput(
                    "nothing to change\nhint: give --name, --mail, --language, --asked or \
                     --any-hour"
                        .to_owned(),
                )),
            };
        }
        if let Some(language) = &self.language
            && !office.languages.codes().any(|code| code == language.as_str())
        {
            let known: Vec<&str> = office.languages.codes().collect();
            paper::warn(&format!(
                "there is no wording in `{}`; the languages are {}",
                language.as_str(),
                known.join(", ")
            ));
        }
        let (name, mail, language) = match on_file {
            Some(person) => (Some(person.name), Some(person.mail), Some(person.language)),
            None => (None, None, None),
        };
        let said = |new: Option<&str>, old: Option<String>| new.map(str::to_owned).or(old);
        let name = said(self.name.as_ref().map(PersonName::as_str), name);
        let mail = said(self.mail.as_ref().map(MailAddress::as_str), mail);
        let language = said(self.language.as_ref().map(Language::as_str), language);
        match (name, mail, language) {
            (Some(name), Some(mail), Some(language)) => Ok(Some(Person { name, mail, language })),
            _ => Err(incomplete(contact, &loaded.state)),
        }
    }
}

impl OrderArgs {
    fn run(&self, client: &str) -> Result<ExitCode, CommandError> {
        let (office, store) = self.said.config.open()?;
        let by = who::staff(&office.clinic, &self.said.by, Act::Report)?;
        let loaded = store.read_blocking(|view| who::loaded(view, client))?;
        let mut contacts: Vec<ContactId> = Vec::new();
        for id in &self.contacts {
            let contact = on_file(&store, &loaded, id)?;
            if contacts.contains(&contact) {
                let what = format!("contact `{id}` is named twice; nothing was changed");
                return Err(CommandError::BadInput(what));
            }
            contacts.push(contact);
        }
        let left_out = loaded.state.terms.contacts.iter().filter(|c| !contacts.contains(c));
        let left_out: Vec<String> = left_out.map(ToString::to_string).collect();
        if !left_out.is_empty() {
            paper::warn(&format!("no longer asked: {}", left_out.join(", ")));
        }
        let what = format!("{by} changes who is asked");
        act_and_tell(office, &store, &loaded, &what, self.said.json, move |office, tx, id, now| {
            acts_by_hand::order_contacts(office, tx, id, (&by, contacts), now)
        })
    }
}

/// A contact who is asked now, or was before.
fn on_file(store: &Store, loaded: &Loaded, id: &str) -> Result<ContactId, CommandError> {
    if let Ok(contact) = ContactId::new(id)
        && store.read_blocking(|view| view.contact(loaded.follow_up, &contact))?.is_some()
    {
        return Ok(contact);
    }
    who::contact(&loaded.state, id)
}

fn incomplete(contact: &ContactId, state: &State) -> CommandError {
    CommandError::BadInput(format!(
        "contact `{contact}` is new; nothing was changed\nhint: a new contact needs \
         --name, --mail and --language; the contacts are {}",
        references(state)
    ))
}

fn references(state: &State) -> String {
    let contacts = state.terms.contacts.iter().map(ToString::to_string);
    contacts.collect::<Vec<_>>().join(", ")
}

/// The contacts of a client, in calling order, with whose turn it would be at an instant.
pub(super) fn known(
    view: &View<'_>,
    follow_up: FollowUpId,
    (state, plan): (&State, &Plan),
    at: Instant,
) -> Result<Vec<Known>, StoreError> {
    let mut known = Vec::new();
    let in_order = state.asked_in_order(at);
    for contact in &state.terms.contacts {
        let person = view.contact(follow_up, contact)?;
        let turn = in_order.iter().position(|reachable| *reachable == contact);
        let asked_after_minutes = turn.map(|turn| asked_after(plan, turn));
        known.push(Known {
            id: contact.to_string(),
            name: person.as_ref().map(|person| person.name.clone()),
            mail: person.as_ref().map(|person| person.mail.clone()),
            language: person.map(|person| person.language),
            reachable: turn.is_some(),
            asked: state.hours_of(contact).clone(),
            on_shift: state.is_on_shift(contact, at),
            asked_after_minutes,
        });
    }
    Ok(known)
}

/// When the contact whose turn comes after so many others is asked about a look, counted from its
/// first request (R14). Quiet hours may put it off.
fn asked_after(plan: &Plan, turn: usize) -> u32 {
    let requests = plan.looks.ask_again.saturating_add(1);
    let each = plan.looks.answer_within.count().saturating_mul(requests);
    each.saturating_mul(u32::try_from(turn).unwrap_or(u32::MAX))
}

/// The columns where no contact has hours.
const HEAD: [&str; 5] = ["contact", "name", "address", "language", "asked"];

/// The contacts as a table.
pub(super) fn table(known: &[Known]) -> Table {
    let have_hours = known.iter().any(|contact| !contact.asked.is_any());
    let head = ["contact", "name", "address", "language", "asked now", "hours"];
    let mut table = Table::new(if have_hours { &head } else { &HEAD });
    for contact in known {
        let (note, ink) = match contact.asked_after_minutes {
            None => ("CANNOT BE REACHED by mail".to_owned(), Ink::Strong),
            Some(0) => ("first".to_owned(), Ink::Plain),
            Some(minutes) => {
                (format!("{} later, without an answer", Minutes::new(minutes)), Ink::Plain)
            }
        };
        let mut row = vec![
            contact.id.as_str().into(),
            Cell::maybe(contact.name.clone()),
            Cell::maybe(contact.mail.clone()),
            Cell::maybe(contact.language.clone()),
            Cell::inked(note, ink),
        ];
        if have_hours {
            row.push(hours_in_words(&contact.asked).into());
        }
        table.row(row);
    }
    table
}
