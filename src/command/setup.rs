//! `fadewatch setup`: a clinic's folder from a few answers; `--try` tries its mail account.
//!
//! Never here: what is written (`setup::folder`), what is tried (`setup::trial`).
//! Promises: nothing is written over; every question has a default; the trial's exit code is 0 only
//! when all of it works.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::interview::Interview;
use super::paper;
use super::setting::{CommandError, ConfigOption, now, office, show_warnings};
use super::table::{Ink, painted};
use super::who::{self, Act};
use crate::care::{ClinicianId, Minutes};
use crate::config::{self, Clinic, Language, MailAddress, PersonName, ZoneName};
use crate::follow_up::Calendar;
use crate::notice::Languages;
use crate::service::{Clock, ServiceError, data};
use crate::setup::{
    Answers, CLINIC_FILE, Ending, Finding, FolderError, Made, Member, PASSWORD_FILE, Password,
    Patience, ServerAnswer, Step,
};
use crate::store::StoreError;

/// How long a mail to itself may take: most come within seconds, a server that checks newcomers
/// lets them wait for minutes.
const OWN_MAIL_WAIT: Duration = Duration::from_secs(120);
/// Most clinicians that are asked for; more can be written into the file.
const CLINICIANS_MAX: usize = 20;

/// What `setup` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch setup\n  fadewatch setup /srv/checks < answers.txt\n  \
    fadewatch setup --try\n  fadewatch setup --try --to duty --wait 30min\n\nAnswers may come from \
    a pipe, one a line, an empty line for the default.\nNothing is written over. Without \
    --config, --try takes the clinic.toml of this folder."
)]
pub(super) struct SetupArgs {
    /// The folder to set the clinic up in; it is made where it is missing.
    #[arg(default_value = ".", conflicts_with = "try")]
    folder: PathBuf,
    /// Try the mail account: send one mail to a clinician and wait for the answer.
    #[arg(long)]
    r#try: bool,
    /// Whom the trial mail goes to; without it, the first on cover.
    #[arg(long, value_name = "CLINICIAN", requires = "try")]
    to: Option<String>,
    /// How long to wait for the answer.
    #[arg(long, value_name = "TIME", default_value = "10min", requires = "try")]
    wait: Minutes,
    /// Print JSON.
    #[arg(long, requires = "try")]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct TrialJson {
    works: bool,
    steps: Vec<StepJson>,
}

#[derive(Serialize)]
struct StepJson {
    step: &'static str,
    state: &'static str,
    fact: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    remedy: Option<String>,
}

impl SetupArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        if self.r#try { self.try_out() } else { self.set_up() }
    }

    fn set_up(&self) -> Result<ExitCode, CommandError> {
        if let Some(path) = crate::setup::in_the_way(&self.folder) {
            return Err(in_the_way(&path));
        }
        let mut interview = Interview::begin();
        let answers = asked(&mut interview, &self.folder)?;
        let zone = Calendar::new(answers.zone.as_str());
        let today = zone.map_or_else(|_| now().date_naive(), |zone| zone.date(now()));
        let made =
            crate::setup::make_folder(&self.folder, &answers, today).map_err(
                |error| match error {
                    FolderError::InTheWay(path) => in_the_way(&path),
                    FolderError::Write { .. } => {
                        CommandError::Output(std::io::Error::other(error.to_string()))
                    }
                },
            )?;
        let clinic_file = self.folder.join(CLINIC_FILE);
        let checked = config::read_clinic(&clinic_file)?;
        show_warnings(&checked.warnings);
        paper::print(&written(&made, &answers, &self.folder))?;
        Ok(Exit::Done.into())
    }

    fn try_out(&self) -> Result<ExitCode, CommandError> {
        let clinic = self.config.clinic()?;
        let to = match &self.to {
            Some(id) => who::staff(&clinic, id, Act::Decide)?,
            None => clinic.cover.first().cloned().ok_or_else(|| {
                CommandError::NotFound("nobody is on cover in the clinic file".to_owned())
            })?,
        };
        // A running service would take the trial's mails for answers.
        let _hold = match data::hold(&clinic, &Clock::Real) {
            Err(ServiceError::Store(error @ StoreError::ServiceRunning { .. })) => {
                return Err(CommandError::Refused(format!(
                    "{error}\nhint: it watches the same mailbox; stop it for the trial"
                )));
            }
            other => other?,
        };
        let open = open_to_others(&clinic);
        let office = office(clinic)?;
        let clinician = office.clinic.clinician(&to).cloned().ok_or_else(|| {
            CommandError::NotFound(format!("nobody of the clinic has the id `{to}`"))
        })?;
        if let Some(path) = open {
            paper::warn(&format!(
                "{0} can be read by other users of this machine: chmod 600 {0}",
                path.display()
            ));
        }
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let answer = Duration::from_secs(u64::from(self.wait.count()) * 60);
        let patience = Patience { own: OWN_MAIL_WAIT, answer };
        let json = self.json;
        let findings =
            runtime.block_on(crate::setup::trial(&office, &clinician, patience, |finding| {
                if !json {
                    tell(finding, &to, self.wait);
                }
            }));
        let works = findings.iter().all(|finding| finding.ending == Ending::Works);
        if self.json {
            let steps = findings.into_iter().map(StepJson::of).collect();
            paper::print_json(&TrialJson { works, steps })?;
        } else if works {
            paper::print(
                "Everything works. Next: read, change and approve the plan, rehearse it, then \
                 fadewatch serve\n",
            )?;
        } else {
            paper::print(
                "Not everything works yet; mend the first thing above, then try again.\n",
            )?;
        }
        Ok(if works { Exit::Done } else { Exit::Unwell }.into())
    }
}

