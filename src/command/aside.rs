//! `fadewatch aside`: mail that was set aside for a person to look at, with its words.
//!
//! Never here: filing it.
//! Promises: newest first; words are cut, never changed.

use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::moments::{moment, stamp};
use super::paper;
use super::setting::{CommandError, ConfigOption};
use crate::follow_up::Calendar;
use crate::reply::letter;
use crate::store::{InboxRecord, View};

/// What `aside` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch aside --limit 5\n\nIf a mail is about a client, call \
    the contact and record the finding:\n  fadewatch report A7 --by first --reading marked \
    --taken-by desk"
)]
pub(super) struct AsideArgs {
    /// At most so many, the newest.
    #[arg(long, value_name = "N", default_value_t = 20)]
    limit: u32,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

/// Words shown in a list; the mail itself has them all.
const WORDS_CHARS_MAX: usize = 400;

#[derive(Serialize)]
struct SetAside {
    inbox: i64,
    came_at: String,
    why: String,
    from: Option<String>,
    client: Option<String>,
    words: Option<String>,
    #[serde(skip)]
    shown_at: String,
}

impl AsideArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open_to_read()?;
        let mails = store.read_blocking(|view| {
            let records = view.received_set_aside(self.limit)?;
            let one = |record| set_aside(view, &office.calendar, record);
            records.into_iter().map(one).collect::<Result<Vec<_>, CommandError>>()
        })?;
        if self.json {
            paper::print_json(&mails)?;
        } else if mails.is_empty() {
            paper::print("No mail was set aside.\n")?;
        } else {
            paper::print(&mails.iter().map(shown).collect::<String>())?;
        }
        Ok(Exit::Done.into())
    }
}

fn set_aside(
    view: &View<'_>,
    zone: &Calendar,
    record: InboxRecord,
) -> Result<SetAside, CommandError> {
    let letter = view.raw_received(record.id)?.map(|raw| letter::open(&raw));
    let client = match record.follow_up {
        Some(follow_up) => Some(view.load(follow_up)?.client.to_string()),
        None => None,
    };
    let words = letter.as_ref().map(|letter| letter.words.trim());
    let words = words.filter(|words| !words.is_empty());
    Ok(SetAside {
        inbox: record.id.number(),
        came_at: stamp(zone, record.received_at),
        shown_at: moment(zone, record.received_at),
        why: record.note,
        client,
        words: words.map(|words| words.chars().take(WORDS_CHARS_MAX).collect()),
        from: letter.and_then(|letter| letter.from),
    })
}

/// A mail in a few lines, its words as a quotation. What could steer a terminal is taken out.
fn shown(mail: &SetAside) -> String {
    let plain = |text: &str| text.replace(|c: char| c.is_control(), " ");
    let of = mail.client.as_ref().map(|client| format!(", about {client}")).unwrap_or_default();
    let from = mail.from.as_deref().map_or_else(|| "no sender".to_owned(), plain);
    let mut text =
        format!("{}  {}  from {from}{of}: {}\n", mail.inbox, mail.shown_at, plain(&mail.why));
    for line in mail.words.iter().flat_map(|words| words.lines()) {
        text.push_str(&format!("    > {}\n", plain(line)));
    }
    text
}
