//! Mail as it comes in, worked through without a mail server.

use fadewatch::follow_up::Instant;
use fadewatch::reply::letter;
use fadewatch::service::answers;
use fadewatch::store::{Place, StoreError};
use mail_parser::MessageParser;

use crate::world::World;

/// A mail from somebody.
pub fn mail(from: &str, to: &str, id: &str, words: &str) -> Vec<u8> {
    format!(
        "From: Somebody <{from}>\r\nTo: <{to}>\r\nSubject: Re: skin\r\nMessage-ID: <{id}@x.example>\r\n\
         \r\n{words}\r\n"
    )
    .into_bytes()
}

/// Takes a mail in and works it through.
pub fn take(world: &World, raw: &[u8], now: Instant) {
    let raw = raw.to_vec();
    world.write(move |office, tx| {
        tx.put_received(Place::by_bytes(&raw), &raw, now)?;
        while let Some(taken) = tx.take_received()? {
            let letter = letter::open(&taken.raw);
            answers::work_through(office, tx, &taken, &letter, now)?;
        }
        Ok(())
    });
}

/// Where an answer to the newest mail to an address goes.
pub fn reply_to(world: &World, address: &str) -> String {
    let found = world
        .store
        .read_blocking(|view| {
            for record in view.newest_mails(1000)? {
                let Some(raw) = view.raw_mail(record.id)? else { continue };
                let message = MessageParser::default().parse(&raw).unwrap();
                let to = message.to().and_then(|to| to.first()).and_then(|to| to.address());
                if to == Some(address) {
                    let reply_to = message.reply_to().and_then(|to| to.first()).unwrap();
                    return Ok::<_, StoreError>(reply_to.address().map(str::to_owned));
                }
            }
            Ok(None)
        })
        .unwrap();
    found.unwrap_or_else(|| panic!("nothing went to {address}"))
}

/// How many mails are kept in the outbox.
pub fn mails_out(world: &World) -> usize {
    world.store.read_blocking(|view| view.newest_mails(10_000)).unwrap().len()
}
