//! The command line as a clinic uses it: the real program on a temporary clinic whose mail goes
//! through maildirs.

mod acting;
mod keeping;
mod looking;
mod serving;
mod upkeep;
mod world;
