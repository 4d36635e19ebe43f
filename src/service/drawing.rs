//! Acts whose mail may want pictures: what is not drawn yet is drawn beside the writer, and the
//! act is then done anew.
//!
//! Never here: what is drawn (`picturing`), what the acts do.
//! Promises: the writer never waits for a picture; an act that was put off for one has written
//! nothing, and is done with the same instant.

use std::sync::Arc;

use super::error::ServiceError;
use super::office::Office;
use super::picturing::Commission;
use crate::store::{Store, StoreError, Tx};

/// Runs work in one transaction, as often as it takes until its pictures are drawn. That is twice
/// as a rule; again where the follow-up has moved on meanwhile.
///
/// # Errors
/// Those of the work, and those of the store.
pub async fn write<T, F>(store: &Store, office: &Arc<Office>, work: F) -> Result<T, ServiceError>
where
    T: Send + 'static,
    F: Fn(&Office, &mut Tx<'_>) -> Result<T, ServiceError> + Send + Sync + 'static,
{
    let work = Arc::new(work);
    loop {
        let (office_then, work) = (Arc::clone(office), Arc::clone(&work));
        match store.write(move |tx| work(&office_then, tx)).await {
            Err(ServiceError::Undrawn(wanted)) => draw(store, office, wanted).await?,
            done => return done,
        }
    }
}

/// Draws what is wanted, beside the writer.
///
/// # Errors
/// When the store cannot be read.
pub async fn draw(
    store: &Store,
    office: &Arc<Office>,
    wanted: Vec<Commission>,
) -> Result<(), StoreError> {
    if wanted.is_empty() {
        return Ok(());
    }
    let office = Arc::clone(office);
    store
        .read(move |view| {
            office.draw(view, &wanted);
            Ok(())
        })
        .await
}
