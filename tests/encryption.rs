//! Data that is encrypted at rest, by the built program: turned so and back, and used.
//!
//! Part of the feature `encryption`: `cargo test --features encryption --test encryption`. The tests of the
//! store and those of power cuts run on encrypted files too, where they are built with it.
//!
//! Never here: what the record means.
//! Promises: what is on the disk is read past our own program.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[allow(dead_code, reason = "made for the tests of the commands, which use all of it")]
#[path = "command/world.rs"]
mod world;

#[path = "encryption/keys.rs"]
mod keys;
#[path = "encryption/turning.rs"]
mod turning;
#[path = "encryption/vault.rs"]
mod vault;