impl StepJson {
    fn of(finding: Finding) -> Self {
        let state = match finding.ending {
            Ending::Works => "works",
            Ending::Fails => "fails",
            Ending::NotTried => "not-tried",
        };
        Self { step: finding.step.name(), state, fact: finding.fact, remedy: finding.remedy }
    }
}

/// A finding as soon as it is there: the trial takes as long as people take to answer.
fn tell(finding: &Finding, to: &ClinicianId, wait: Minutes) {
    let (state, ink) = match finding.ending {
        Ending::Works => ("works", Ink::Plain),
        Ending::Fails => ("DOES NOT WORK", Ink::Strong),
        Ending::NotTried => ("not tried", Ink::Faint),
    };
    let colour = paper::colour();
    let state = painted(&format!("{state:<13}"), ink, colour);
    let mut text = format!("{:<13} {state}  {}\n", finding.step.name(), finding.fact);
    if let Some(remedy) = &finding.remedy {
        for line in wrapped(remedy, 70) {
            text.push_str(&format!("{:<13} {:<13}  {line}\n", "", ""));
        }
    }
    if finding.step == Step::Clinician && finding.ending == Ending::Works {
        text.push_str(&format!("waiting up to {wait} for the answer of `{to}` …\n"));
    }
    // A closed pipe ends the printing, not the trial, whose exit code still tells.
    let _ = paper::print(&text);
}

/// A text in lines of at most so many characters.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A password file that others may read.
fn open_to_others(clinic: &Clinic) -> Option<PathBuf> {
    use std::os::unix::fs::PermissionsExt as _;
    let servers = [
        match &clinic.mail.out {
            config::MailOut::Smtp(server) => Some(server),
            config::MailOut::Maildir(_) => None,
        },
        match &clinic.mail.incoming {
            config::MailIn::Imap { server, .. } => Some(server),
            config::MailIn::Maildir(_) => None,
        },
    ];
    let logins = servers.into_iter().flatten().filter_map(|server| server.login.as_ref());
    logins
        .filter_map(|login| match &login.secret {
            config::SecretSource::File(path) => Some(path.clone()),
            config::SecretSource::Command(_)
            | config::SecretSource::Credential(_)
            | config::SecretSource::TokenCommand(_) => None,
        })
        .find(|path| {
            std::fs::metadata(path).is_ok_and(|found| found.permissions().mode() & 0o077 != 0)
        })
}

fn in_the_way(path: &Path) -> CommandError {
    let path = path.display();
    CommandError::Refused(format!(
        "{path} is there already; nothing was asked and nothing was written\nhint: change it by \
         hand, move it away first, or name another folder: fadewatch setup FOLDER"
    ))
}

fn asked(interview: &mut Interview, folder: &Path) -> Result<Answers, CommandError> {
    let text = |said: &str| Ok(said.to_owned());
    interview.say("The clinic. An empty answer takes what stands in brackets.")?;
    let name = interview.ask("Name of the clinic", "Seating clinic", text)?;
    let zone = interview.ask("Time zone", &zone_here(), |said| {
        ZoneName::new(said).map_err(|unknown| match unknown.meant {
            Some(meant) => format!("no time zone is called {said}; did you mean {meant}?"),
            None => format!("no time zone is called {said}; write it like Europe/London"),
        })
    })?;
    let phone = interview.ask(
        "Phone and hours, as people are to read them",
        "the number on the letter of the clinic",
        text,
    )?;
    let out_of_hours = interview.ask(
        "What to do when the clinic is closed",
        "Keep off the seat. If you see broken skin, or feel unwell, call your local emergency \
         service now.",
        text,
    )?;
    interview.say("\nThe mail account of the service: an account of its own, not a person's.")?;
    let mail = |said: &str| MailAddress::new(said).map_err(|error| error.to_string());
    let account = interview.ask("Mail address", "checks@clinic.example", |said| {
        let address = mail(said)?;
        match address.as_str().split('@').next() {
            Some(local) if local.contains('+') => {
                Err("write it without `+`: each request adds a token of its own there".to_owned())
            }
            _ => Ok(address),
        }
    })?;
    let domain = account.as_str().rsplit('@').next().unwrap_or_default().to_owned();
    let server = |said: &str| said.parse::<ServerAnswer>();
    let mail_host = format!("mail.{domain}");
    let out = interview.ask(
        "Server that sends (name, name:port, or with tls or starttls behind)",
        &format!("{mail_host}:587"),
        server,
    )?;
    let incoming = interview.ask("Server that receives", &format!("{}:993", out.host), server)?;
    let ca_file = interview.ask(
        "File of the clinic's own certificate authority",
        "none",
        |said| match said {
            "none" => Ok(None),
            path if folder.join(path).is_file() => Ok(Some(PathBuf::from(path))),
            path => Err(format!("there is no file {path}")),
        },
    )?;
    let user = interview.ask("User of the mail account", account.as_str(), text)?;
    let has_password = folder.join(PASSWORD_FILE).exists();
    let password = if has_password {
        interview.say(&format!("{PASSWORD_FILE} is there already and stays as it is."))?;
        None
    } else {
        Password::new(&interview.ask_secretly(&format!(
            "Password (not shown; empty: put it into {PASSWORD_FILE} later)"
        ))?)
    };
    let clinicians = clinicians(interview, &domain)?;
    Ok(Answers {
        name,
        zone,
        phone,
        out_of_hours,
        clinicians,
        account,
        out,
        incoming,
        ca_file,
        user,
        password,
    })
}

