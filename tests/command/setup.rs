//! Setting a clinic up from a pipe, and trying its mail account against real mail servers.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use assert_cmd::Command;
use fadewatch::config::{self, MailIn, MailOut, Security};
use fadewatch::post::{Address, Outcome, Outlet, SmtpOutlet, SmtpSettings};
use serde_json::Value;
use tempfile::TempDir;

use crate::peers::{Peers, shared};
use crate::world::Ran;

fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"));
    command.current_dir(folder).env_remove("FADEWATCH_CONFIG").args(args);
    command
}

fn set_up(folder: &Path, answers: &str) -> Ran {
    let mut command = command(folder, &["setup"]);
    Ran::of(&command.write_stdin(answers).output().unwrap())
}

/// The answers of a clinic, in the order of the questions.
fn answers(out: &str, incoming: &str, ca_file: &str, user: &str, password: &str) -> String {
    [
        "Riverside Seating Clinic",
        "Europe/London",
        "01632 960 123",
        "",
        user,
        out,
        incoming,
        ca_file,
        "",
        password,
        "A. Example",
        "seating",
        "alice@clinic.test",
        "",
        "B. Example",
        "duty",
        "bob@clinic.test",
        "es",
        "",
    ]
    .map(|answer| format!("{answer}\n"))
    .concat()
}

#[test]
fn a_few_answers_become_a_clinic_that_can_be_read() {
    let folder = tempfile::tempdir().unwrap();
    let said =
        answers("mail.clinic.test:465", "mail.clinic.test:143", "", "checks@clinic.test", "s3cret");
    let ran = set_up(folder.path(), &said);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(!(ran.out + &ran.err).contains("s3cret"), "the password was shown");

    let clinic = config::read_clinic(&folder.path().join("clinic.toml")).unwrap().value;
    assert_eq!(clinic.name, "Riverside Seating Clinic");
    assert_eq!(clinic.cover.iter().map(|id| id.as_str()).collect::<Vec<_>>(), ["seating", "duty"]);
    assert_eq!(clinic.clinicians[1].language.as_str(), "es");
    let MailOut::Smtp(out) = &clinic.mail.out else { panic!("no server") };
    assert_eq!((out.port, out.security), (465, Security::Tls));
    let MailIn::Imap { server, .. } = &clinic.mail.incoming else { panic!("no server") };
    assert_eq!((server.port, server.security), (143, Security::Starttls));

    let password = folder.path().join("mail-password");
    assert_eq!(fs::read_to_string(&password).unwrap(), "s3cret\n");
    assert_eq!(fs::metadata(&password).unwrap().permissions().mode() & 0o777, 0o600);
    assert_eq!(
        fs::metadata(folder.path().join("data")).unwrap().permissions().mode() & 0o777,
        0o700
    );
    assert!(!fs::read_to_string(folder.path().join("clinic.toml")).unwrap().contains("s3cret"));
}

#[test]
fn the_clinic_file_explains_itself_as_the_shipped_one_does() {
    let folder = tempfile::tempdir().unwrap();
    set_up(folder.path(), "");
    let shipped =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("config/clinic.toml"))
            .unwrap();
    let written = fs::read_to_string(folder.path().join("clinic.toml")).unwrap();
    let (_, below_head) = shipped.split_once("\n\n").unwrap();
    for line in below_head.lines().filter(|line| line.trim_start().starts_with('#')) {
        assert!(written.contains(line), "lost: {line}");
    }
}

#[test]
fn every_question_has_a_default_that_can_be_used() {
    let folder = tempfile::tempdir().unwrap();
    let ran = set_up(folder.path(), "");
    assert_eq!(ran.code, 0, "{}", ran.err);
    config::read_clinic(&folder.path().join("clinic.toml")).unwrap();
    assert!(ran.out.contains("real mail account"), "{}", ran.out);
}

