//! The record of accesses: no statement changes it but those of an erasure, and none shortens it but that by which the oldest is
//! forgotten.

use std::path::Path;

#[test]
fn nothing_but_an_erasure_changes_the_record_and_only_the_oldest_is_forgotten() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let (mut seen, mut forgets) = (0, 0);
    for folder in ["", "sqlite", "postgres"] {
        for entry in std::fs::read_dir(source.join(folder)).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|end| end != "rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("a text");
            seen += text.matches("INTO accesses").count();
            let is_erasure = path.ends_with("erasures.rs");
            assert!(is_erasure || !text.contains("UPDATE accesses"), "{}", path.display());
            if !is_erasure && text.contains("DELETE FROM accesses") {
                assert!(path.ends_with("accesses.rs"), "{}", path.display());
                assert!(
                    text.contains("AND at_ms < ") && text.contains("ORDER BY entry LIMIT"),
                    "{}",
                    path.display()
                );
                forgets += text.matches("DELETE FROM accesses").count();
            }
        }
    }
    assert_eq!(seen, 2, "one statement adds to it in each backend");
    assert_eq!(forgets, 2, "one statement forgets in each backend");
}
