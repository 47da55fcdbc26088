//! Shell: words as a shell takes them, for commands that are shown to be typed.

/// A word of a command line, in quotes where a shell would take it apart.
pub(crate) fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_./=:,@%+".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_what_shells_take() {
        for (word, wanted) in [
            ("log-1.csv", "log-1.csv"),
            ("target/debug/nextrung", "target/debug/nextrung"),
            ("postgres://coach@db.example:5432/hall", "postgres://coach@db.example:5432/hall"),
            ("Anna's log.csv", "'Anna'\\''s log.csv'"),
            ("", "''"),
        ] {
            assert_eq!(quoted(word), wanted);
        }
    }
}