#[test]
fn what_comes_next_after_setup_can_be_done_as_it_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let told = set_up(folder.path(), "").out;
    let begins = ["fadewatch setup --try", "read plans/", "fadewatch rehearse", "fadewatch serve"];
    let at = begins.map(|step| told.find(step).unwrap_or_else(|| panic!("{step}: {told}")));
    assert!(at.is_sorted(), "{told}");
    let run = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        Ran::of(&command(folder.path(), &words).output().unwrap())
    };
    let line = |begin: &str| {
        let (_, rest) = told.split_once(begin).unwrap();
        rest.lines().next().unwrap().split("   ").next().unwrap().to_owned()
    };
    let rehearsed = run(&format!("rehearse{}", line("fadewatch rehearse")));
    assert_eq!((rehearsed.code, rehearsed.err.as_str()), (0, ""), "{}", rehearsed.out);
    assert!(rehearsed.out.contains("STOP"), "{}", rehearsed.out);

    // The plan is the clinic's from the day on that somebody has approved it.
    let plan = folder.path().join("plans/graded-sitting.toml");
    let text = fs::read_to_string(&plan).unwrap();
    let approved: String = text.lines().map(|line| approve(line) + "\n").collect();
    fs::write(&plan, approved).unwrap();
    // The example's dates are reckoned from today, so that it can be enrolled as it is.
    fs::copy(folder.path().join("client-example.toml"), folder.path().join("client.toml")).unwrap();
    let enrolled = run(&format!("enroll{}", line("fadewatch enroll")));
    assert_eq!(
        (enrolled.code, enrolled.err.matches("in the past").count()),
        (0, 0),
        "{}",
        enrolled.err
    );
}

/// A line of the example plan, approved.
fn approve(line: &str) -> String {
    let bare = line.trim_start_matches(['#', ' ']);
    match bare.split(' ').next() {
        Some("approved_by") => "approved_by = \"A. Example\"".to_owned(),
        Some("approved_on") => "approved_on = 2026-03-01".to_owned(),
        _ => line.to_owned(),
    }
}

#[test]
fn nothing_that_is_there_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("mail-password"), "kept\n").unwrap();
    let ran = set_up(folder.path(), "");
    assert!(ran.out.contains("was there, unchanged"), "{}", ran.out);
    let before = fs::read_to_string(folder.path().join("clinic.toml")).unwrap();
    let ran = set_up(folder.path(), "Another clinic\n");
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("is there already"), "{}", ran.err);
    assert_eq!(fs::read_to_string(folder.path().join("clinic.toml")).unwrap(), before);
    assert_eq!(fs::read_to_string(folder.path().join("mail-password")).unwrap(), "kept\n");
}

#[test]
fn a_wrong_answer_from_a_pipe_is_named_by_its_line_and_writes_nothing() {
    for (said, line, meant) in [
        ("Riverside\nEurope/Lndon\n", "line 2", "did you mean Europe/London?"),
        ("\n\n\n\nchecks+x@clinic.test\n", "line 5", "without `+`"),
        ("\n\n\n\nchecks@clinic.test\nmail.clinic.test:smtp\n", "line 6", "`smtp` is no port"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let ran = set_up(folder.path(), said);
        assert_eq!(ran.code, 2, "{}", ran.out);
        assert!(ran.err.contains(line) && ran.err.contains(meant), "{}", ran.err);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}

/// A clinic whose mail account is a mailbox of real servers.
fn clinic(peers: &Peers, user: &str, change: impl Fn(String) -> String) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(peers.ca_file(), folder.path().join("ca.pem")).unwrap();
    fs::copy(peers.other_ca_file(), folder.path().join("other.pem")).unwrap();
    let out = format!("{}:{} starttls", peers.host(), peers.submission_port());
    let incoming = format!("{}:{} tls", peers.host(), peers.imaps_port());
    let said = answers(&out, &incoming, "ca.pem", &peers.address(user), &peers.password(user));
    let ran = set_up(folder.path(), &said);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let path = folder.path().join("clinic.toml");
    let text = change(fs::read_to_string(&path).unwrap());
    fs::write(&path, text).unwrap();
    folder
}

/// What a trial finds: each step with its state, and the whole of it.
fn trial(folder: &TempDir, wait: &str) -> (Vec<(String, String)>, String, i32) {
    let output = command(folder.path(), &["setup", "--try", "--wait", wait, "--json"]).output();
    let ran = Ran::of(&output.unwrap());
    let found: Value = serde_json::from_str(&ran.out).unwrap_or_else(|_| panic!("{}", ran.err));
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let steps = found["steps"].as_array().unwrap();
    let states = steps.iter().map(|step| (text(&step["step"]), text(&step["state"]))).collect();
    (states, ran.out, ran.code)
}

fn states<'s>(expected: &[(&'s str, &'s str)]) -> Vec<(String, String)> {
    expected.iter().map(|(step, state)| ((*step).to_owned(), (*state).to_owned())).collect()
}

