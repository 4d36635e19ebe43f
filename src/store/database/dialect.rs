//! What PostgreSQL says otherwise than SQLite.
//!
//! Never here: whole statements (schemas have files of their own).
//! Promises: SQL of ours turns into SQL that means the same there.

/// What tells SQLite's planner which index to go by.
const HINTS: [&str; 2] = [" INDEXED BY outbox_queue", " INDEXED BY inbox_waiting"];

/// A statement in PostgreSQL's words.
pub(super) fn postgres(sql: &str) -> String {
    // Its planner takes no hints; the partial indexes are the same.
    HINTS.iter().fold(sql.replace('?', "$").replace("ifnull(", "coalesce("), |sql, hint| {
        sql.replace(hint, "")
    })
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
