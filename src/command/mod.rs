//! The command line: what each command is called with, and what it returns to the shell.
//!
//! Never here: rules, SQL, mail; what a command does (each has its own file).
//! Promises: every command says what it did; a failure says what, where and what to do, and shows
//! in the exit status.

mod alerts;
mod aside;
mod backup;
mod client_page;
mod contact;
mod cover;
mod decide;
mod demo;
mod due;
mod enroll;
mod exit;
mod export;
mod fit;
mod forget;
mod health;
mod interview;
mod journal;
mod journal_lines;
mod letter;
mod outcome;
mod paper;
mod pause;
mod plan;
mod plan_source;
mod plan_use;
mod progress;
mod read;
mod refit;
mod rehearse;
mod report;
mod said_by;
mod schema;
mod serve;
mod setting;
mod setup;
mod shell;
mod show;
mod simulate;
mod table;
mod who;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches as _, Parser, Subcommand};

use exit::{EXIT_CODES, EXIT_CODES_IN_SHORT, Exit};
use setting::CommandError;

use crate::overview::{moments, standing, telling};

/// Runs the skin-check follow-up after a pressure-off-loading seat has been fitted.
///
/// Not a medical device and no substitute for clinical judgement; not an emergency service.
#[derive(Debug, Parser)]
#[command(name = "fadewatch", version, after_help = EXIT_CODES)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Set a clinic up: a few questions, then its files; with --try, try its mail account.
    Setup(setup::SetupArgs),
    /// Run the service.
    Serve(serve::ServeArgs),
    /// Begin the follow-up of a client.
    Enroll(enroll::EnrollArgs),
    /// Say whether a fit is ready to begin; if not, why, and what to try next.
    Fit(fit::FitArgs),
    /// Put another fitting of a client on file.
    Refit(refit::RefitArgs),
    /// Show how all clients stand, or one client in full.
    Show(show::ShowArgs),
    /// Take a finding that was said by phone.
    Report(report::ReportArgs),
    /// Decide as a clinician: seen, resume, keep-stopped, close.
    Decide(decide::DecideArgs),
    /// Show what is due next.
    Due(due::DueArgs),
    /// Show the alerts that wait.
    Alerts(alerts::AlertsArgs),
    /// Read the record of a client, or check all records.
    Journal(journal::JournalArgs),
    /// Write the follow-up report of a client, for the record or the funder.
    Letter(letter::LetterArgs),
    /// Write what is known of a client for other programs: JSON, CSV or HL7 FHIR.
    Export(export::ExportArgs),
    /// Write what is planned for a client as a calendar file.
    Calendar(export::CalendarArgs),
    /// Pause a follow-up: hospital, holiday.
    Pause(pause::PauseArgs),
    /// End a pause.
    Unpause(pause::UnpauseArgs),
    /// Show or change who is asked about a client.
    Contact(contact::ContactArgs),
    /// Show or change who gets alerts on which days.
    Cover(cover::CoverArgs),
    /// Check, compare and adopt plans.
    Plan(plan::PlanArgs),
    /// Show mail that was set aside for a person to look at.
    Aside(aside::AsideArgs),
    /// Say whether the service does its work, for outside monitors.
    Health(health::HealthArgs),
    /// Copy the data to a file, while the service works.
    Backup(backup::BackupArgs),
    /// Check that a backup can be used.
    Restore(backup::RestoreArgs),
    /// Erase the personal data of a closed follow-up; its record stays.
    Forget(forget::ForgetArgs),
    /// Show the service at work: an invented clinic, two weeks in fast motion.
    Demo(demo::DemoArgs),
    /// Run a scenario on paper: what would be asked, of whom, when, and what would follow.
    Rehearse(rehearse::Rehearse),
    /// Run the whole service on paper against invented people, mail servers and faults, many times.
    Simulate(simulate::SimulateArgs),
    /// Read a reply from standard input and show how it is understood, and why.
    Read(read::ReadArgs),
    /// Print the JSON Schema of a TOML file of the clinic, for editors.
    Schema(schema::SchemaArgs),
    /// Print the completions for a shell.
    #[command(hide = true)]
    Completions(shell::CompletionsArgs),
    /// Write the manual pages.
    #[command(hide = true)]
    ManPages(shell::ManPagesArgs),
}

/// Runs the command that the process was called with.
pub fn run() -> ExitCode {
    let called = with_exit_codes(Cli::command()).get_matches();
    let cli = Cli::from_arg_matches(&called).unwrap_or_else(|wrong| wrong.exit());
    let outcome = match cli.command {
        Command::Setup(setup) => setup.run(),
        Command::Serve(serve) => serve.run(),
        Command::Demo(demo) => {
            return demo.run().unwrap_or_else(|failed| told(&failed, Exit::Failed));
        }
        Command::Enroll(enroll) => enroll.run(),
        Command::Fit(fit) => fit.run(),
        Command::Refit(refit) => refit.run(),
        Command::Show(show) => show.run(),
        Command::Report(report) => report.run(),
        Command::Decide(decide) => decide.run(),
        Command::Due(due) => due.run(),
        Command::Alerts(alerts) => alerts.run(),
        Command::Journal(journal) => journal.run(),
        Command::Letter(letter) => letter.run(),
        Command::Export(export) => export.run(),
        Command::Calendar(calendar) => calendar.run(),
        Command::Pause(pause) => pause.run(),
        Command::Unpause(unpause) => unpause.run(),
        Command::Contact(contact) => contact.run(),
        Command::Cover(cover) => cover.run(),
        Command::Plan(plan) => plan.run(),
        Command::Schema(schema) => schema.run(),
        Command::Completions(shell) => shell.run(Cli::command()),
        Command::ManPages(pages) => pages.run(with_exit_codes(Cli::command())),
        Command::Aside(aside) => aside.run(),
        Command::Health(health) => health.run(),
        Command::Backup(backup) => backup.run(),
        Command::Restore(restore) => restore.run(),
        Command::Forget(forget) => forget.run(),
        Command::Rehearse(rehearse) => rehearse.run(),
        Command::Simulate(simulate) => simulate.run(),
        Command::Read(args) => return read_ended(read::run(&args)),
    };
    outcome.unwrap_or_else(|failed| match &failed {
        // What is wrong with a file is a page of its own.
        CommandError::Problems(_) => {
            eprintln!("{failed}");
            failed.exit().into()
        }
        _ => told(&failed, failed.exit()),
    })
}

/// Has the help of every command say where its exit codes are described, or what they are.
fn with_exit_codes(command: clap::Command) -> clap::Command {
    let subcommands: Vec<String> =
        command.get_subcommands().map(|inner| inner.get_name().to_owned()).collect();
    subcommands.into_iter().fold(command, |command, name| {
        command.mut_subcommand(name, |inner| {
            let help = inner.get_after_help().map(ToString::to_string).unwrap_or_default();
            with_exit_codes(inner.after_help(format!("{help}\n\n{EXIT_CODES_IN_SHORT}")))
        })
    })
}

fn read_ended(outcome: Result<ExitCode, read::ReadError>) -> ExitCode {
    outcome.unwrap_or_else(|failed| told(&failed, Exit::BadInput))
}

fn told(failed: &impl std::fmt::Display, exit: Exit) -> ExitCode {
    eprintln!("fadewatch: {failed}");
    exit.into()
}
