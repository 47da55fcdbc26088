//! Figures as JSON and back.

use nextrung_replay::output::{OutputError, json};

use crate::sample::summary;

#[test]
fn figures_come_back_as_they_were() {
    let text = json::write(&summary()).expect("JSON");
    assert_eq!(json::read(&text).expect("figures"), summary());
    assert_eq!(text, json::write(&summary()).expect("JSON"));
    assert!(text.starts_with("{\n  \"manifest\": {\n    \"program\": \"1.2.3\"") && text.ends_with("}\n"));
    let keys: Vec<&str> =
        text.lines().filter_map(|line| line.strip_prefix("  \"")?.split('"').next()).collect();
    assert_eq!(
        keys,
        ["manifest", "counts", "forecasters", "gap_closed", "groups", "advisers", "conclusions"]
    );
}

#[test]
fn what_is_no_number_is_refused() {
    for wrong in [f64::NAN, f64::INFINITY] {
        let mut score = summary();
        score.forecasters[0].log_score = wrong;
        assert!(matches!(json::write(&score), Err(OutputError::NotFinite)), "{wrong} needed");
        let mut optional = summary();
        optional.forecasters[1].ranked = Some(wrong);
        assert!(matches!(json::write(&optional), Err(OutputError::NotFinite)), "{wrong} optional");
    }
}

#[test]
fn other_text_is_refused_with_its_place() {
    let refused = json::read("{\n  \"manifest\": 3\n}").expect_err("refused").to_string();
    assert!(refused.contains("line 2"), "{refused}");
}
