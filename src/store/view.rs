//! The two ways into the data: a view of one consistent moment, and a transaction that may write.
//!
//! Never here: the questions and acts themselves (each noun has its own file).
//! Promises: a transaction can do everything that a view can; neither shows its SQL.

use std::ops::Deref;

use super::database::Connection;

/// The data at one moment; what is committed meanwhile is not seen.
#[derive(Debug)]
pub struct View<'c> {
    pub(super) connection: &'c Connection,
}

/// One transaction for writing.
#[derive(Debug)]
pub struct Tx<'c> {
    view: View<'c>,
}

impl<'c> View<'c> {
    pub(super) fn over(connection: &'c Connection) -> Self {
        Self { connection }
    }
}

impl<'c> Tx<'c> {
    pub(super) fn over(connection: &'c Connection) -> Self {
        Self { view: View::over(connection) }
    }
}

impl<'c> Deref for Tx<'c> {
    type Target = View<'c>;

    fn deref(&self) -> &View<'c> {
        &self.view
    }
}
