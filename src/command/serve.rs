//! `fadewatch serve`: the running service.
//!
//! Never here: what it does (`service`).
//! Promises: one service on a data folder; SIGTERM and SIGINT end it in order.

use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::Notify;
use tracing_subscriber::EnvFilter;

use super::paper::error_colour;
use super::setting::{CommandError, ConfigOption, office};
use crate::board::Board;
use crate::config::Colour;
use crate::follow_up::Calendar;
use crate::service::picturing::Easel;
use crate::service::{Clock, Rhythm, Service, ServiceError, data, lines, serve, waking};
use crate::store::{Mode, Store};

/// What `serve` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch serve --config /etc/fadewatch/clinic.toml")]
pub(super) struct ServeArgs {
    #[command(flatten)]
    config: ConfigOption,
    /// Write log lines as JSON (--json says the same).
    #[arg(long, visible_alias = "json")]
    log_json: bool,
}

impl ServeArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        self.log();
        let office = office(self.config.clinic()?)?.with_easel(Easel::Beside);
        let folder = office.clinic.data_folder.clone();
        // Opening makes the folder where it is missing, so that it can be locked.
        let store = data::open(&office.clinic, Mode::Service)?;
        let _lock = Store::lock_for_service(&folder)?;
        tracing::info!(
            version = env!("CARGO_PKG_VERSION"),
            time_zone_database = Calendar::database_version(),
            "starting"
        );
        let clock = Clock::Real;
        data::await_lead(&store, &clock)?;
        let now = clock.now();
        let first_run = store.write_blocking(move |tx| waking::first_run(tx, now))?;
        let (outlet, keeper_out) = lines::outlet(&office.clinic.mail.out, "mail.out")?;
        let (inbox, keeper_in) = lines::inbox(&office.clinic.mail, first_run)?;
        let second = office.clinic.watch.out.as_ref();
        let second = second.map(|out| lines::outlet(out, "watch.out")).transpose()?;
        let (second_outlet, keeper_second) = second.map_or((None, None), |(o, k)| (Some(o), k));
        let (office, committed) = (Arc::new(office), Arc::new(Notify::new()));
        let board = office.clinic.board.clone().map(|settings| {
            let service = (Arc::clone(&office), store.clone(), clock.clone());
            Board::new(settings, service, outlet.clone(), Arc::clone(&committed)).open()
        });
        let service = Service {
            outlet,
            inbox,
            second_outlet,
            board: board.transpose()?,
            rhythm: Rhythm::default(),
            mailbox: lines::mailbox_name(&office.clinic.mail.incoming),
            office,
            store,
            clock,
            committed,
        };
        let system = |doing| move |source| ServiceError::System { doing, source };
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(system("starting the service's threads"))?;
        runtime.block_on(async {
            let mut terminate =
                signal(SignalKind::terminate()).map_err(system("waiting for SIGTERM"))?;
            let mut interrupt =
                signal(SignalKind::interrupt()).map_err(system("waiting for SIGINT"))?;
            let stop = async move {
                tokio::select! {
                    _ = terminate.recv() => {}
                    _ = interrupt.recv() => {}
                }
            };
            for keeper in [keeper_out, keeper_in, keeper_second].into_iter().flatten() {
                tokio::spawn(keeper.run());
            }
            let lost = {
                let store = service.store.clone();
                async move { store.lost().await }
            };
            // Nothing is finished then: what was under way cannot be noted any more, and whoever
            // takes over does it anew.
            tokio::select! {
                served = serve(service, stop) => served,
                () = lost => Err(ServiceError::ServerLost),
            }
        })?;
        Ok(ExitCode::SUCCESS)
    }

    fn log(&self) {
        let filter =
            EnvFilter::try_from_env("FADEWATCH_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
        let builder = tracing_subscriber::fmt()
            .with_env_filter(filter)
            .with_target(false)
            .with_ansi(error_colour() == Colour::Terminal)
            .with_writer(std::io::stderr);
        if self.log_json { builder.json().init() } else { builder.init() }
    }
}