/// Answers the trial mail in `user`'s mailbox.
fn answer(peers: &'static Peers, user: &'static str, account: &str) -> std::thread::JoinHandle<()> {
    let account = account.to_owned();
    std::thread::spawn(move || {
        // The address that answers go to stands in one header line only.
        let mark = format!("<{account}+");
        let mail = String::from_utf8(peers.mail_with(user, &mark)).unwrap();
        let header = |name: &str| {
            let lines = mail.replace("\r\n ", " ").replace("\n ", " ");
            let line = lines.lines().find(|line| line.starts_with(name)).unwrap().to_owned();
            line.split_once('<').unwrap().1.split_once('>').unwrap().0.to_owned()
        };
        let (answer_to, id) = (header("Reply-To:"), header("Message-ID:"));
        let raw = format!(
            "From: <{from}>\r\nTo: <{answer_to}>\r\nSubject: Re: trial\r\nMessage-ID: \
             <answer-{id}>\r\nIn-Reply-To: <{id}>\r\n\r\narrived\r\n",
            from = peers.address(user),
        );
        let settings = SmtpSettings::new(
            peers.host(),
            peers.smtp_port(),
            fadewatch::post::Security::PlainLoopback,
        );
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let outcome = runtime.block_on(async {
            let from = Address::parse(&peers.address(user)).unwrap();
            let to = Address::parse(&answer_to).unwrap();
            Outlet::Smtp(SmtpOutlet::new(settings).unwrap()).send(&from, &to, raw.as_bytes()).await
        });
        assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
    })
}

#[test]
fn a_trial_goes_there_and_back_through_real_servers() {
    let peers = shared();
    let folder = clinic(peers, "box1", |text| text);
    let answering = answer(peers, "alice", "box1");
    let (found, all, code) = trial(&folder, "1min");
    answering.join().unwrap();
    let all_work = Step::NAMES.map(|step| (step, "works"));
    assert_eq!(found, states(&all_work), "{all}");
    assert_eq!(code, 0);
}

struct Step;

