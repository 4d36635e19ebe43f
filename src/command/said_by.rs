//! What every command shares that somebody of the clinic says: who says it, how it is answered, for
//! which clinic.
//!
//! Never here: what is said; who may say what (`who`).
//! Promises: the same words in the help of every such command.

use clap::Args;

use super::setting::ConfigOption;

/// Who says it, and where.
#[derive(Debug, Args)]
pub(super) struct SaidBy {
    /// Who of the clinic says so: a clinician or an assistant.
    #[arg(long, value_name = "STAFF")]
    pub(super) by: String,
    /// Print JSON.
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) config: ConfigOption,
}
