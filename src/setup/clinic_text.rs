//! The clinic file of a new clinic: the shipped one, with its comments, holding the clinic's own
//! answers.
//!
//! Never here: writing it to disk.
//! Promises: every comment of the shipped file stands in it, so that there is one set of
//! explanations; no password stands in it.

use toml_edit::{Array, DocumentMut, Item, Table, Value};

use super::answers::{Answers, Member, ServerAnswer};
use super::folder::PASSWORD_FILE;
use crate::config::Security;

const SHIPPED: &str = include_str!("../../config/clinic.toml");

/// What stands on top.
const HEAD: &str = "\
# The clinic file: who the clinic is, who gets alerts, where data and mail go.
# Written by `fadewatch setup`; change it as you like. Try the mail account with
#   fadewatch setup --try
# and start the service with
#   fadewatch serve
# Paths count from the folder of this file. Unknown keys are refused, so a slip is never silent.
";

/// The text of the clinic file.
pub fn clinic_text(answers: &Answers) -> String {
    let below_head = SHIPPED
        .split_once("\n\n")
        .map(|(_, below)| below)
        .expect("OK because a test reads the shipped file");
    let mut file: DocumentMut =
        below_head.parse().expect("OK because a test reads the shipped clinic file");
    let root = file.as_table_mut();
    set(root, "name", answers.name.as_str());
    set(root, "time_zone", answers.zone.as_str());
    set(root, "phone", answers.phone.as_str());
    set(root, "out_of_hours", answers.out_of_hours.as_str());
    set(root, "cover", answers.clinicians.iter().map(|who| who.id.as_str()).collect::<Array>());
    set_clinicians(root, &answers.clinicians);
    let mail = inner(root, "mail");
    set(mail, "from", answers.account.as_str());
    set(mail, "reply_to", answers.account.as_str());
    set_server(inner(mail, "out"), &answers.out, answers, Security::Starttls);
    set_server(inner(mail, "in"), &answers.incoming, answers, Security::Tls);
    format!("{HEAD}\n{file}")
}

/// Sets a value; the comment beside it stays.
fn set(table: &mut Table, key: &str, value: impl Into<Value>) {
    let mut value = value.into();
    match table.get_mut(key) {
        Some(item) => {
            if let Some(before) = item.as_value() {
                *value.decor_mut() = before.decor().clone();
            }
            *item = Item::Value(value);
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}

/// One table a clinician; the first keeps the comments of the shipped one.
fn set_clinicians(root: &mut Table, clinicians: &[Member]) {
    let list = root["clinician"]
        .as_array_of_tables_mut()
        .expect("OK because the shipped file lists clinicians");
    let plain = list.get(1).expect("OK because the shipped file lists three").clone();
    while list.len() > clinicians.len() {
        list.remove(list.len() - 1);
    }
    while list.len() < clinicians.len() {
        list.push(plain.clone());
    }
    for (table, clinician) in list.iter_mut().zip(clinicians) {
        set(table, "id", clinician.id.as_str());
        set(table, "name", clinician.name.as_str());
        set(table, "mail", clinician.mail.as_str());
        set(table, "role", "clinician");
        set(table, "language", clinician.language.as_str());
    }
}

fn set_server(table: &mut Table, server: &ServerAnswer, answers: &Answers, usual: Security) {
    set(table, "host", server.host.as_str());
    match server.port {
        Some(port) => set(table, "port", i64::from(port)),
        None => {
            table.remove("port");
        }
    }
    let security = match server.security_or(usual) {
        Security::Starttls => "starttls",
        Security::Tls => "tls",
        Security::PlainLoopback => "plain-loopback",
    };
    set(table, "security", security);
    if let Some(ca_file) = &answers.ca_file {
        set(table, "ca_file", ca_file.display().to_string());
    }
    set(table, "user", answers.user.as_str());
    set(table, "password_file", PASSWORD_FILE);
}

fn inner<'t>(table: &'t mut Table, key: &str) -> &'t mut Table {
    table[key].as_table_mut().expect("OK because a test reads the shipped clinic file")
}
