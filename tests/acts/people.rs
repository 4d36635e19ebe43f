//! What mails people find.

use crate::desk::Mail;

/// The one mail to somebody with these words in its subject.
#[track_caller]
pub fn only<'m>(mails: &'m [Mail], to: &str, subject: &str) -> &'m Mail {
    let found: Vec<&Mail> = mails_to(mails, to).filter(|m| m.subject.contains(subject)).collect();
    let [mail] = found[..] else {
        let all: Vec<_> = mails.iter().map(|mail| (&mail.to, &mail.subject)).collect();
        panic!("no single mail to {to} with “{subject}”: {all:?}")
    };
    mail
}

/// All mails to somebody.
pub fn mails_to<'m>(mails: &'m [Mail], to: &str) -> impl Iterator<Item = &'m Mail> {
    mails.iter().filter(move |mail| mail.to == to)
}
