//! What PostgreSQL says otherwise than SQLite.
//!
//! Never here: whole statements (schemas have files of their own).
//! Promises: SQL of ours turns into SQL that means the same there.

/// A statement in PostgreSQL's words.
pub(super) fn postgres(sql: &str) -> String {
    // Its planner takes no hints; the partial indexes are the same.
    sql.replace('?', "$").replace("ifnull(", "coalesce(").replace(" INDEXED BY outbox_queue", "")
}

#[cfg(test)]
mod tests {
    use super::postgres;

    #[test]
    fn parameters_and_differing_words_are_turned() {
        assert_eq!(
            postgres("SELECT ifnull(a, 0) FROM outbox INDEXED BY outbox_queue WHERE b = ?12"),
            "SELECT coalesce(a, 0) FROM outbox WHERE b = $12"
        );
    }
}
