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
use crate::care::{ContactId, Minutes, Plan};
use crate::config::{Language, MailAddress, PersonName};
use crate::follow_up::State;
use crate::service::Office;
use crate::service::acts_by_hand;
use crate::store::{FollowUpId, Loaded, Person, Store, StoreError, View};

/// What `contact` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
        fadewatch contact A7 list\n  \
        fadewatch contact A7 set first --mail robin@new.example --by desk\n  \
        fadewatch contact A7 set third --name Lee --mail lee@home.example --language en --by desk\n  \
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
    /// Change a contact's name, address or language, or add a contact.
    #[command(after_help = "Example:\n  fadewatch contact A7 set first --mail robin@new.example \
        --by desk\n\nAnother address makes the contact reachable again.")]
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
                    Ok(known(view, loaded.follow_up, &loaded.state, &plan)?)
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
        let person = self.person(&office, &store, &loaded, &contact)?;
        let at = now();
        let follow_up = loaded.follow_up;
        let plan = store.read_blocking(|view| office.plan(view, &loaded.plan))?;
        store.write_blocking(move |tx| {
            let (by, contact, person) = (&by, &contact, &person);
            acts_by_hand::set_contact(&office, tx, follow_up, (by, contact, person), at)
        })?;
        let after = store.read_blocking(|view| view.load(follow_up))?;
        let known = store.read_blocking(|view| known(view, follow_up, &after.state, &plan))?;
        if self.said.json {
            paper::print_json(&known)?;
        } else {
            paper::print(&table(&known).rendered(paper::colour()))?;
        }
        outcome::warn_if_away(&store, at)?;
        store.close();
        Ok(Exit::Done.into())
    }

    /// What is known of the contact, with what was said anew.
    fn person(
        &self,
        office: &Office,
        store: &Store,
        loaded: &Loaded,
        contact: &ContactId,
    ) -> Result<Person, CommandError> {
        if self.name.is_none() && self.mail.is_none() && self.language.is_none() {
            return Err(CommandError::BadInput(
                "nothing to change\nhint: give --name, --mail or --language".to_owned(),
            ));
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
        let on_file = store.read_blocking(|view| view.contact(loaded.follow_up, contact))?;
        let (name, mail, language) = match on_file {
            Some(person) => (Some(person.name), Some(person.mail), Some(person.language)),
            None => (None, None, None),
        };
        let said = |new: Option<&str>, old: Option<String>| new.map(str::to_owned).or(old);
        let name = said(self.name.as_ref().map(PersonName::as_str), name);
        let mail = said(self.mail.as_ref().map(MailAddress::as_str), mail);
        let language = said(self.language.as_ref().map(Language::as_str), language);
        match (name, mail, language) {
            (Some(name), Some(mail), Some(language)) => Ok(Person { name, mail, language }),
            _ => Err(CommandError::BadInput(format!(
                "contact `{contact}` is new; nothing was changed\nhint: a new contact needs \
                 --name, --mail and --language; the contacts are {}",
                references(&loaded.state)
            ))),
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

fn references(state: &State) -> String {
    let contacts = state.terms.contacts.iter().map(ToString::to_string);
    contacts.collect::<Vec<_>>().join(", ")
}

/// The contacts of a client, in calling order.
pub(super) fn known(
    view: &View<'_>,
    follow_up: FollowUpId,
    state: &State,
    plan: &Plan,
) -> Result<Vec<Known>, StoreError> {
    let mut known = Vec::new();
    for contact in &state.terms.contacts {
        let person = view.contact(follow_up, contact)?;
        let turn = state.reachable().position(|reachable| reachable == contact);
        let asked_after_minutes = turn.map(|turn| asked_after(plan, turn));
        known.push(Known {
            id: contact.to_string(),
            name: person.as_ref().map(|person| person.name.clone()),
            mail: person.as_ref().map(|person| person.mail.clone()),
            language: person.map(|person| person.language),
            reachable: turn.is_some(),
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

/// The contacts as a table.
pub(super) fn table(known: &[Known]) -> Table {
    let mut table = Table::new(&["contact", "name", "address", "language", "asked"]);
    for contact in known {
        let (note, ink) = match contact.asked_after_minutes {
            None => ("CANNOT BE REACHED by mail".to_owned(), Ink::Strong),
            Some(0) => ("first".to_owned(), Ink::Plain),
            Some(minutes) => {
                (format!("{} later, without an answer", Minutes::new(minutes)), Ink::Plain)
            }
        };
        table.row(vec![
            contact.id.as_str().into(),
            Cell::maybe(contact.name.clone()),
            Cell::maybe(contact.mail.clone()),
            Cell::maybe(contact.language.clone()),
            Cell::inked(note, ink),
        ]);
    }
    table
}
