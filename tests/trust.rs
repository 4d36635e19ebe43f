//! Whether the service can be trusted: that it tells of its own trouble, gives nothing away, forgets
//! what it is told to forget, and is not talked into anything by a flood.
//!
//! Never here: rules of a follow-up.
//! Promises: every test has a folder of its own; none waits for a real hour.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[allow(dead_code, reason = "made for the tests of the commands, which use all of it")]
#[path = "command/world.rs"]
mod world;

#[path = "peers/mod.rs"]
mod peers;
#[allow(dead_code, reason = "made for the tests of the service, which use all of it")]
#[path = "service/program.rs"]
mod program;
mod risk_table;
#[path = "service/room.rs"]
mod room;
mod server;

#[path = "trust/bearer.rs"]
mod bearer;
#[path = "trust/canaries.rs"]
mod canaries;
#[path = "trust/daily.rs"]
mod daily;
#[path = "trust/flood.rs"]
mod flood;
#[path = "trust/forgetting.rs"]
mod forgetting;
#[path = "trust/hurried.rs"]
mod hurried;
#[path = "trust/lasting.rs"]
mod lasting;
#[path = "trust/overload.rs"]
mod overload;
#[path = "trust/post_box.rs"]
mod post_box;
#[path = "trust/threats.rs"]
mod threats;
#[path = "trust/troubles.rs"]
mod troubles;
#[path = "trust/upgrades.rs"]
mod upgrades;
#[path = "trust/upgrades_on_a_server.rs"]
mod upgrades_on_a_server;
#[path = "trust/watchdog.rs"]
mod watchdog;
#[path = "trust/watching.rs"]
mod watching;