fn clinicians(interview: &mut Interview, domain: &str) -> Result<Vec<Member>, CommandError> {
    interview.say("\nThe clinicians who get alerts, in the order in which they are called.")?;
    let languages = Languages::shipped();
    let codes: Vec<String> = languages.codes().map(str::to_owned).collect();
    let mut clinicians: Vec<Member> = Vec::new();
    while clinicians.len() < CLINICIANS_MAX {
        let number = clinicians.len() + 1;
        let (question, default) = match number {
            1 => ("Name of the clinician", "Seating clinician"),
            _ => ("Name of the next clinician", "nobody"),
        };
        let name = interview.ask(question, default, |said| {
            if number > 1 && said == "nobody" {
                return Ok(None);
            }
            PersonName::new(said).map(Some).map_err(|error| error.to_string())
        })?;
        let Some(name) = name else { break };
        let id = match number {
            1 => "clinician".to_owned(),
            _ => format!("clinician-{number}"),
        };
        let id = interview.ask("Short id, which may appear in logs", &id, |said| {
            let id = ClinicianId::new(said).map_err(|error| error.to_string())?;
            match clinicians.iter().any(|other| other.id == id) {
                true => Err(format!("`{said}` is somebody else's")),
                false => Ok(id),
            }
        })?;
        let mail = interview.ask("Mail address", &format!("{id}@{domain}"), |said| {
            let mail = MailAddress::new(said).map_err(|error| error.to_string())?;
            match clinicians.iter().any(|other| other.mail.is_same(&mail)) {
                true => Err("this is the address of another clinician".to_owned()),
                false => Ok(mail),
            }
        })?;
        let language =
            interview.ask("Language", "en", |said| match codes.iter().any(|c| c == said) {
                true => Language::new(said).map_err(|error| error.to_string()),
                false => Err(format!("the languages are {}", codes.join(", "))),
            })?;
        clinicians.push(Member { id, name, mail, language });
    }
    Ok(clinicians)
}

/// The zone of this machine, where it can be told.
fn zone_here() -> String {
    let here = iana_time_zone::get_timezone().ok();
    let known = here.and_then(|name| ZoneName::new(&name).ok());
    known.map_or_else(|| "Etc/UTC".to_owned(), |zone| zone.as_str().to_owned())
}

fn written(made: &[Made], answers: &Answers, folder: &Path) -> String {
    let mut text = String::new();
    for part in made {
        let (path, note) = match part {
            Made::New(path) => (path, "written"),
            Made::Kept(path) => (path, "was there, unchanged"),
        };
        text.push_str(&format!("{note:<21} {}\n", path.display()));
    }
    let clinic = folder.join(CLINIC_FILE);
    let option = if folder == Path::new(".") {
        String::new()
    } else {
        format!(" --config {}", clinic.display())
    };
    text.push_str("\nNext\n");
    let mut next = Vec::new();
    if answers.account.as_str().ends_with(".example") {
        next.push(
            "put the real mail account into clinic.toml: what ends in .example never works"
                .to_owned(),
        );
    }
    if answers.password.is_none() {
        next.push(format!("put the password into {PASSWORD_FILE}, one line"));
    }
    next.push(format!("fadewatch setup --try{option}        tries the mail account"));
    next.push(
        "read plans/graded-sitting.toml, adapt it, and fill in approved_by and approved_on"
            .to_owned(),
    );
    let scenario = folder.join("scenarios/persisting-mark.toml");
    let scenario = scenario.strip_prefix(".").unwrap_or(&scenario);
    next.push(format!(
        "fadewatch rehearse {}        shows on paper what it does",
        scenario.display()
    ));
    next.push(format!("fadewatch serve{option}              runs the service"));
    let by = answers.clinicians.first().map_or("CLINICIAN", |clinician| clinician.id.as_str());
    next.push(format!(
        "copy client-example.toml to client.toml, change ref, begins, sittings_at and the\n     \
         contacts, then\n     \
         fadewatch enroll client.toml --by {by}{option}"
    ));
    for (number, step) in (1..).zip(next) {
        text.push_str(&format!("  {number}. {step}\n"));
    }
    text
}
