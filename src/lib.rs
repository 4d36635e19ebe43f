//! `fadewatch` runs the skin-check follow-up after a pressure-off-loading seat has been fitted.
//!
//! The rooms, what each may know and where to start reading are on one page in `DEVELOPERS.md`.
//! One sentence governs every choice here: silence, doubt and failure are never read as
//! 'all clear'.

pub mod board;
pub mod care;
pub mod command;
pub mod config;
pub mod export;
pub mod follow_up;
pub mod notice;
mod overview;
pub mod post;
pub mod rehearsal;
pub mod reply;
pub mod review;
pub mod service;
pub mod setup;
pub mod store;