impl Step {
    const NAMES: [&'static str; 7] =
        ["settings", "mailbox", "mail out", "plus address", "clock", "trial mail", "answer"];
}

#[test]
fn what_is_wrong_with_a_server_is_told_with_its_remedy() {
    let peers = shared();
    let host = format!("host = \"{}\"", peers.host());
    let ca = "ca_file = \"ca.pem\"";
    for (user, from, to, says) in [
        ("box2", host.as_str(), "host = \"mail.nowhere.invalid\"", "is not found"),
        ("box3", ca, "ca_file = \"other.pem\"", "signed by nobody that is trusted"),
        ("box4", host.as_str(), "host = \"127.0.0.2\"", "nobody answers at port"),
    ] {
        let folder = clinic(peers, user, |text| text.replace(from, to));
        let (found, all, code) = trial(&folder, "1min");
        assert_eq!(code, 5);
        assert_eq!(found[1].1, "fails", "{all}");
        assert_eq!(found[2].1, "fails", "{all}");
        assert!(all.contains(says) && all.contains("remedy"), "{all}");
        assert!(found[3..].iter().all(|(_, state)| state == "not-tried"), "{all}");
    }
}

#[test]
fn a_wrong_password_is_told_as_such() {
    let folder = clinic(shared(), "box5", |text| text);
    fs::write(folder.path().join("mail-password"), "wrong\n").unwrap();
    let (found, all, _) = trial(&folder, "1min");
    assert_eq!((found[1].1.as_str(), found[2].1.as_str()), ("fails", "fails"), "{all}");
    assert!(all.contains("the login is refused"), "{all}");
    assert!(all.contains("app password"), "{all}");
}

#[test]
fn a_password_that_is_missing_ends_the_trial_before_a_server_is_asked() {
    let folder = clinic(shared(), "box6", |text| text);
    fs::write(folder.path().join("mail-password"), "").unwrap();
    let (found, all, _) = trial(&folder, "1min");
    assert_eq!(found[0], ("settings".to_owned(), "fails".to_owned()));
    assert!(found[1..].iter().all(|(_, state)| state == "not-tried"), "{all}");
}

#[test]
fn a_server_that_does_not_keep_plus_addresses_is_told_with_what_to_use_instead() {
    let peers = Peers::start();
    let conf = peers.maildir("box7").ancestors().nth(4).unwrap().join("postfix/conf/main.cf");
    let without = fs::read_to_string(&conf).unwrap().replace("recipient_delimiter = +", "");
    peers.stop("smtp");
    fs::write(&conf, without).unwrap();
    peers.start_again("smtp");
    let folder = clinic(&peers, "box7", |text| text);
    let (found, all, _) = trial(&folder, "0min");
    assert_eq!(found[2].1, "works", "{all}");
    assert_eq!(found[3], ("plus address".to_owned(), "fails".to_owned()), "{all}");
    assert!(all.contains("catch-all"), "{all}");
}

/// A clinic whose own mail comes straight into its mailbox, both in folders.
fn in_folders() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    set_up(folder.path(), "");
    let path = folder.path().join("clinic.toml");
    let text = fs::read_to_string(&path).unwrap();
    let (head, _) = text.split_once("[mail.out]").unwrap();
    let mail = "[mail.out]\nmaildir = \"out\"\n\n[mail.in]\nmaildir = \"in\"\n";
    fs::write(&path, format!("{head}{mail}")).unwrap();
    (folder, PathBuf::from("out/checks@clinic.example/new"))
}

#[test]
fn a_clock_that_differs_from_the_mail_servers_is_told() {
    let (folder, out) = in_folders();
    let (out, into) = (folder.path().join(out), folder.path().join("in/new"));
    // Plays the mail server: what went out comes in, received an hour from now by its clock.
    let server = std::thread::spawn(move || {
        for _ in 0..600 {
            let sent = fs::read_dir(&out).into_iter().flatten().next();
            if let (Some(Ok(sent)), true) = (sent, into.is_dir()) {
                let place = into.with_file_name("tmp").join("mail");
                fs::copy(sent.path(), &place).unwrap();
                let later = SystemTime::now() + Duration::from_secs(3600);
                fs::File::options().write(true).open(&place).unwrap().set_modified(later).unwrap();
                return fs::rename(place, into.join("mail")).unwrap();
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("nothing was sent");
    });
    let (found, all, _) = trial(&folder, "0min");
    server.join().unwrap();
    assert_eq!(found[3].1, "works", "{all}");
    assert_eq!(found[4].1, "fails", "{all}");
    assert!(all.contains("behind the mail server's") && all.contains("NTP"), "{all}");
    assert_eq!(found[6].1, "fails", "{all}");
}
