//! The record of accesses only grows: no statement changes it but those of an erasure.

use std::path::Path;

#[test]
fn nothing_but_an_erasure_changes_the_record() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut seen = 0;
    for folder in ["", "sqlite", "postgres"] {
        for entry in std::fs::read_dir(source.join(folder)).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|end| end != "rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("a text");
            seen += text.matches("INTO accesses").count();
            let is_erasure = path.ends_with("erasures.rs");
            for change in ["UPDATE accesses", "DELETE FROM accesses"] {
                assert!(is_erasure || !text.contains(change), "{}: {change}", path.display());
            }
        }
    }
    assert_eq!(seen, 2, "one statement adds to it in each backend");
}
