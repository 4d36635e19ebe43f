//! The command line as a clinic uses it: the real program on a temporary clinic whose mail goes
//! through maildirs.

mod acting;
mod looking;
mod world;
