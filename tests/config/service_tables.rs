//! The tables about the service itself: `[watch]`, `[backup]`, `[keep]`, and where secrets are.

use fadewatch::config::{Clinic, MailOut, Retention, SecretSource, parse_clinic};

/// The right clinic file with something added at its end, or put in place of its password.
fn clinic(added: &str, secret: &str) -> Result<Clinic, String> {
    let right = include_str!("right/clinic.toml");
    let text = right.replace("password_file = \"mail-password\"", secret) + added;
    match parse_clinic("/etc/clinic/clinic.toml", &text) {
        Ok(checked) => Ok(checked.value),
        Err(problems) => Err(problems.to_string()),
    }
}

const FILE: &str = "password_file = \"mail-password\"";

fn refused(added: &str, secret: &str) -> String {
    clinic(added, secret).expect_err("it was taken")
}

#[test]
fn without_a_word_on_it_there_is_a_daily_message_and_nothing_is_erased_or_copied() {
    let clinic = clinic("", FILE).unwrap();
    assert_eq!(clinic.watch.daily_at.unwrap().to_string(), "08:00:00");
    assert_eq!((clinic.watch.second, clinic.watch.out, clinic.watch.command), (None, None, None));
    assert_eq!(clinic.backups, None);
    assert_eq!(clinic.retention, Retention::default());
}

#[test]
fn what_stands_in_the_tables_is_what_holds() {
    let clinic = clinic(
        "\n[watch]\ndaily_at = \"07:15\"\nsecond = \"t@clinic.example\"\ncommand = [\"page\", \"x\"]\n\
         [watch.out]\nmaildir = \"second\"\n[backup]\nfolder = \"copies\"\ncopies = 3\n\
         [keep]\nmail_days = 90\npeople_days = 365\n",
        FILE,
    )
    .unwrap();
    assert_eq!(clinic.watch.daily_at.unwrap().to_string(), "07:15:00");
    assert_eq!(clinic.watch.second.unwrap().as_str(), "t@clinic.example");
    assert_eq!(clinic.watch.out, Some(MailOut::Maildir("/etc/clinic/second".into())));
    assert_eq!(clinic.watch.command.unwrap(), ["page", "x"]);
    let backups = clinic.backups.unwrap();
    assert_eq!((backups.folder, backups.copies), ("/etc/clinic/copies".into(), 3));
    let kept = Retention { mail_days: Some(90), people_days: Some(365) };
    assert_eq!(clinic.retention, kept);
}

#[test]
fn the_daily_message_can_be_left_out_and_only_in_so_many_words() {
    assert_eq!(clinic("\n[watch]\ndaily_message = false\n", FILE).unwrap().watch.daily_at, None);
}

#[test]
fn each_place_for_a_secret_is_read_as_such() {
    let secret = |text: &str| {
        let MailOut::Smtp(server) = clinic("", text).unwrap().mail.out else { panic!("a server") };
        server.login.unwrap().secret
    };
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
    assert_eq!(secret("password_credential = \"mail\""), SecretSource::Credential("mail".into()));
    assert_eq!(
        secret("token_command = [\"token\", \"mail\"]"),
        SecretSource::TokenCommand(words(&["token", "mail"]))
    );
    assert_eq!(secret("password_command = [\"pw\"]"), SecretSource::Command(words(&["pw"])));
}

#[test]
fn settings_of_these_tables_that_cannot_work_are_refused() {
    let told = refused("\n[watch.out]\nmaildir = \"second\"\n", FILE);
    assert!(told.contains("without a `second` address"), "{told}");
    for name in ["../shadow", "a/b", ".hidden"] {
        let told = refused("", &format!("password_credential = \"{name}\""));
        assert!(told.contains("must be a plain name"), "{told}");
    }
    let both = format!("{FILE}\ntoken_command = [\"token\"]");
    assert!(refused("", &both).contains("two places for one password"));
    assert!(refused("\n[keep]\nmail_days = 1\n", FILE).contains("mail_days"));
    assert!(refused("\n[backup]\ncopies = 3\n", FILE).contains("folder"));
    assert!(refused("\n[watch]\nseconds = \"a@b.example\"\n", FILE).contains("second"));
}

#[test]
fn the_key_of_the_data_is_taken_by_a_program_that_can_encrypt_and_by_no_other() {
    let command = SecretSource::Command(vec!["secret".to_owned()]);
    for (setting, source) in [
        ("key_file = \"data-key\"", SecretSource::File("/etc/clinic/data-key".into())),
        ("key_command = [\"secret\"]", command),
        ("key_credential = \"data-key\"", SecretSource::Credential("data-key".into())),
    ] {
        let taken = clinic(&format!("\n[store]\n{setting}\n"), FILE);
        if cfg!(feature = "encryption") {
            assert_eq!(taken.unwrap().data_key, Some(source));
        } else {
            let told = taken.expect_err("it would be kept in the clear");
            assert!(told.contains("this program cannot encrypt"), "{told}");
            assert!(told.contains("cargo build --release --features encryption"), "{told}");
        }
    }
}
