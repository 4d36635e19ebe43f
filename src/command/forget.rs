//! `fadewatch forget`: erases the personal data of a closed follow-up.
//!
//! Never here: what is erased (the store knows).
//! Promises: asks for the client's reference twice, since it cannot be undone; the journal stays and
//! verifies; says what it cannot reach.

use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::who;
use crate::store::{Forgotten, ListedStanding, Store, StoreError};

/// What `forget` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch forget A7 --by seating --really A7\n\nNames, \
    addresses, fittings and mails are erased for good, also from the free space of\nthe file. The \
    record stays, with its references, and can still be verified. Backups\nand mailboxes are not \
    reached: old backups go as newer ones are made.")]
pub(super) struct ForgetArgs {
    /// The client's reference.
    client: String,
    /// Who erases: a clinician's id.
    #[arg(long, value_name = "CLINICIAN")]
    by: String,
    /// The client's reference again, since this cannot be undone.
    #[arg(long, value_name = "CLIENT")]
    really: String,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct ForgottenJson {
    client: String,
    people: usize,
    fittings: usize,
    mails: usize,
    tokens: usize,
}

impl ForgetArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        if self.client != self.really {
            return Err(CommandError::BadInput(format!(
                "`{}` and `--really {}` are not the same; nothing was erased\nhint: write the \
                 reference of the client twice",
                self.client, self.really
            )));
        }
        let (office, store) = self.config.open()?;
        let by = who::staff(&office.clinic, &self.by, who::Act::Decide)?;
        let follow_up = store.read_blocking(|view| who::client(view, &self.client))?;
        let is_closed = store.read_blocking(|view| {
            let all = who::all(view)?;
            Ok::<_, StoreError>(all.iter().any(|listed| {
                listed.follow_up == follow_up && listed.standing == ListedStanding::Closed
            }))
        })?;
        if !is_closed {
            return Err(CommandError::Refused(format!(
                "the follow-up of `{}` still runs, and needs its addresses; nothing was erased\n\
                 hint: a clinician closes it first: `fadewatch decide {} --by … close`",
                self.client, self.client
            )));
        }
        let (now, by) = (now(), by.to_string());
        let forgotten: Result<_, StoreError> =
            store.write_blocking(move |tx| tx.forget(follow_up, &by, now));
        let forgotten = forgotten?;
        Store::scrub(&store)?;
        self.told(forgotten)?;
        Ok(Exit::Done.into())
    }

    fn told(&self, forgotten: Forgotten) -> Result<(), CommandError> {
        let Forgotten { people, fittings, mails, tokens } = forgotten;
        if self.json {
            let client = self.client.clone();
            return paper::print_json(&ForgottenJson { client, people, fittings, mails, tokens });
        }
        paper::print(&format!(
            "{}: erased {people} names, {fittings} fittings, {mails} mails, {tokens} tokens.\nThe \
             record stays, with references only. Backups made before, and the mailboxes of the \
             clinic\nand of the people, still hold what they hold.\n",
            self.client
        ))
    }
}
