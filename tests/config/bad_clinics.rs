//! One clinic file for each kind of mistake, and the whole message.

use fadewatch::config::{MailOut, SecretSource, Security, parse_clinic};

use crate::{CLINIC, changed, clinic, said};

/// Changes the right clinic file in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal, @$snapshot:literal) => {
        insta::assert_snapshot!(
            said(parse_clinic("clinic.toml", &changed(CLINIC, $part, $to))),
            @$snapshot
        )
    };
}

#[test]
fn a_right_clinic_file_is_taken_without_a_word() {
    assert!(parse_clinic("clinic.toml", CLINIC).unwrap().warnings.is_empty());
    assert!(clinic().mail.reply_to.is_same(&clinic().mail.from));
}

#[test]
fn a_password_may_come_from_a_program() {
    let text = changed(
        CLINIC,
        "password_file = \"mail-password\"",
        "password_command = [\"/bin/secret\", \"mail\"]",
    );
    let MailOut::Smtp(server) = parse_clinic("clinic.toml", &text).unwrap().value.mail.out else {
        panic!("a server")
    };
    let command = vec!["/bin/secret".to_owned(), "mail".to_owned()];
    assert_eq!(server.login.unwrap().secret, SecretSource::Command(command));
}

#[test]
fn a_plain_connection_reaches_this_machine_only() {
    for host in ["localhost", "127.0.0.1", "::1"] {
        let text = changed(CLINIC, "\"starttls\"", "\"plain-loopback\"");
        let text = changed(&text, "\"mail.clinic.example\"", &format!("\"{host}\""));
        let MailOut::Smtp(server) = parse_clinic("clinic.toml", &text).unwrap().value.mail.out
        else {
            panic!("a server")
        };
        assert_eq!((server.security, server.port), (Security::PlainLoopback, 25));
    }
    told!("\"starttls\"" => "\"plain-loopback\"", @r#"
    refused

    error: a plain connection to another machine
      --> clinic.toml:40:12
       |
    39 | host = "mail.clinic.example"
       |        --------------------- not this machine
    40 | security = "plain-loopback"
       |            ^^^^^^^^^^^^^^^^ only to this machine itself
       |
       = note: what is known of a client's skin would cross the network for all to read
       = help: write "starttls" or "tls", whichever the server offers

    1 error
    "#);
}

#[test]
fn mail_goes_and_comes_one_way() {
    told!("maildir = \"mail/in\"" => "", @r#"
    refused

    error: neither a mail server nor a maildir
      --> clinic.toml:44:1
       |
    44 | [mail.in]
       | ^^^^^^^^^ `host` or `maildir` is needed
       |
       = help: name the server of the clinic's mail account:
               host = "mail.clinic.example"
               security = "starttls"

    1 error
    "#);
    told!("maildir = \"mail/in\"" => "maildir = \"mail/in\"\nhost = \"x.example\"\nsecurity = \"tls\"", @r#"
    refused

    error: a mail server or a maildir, not both
      --> clinic.toml:45:1
       |
    45 | maildir = "mail/in"
       | ^^^^^^^ a maildir
    46 | host = "x.example"
       | ---- a mail server
       |
       = help: take one of the two out

    1 error
    "#);
    told!("maildir = \"mail/in\"" => "maildir = \"mail/in\"\nuser = \"x\"", @r#"
    taken

    warning: `user` means nothing to a maildir
      --> clinic.toml:46:1
       |
    46 | user = "x"
       | ^^^^ not used

    1 warning
    "#);
}

#[test]
fn a_login_has_a_user_and_one_place_for_its_password() {
    told!("password_file = \"mail-password\"\n" => "", @r#"
    refused

    error: a `user` without a password
      --> clinic.toml:41:1
       |
    41 | user = "checks"
       | ^^^^ where is the password?
       |
       = help: name a file that holds it: `password_file = "mail-password"`

    1 error
    "#);
    told!("user = \"checks\"\n" => "", @r#"
    refused

    error: a password without a `user`
      --> clinic.toml:41:1
       |
    41 | password_file = "mail-password"
       | ^^^^^^^^^^^^^ whose password?
       |
       = help: add `user = "…"`, or take the password out

    1 error
    "#);
}

#[test]
fn how_a_connection_is_protected_is_said() {
    told!("security = \"starttls\"\n" => "", @r#"
    refused

    error: the mail server lacks `security`
      --> clinic.toml:38:1
       |
    38 | [mail.out]
       | ^^^^^^^^^^ belongs in this table
       |
       = help: add `security = "starttls"` or `security = "tls"`

    1 error
    "#);
    told!("security = \"starttls\"" => "security = \"ssl\"", @r#"
    refused

    error: `mail.out.security` cannot be "ssl"
      --> clinic.toml:40:12
       |
    40 | security = "ssl"
       |            ^^^^^ not one of `starttls`, `tls` or `plain-loopback`
       |
       = note: how the connection is protected
       = help: it can be `starttls`, `tls` or `plain-loopback`

    1 error
    "#);
}

#[test]
fn two_places_for_one_password_are_one_too_many() {
    told!("password_file =" => "password_command = []\npassword_file =", @r#"
    refused

    error: two places for one password
      --> clinic.toml:42:1
       |
    42 | password_command = []
       | ^^^^^^^^^^^^^^^^ one
    43 | password_file = "mail-password"
       | ------------- the other
       |
       = help: take one of the two out

    1 error
    "#);
}

#[test]
fn the_address_for_replies_has_room_for_a_token() {
    told!("give_up_after" => "reply_to = \"checks+x@clinic.example\"\ngive_up_after", @r#"
    refused

    error: the address for replies must have no `+`
      --> clinic.toml:36:12
       |
    36 | reply_to = "checks+x@clinic.example"
       |            ^^^^^^^^^^^^^^^^^^^^^^^^^ a `+` before the `@`
       |
       = note: each request adds a token of its own there, after a `+`, to know its answer by
       = help: write the address without the part from `+` to `@`

    1 error
    "#);
}

#[test]
fn bands_cover_every_score_once() {
    told!("low = [1, 9]" => "low = [1, 8]", @r#"
    refused

    error: a score of 9 on the waterlow scale has no level
      --> clinic.toml:32:8
       |
    32 | high = [10, 64]
       |        ^^^^^^^^ begins at 10
       |
       = note: every possible score must lead to exactly one level
       = help: let each band begin where the one before it ends, plus one

    1 error
    "#);
    told!("low = [1, 9]" => "low = [1, 10]", @r#"
    refused

    error: a score of 10 on the waterlow scale has two levels
      --> clinic.toml:32:8
       |
    32 | high = [10, 64]
       |        ^^^^^^^^ 10 belongs to another band already
       |
       = note: every possible score must lead to exactly one level
       = help: let each band begin where the one before it ends, plus one

    1 error
    "#);
    told!("high = [10, 64]" => "high = [10, 63]", @r#"
    refused

    error: a score of 64 on the waterlow scale has no level
      --> clinic.toml:30:14
       |
    30 | [risk_scores.waterlow]
       |              ^^^^^^^^ the bands end at 63, the scale at 64
       |
       = note: every possible score must lead to exactly one level

    1 error
    "#);
    told!("high = [10, 64]" => "high = [10, 65]", @r#"
    refused

    error: the waterlow scale goes from 1 to 64
      --> clinic.toml:32:8
       |
    32 | high = [10, 65]
       |        ^^^^^^^^ a score that cannot be
       |
       = note: every possible score must lead to exactly one level
       = help: let each band begin where the one before it ends, plus one

    1 error
    "#);
}

#[test]
fn a_band_is_two_numbers_on_a_known_scale() {
    told!("low = [1, 9]" => "low = [9, 1]", @r#"
    refused

    error: a band has a lowest and a highest score
      --> clinic.toml:31:7
       |
    31 | low = [9, 1]
       |       ^^^^^^ two numbers are needed, the smaller first
       |
       = help: write it like `low = [1, 64]`

    1 error
    "#);
    told!("low = [1, 9]" => "low = 9", @r#"
    refused

    error: `risk_scores.waterlow` must be a table of levels with lowest and highest score
      --> clinic.toml:31:7
       |
    31 | low = 9
       |       ^ this is a number
       |
       = note: the bands of Waterlow
       = help: write it like `waterlow = { low = [1, 64] }`

    1 error
    "#);
    told!("waterlow" => "waterloo", @r#"
    refused

    error: unknown key `risk_scores.waterloo`
      --> clinic.toml:30:14
       |
    30 | [risk_scores.waterloo]
       |              ^^^^^^^^ not a key of [risk_scores]
       |
       = note: a key that nobody reads would be a setting that silently does nothing
       = help: did you mean `waterlow`?

    1 error
    "#);
}

#[test]
fn staff_can_be_told_apart() {
    told!("id = \"duty\"" => "id = \"seating\"", @r#"
    refused

    error: no clinician has the id "duty"
     --> clinic.toml:7:21
      |
    7 | cover = ["seating", "duty"]
      |                     ^^^^^^ nobody by this id
      |
      = note: alerts go to the people on cover, in this order (R21)
      = help: the clinic has `seating` and `desk`

    error: two clinicians have the same id
      --> clinic.toml:17:6
       |
    10 | id = "seating"
       |      --------- the first time
    ...
    17 | id = "seating"
       |      ^^^^^^^^^ the second time
       |
       = note: an id stands for one person

    2 errors
    "#);
    told!("duty@clinic.example" => "seating@clinic.example", @r#"
    refused

    error: two clinicians have the same mail address
      --> clinic.toml:19:8
       |
    12 | mail = "seating@clinic.example"
       |        ------------------------ the first time
    ...
    19 | mail = "seating@clinic.example"
       |        ^^^^^^^^^^^^^^^^^^^^^^^^ the second time
       |
       = note: a reply from it could not be told from the other's

    1 error
    "#);
}

#[test]
fn somebody_who_may_decide_is_on_cover() {
    told!("[\"seating\", \"duty\"]" => "[\"seating\", \"desk\"]", @r#"
    refused

    error: `desk` may not decide
     --> clinic.toml:7:21
      |
    7 | cover = ["seating", "desk"]
      |                     ^^^^^^ not a clinician by role
      |
      = note: an alert needs somebody who may end a stop (R23)
      = help: choose somebody whose `role` is "clinician"

    1 error
    "#);
    told!("role = \"assistant\"" => "role = \"nurse\"", @r#"
    refused

    error: `clinician.role` cannot be "nurse"
      --> clinic.toml:27:8
       |
    27 | role = "nurse"
       |        ^^^^^^^ not one of `clinician`, `assistant` or `observer`
       |
       = note: what they may do: a clinician decides, an assistant reports, an observer reads
       = help: it can be `clinician`, `assistant` or `observer`

    1 error
    "#);
}

#[test]
fn what_a_fit_is_held_to_is_the_clinics_own_or_common_practice() {
    let common = clinic().fit;
    assert_eq!(common.clearance_least.in_mm(), "12.7");
    assert_eq!(common.clearance_most.in_mm(), "19.05");
    let text = format!("{CLINIC}\n[fit]\nclearance_most = \"20mm\"\nbuild_up_pairs_most = 1\n");
    let own = parse_clinic("clinic.toml", &text).unwrap().value.fit;
    assert_eq!((own.clearance_most.in_mm().as_str(), own.build_up_pairs_most), ("20", 1));
    assert_eq!(own.clearance_least, common.clearance_least);
}

#[test]
fn values_that_no_fit_could_meet_are_refused() {
    let text = format!("{CLINIC}\n[fit]\nclearance_least = \"20mm\"\nclearance_moost = \"1in\"\n");
    insta::assert_snapshot!(said(parse_clinic("clinic.toml", &text)), @r#"
    refused

    error: the least clearance is above the most
      --> clinic.toml:48:19
       |
    48 | clearance_least = "20mm"
       |                   ^^^^^^ least 20mm, most 3/4in
       |
       = note: no fit could ever be ready
       = help: write the smaller one as `clearance_least`

    error: unknown key `fit.clearance_moost`
      --> clinic.toml:49:1
       |
    49 | clearance_moost = "1in"
       | ^^^^^^^^^^^^^^^ not a key of [fit]
       |
       = note: a key that nobody reads would be a setting that silently does nothing
       = help: did you mean `clearance_most`?

    2 errors
    "#);
}

#[test]
fn the_place_of_the_data_is_a_server_or_a_file_with_a_key_and_half_a_setting_is_refused() {
    told!("[mail.out]" => "[store]\npostgres = \"host=db.clinic.example\"\nkey_file = \"data-key\"\n\n[mail.out]", @r#"
    refused

    error: a key for a database on a server
      --> clinic.toml:40:1
       |
    39 | postgres = "host=db.clinic.example"
       | -------- the data is kept here
    40 | key_file = "data-key"
       | ^^^^^^^^ encrypts a file of ours
       |
       = note: a server keeps its own files, so this key would encrypt nothing
       = help: take the key out, and have the server's disk encrypted by its administrator

    1 error
    "#);
    told!("[mail.out]" => "[store]\npassword_file = \"database-password\"\n\n[mail.out]", @r#"
    refused

    error: `password_file` without a server
      --> clinic.toml:39:1
       |
    39 | password_file = "database-password"
       | ^^^^^^^^^^^^^ where is the data to be kept?
       |
       = help: for data on a server name it: `postgres = "host=… dbname=… user=…"`;
               for an encrypted file name its key: `key_file = "data-key"`;
               for a plain file take `[store]` out

    1 error
    "#);
    told!("[mail.out]" => "[store]\nkey_credential = \"../shadow\"\nkey_file = \"data-key\"\npostgres = \"host=db.clinic.example\"\n\n[mail.out]", @r#"
    refused

    error: two places for one key
      --> clinic.toml:39:1
       |
    39 | key_credential = "../shadow"
       | ^^^^^^^^^^^^^^ one
    40 | key_file = "data-key"
       | -------- the other
       |
       = help: take one of the two out

    error: a key for a database on a server
      --> clinic.toml:40:1
       |
    40 | key_file = "data-key"
       | ^^^^^^^^ encrypts a file of ours
    41 | postgres = "host=db.clinic.example"
       | -------- the data is kept here
       |
       = note: a server keeps its own files, so this key would encrypt nothing
       = help: take the key out, and have the server's disk encrypted by its administrator

    2 errors
    "#);
}

#[cfg(not(feature = "encryption"))]
#[test]
fn a_key_for_a_program_that_cannot_encrypt_is_refused_with_what_to_do() {
    told!("[mail.out]" => "[store]\nkey_file = \"data-key\"\n\n[mail.out]", @r#"
    refused

    error: this program cannot encrypt
      --> clinic.toml:39:1
       |
    39 | key_file = "data-key"
       | ^^^^^^^^ it was built without encryption
       |
       = note: the data would be kept in the clear although a key is named
       = help: install the Debian package, or build it with
               `cargo build --release --features encryption`

    1 error
    "#);
}
