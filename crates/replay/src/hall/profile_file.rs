//! Profile file: the cast as `athletes.toml`.

use std::fmt::Write;

use crate::hall::cast::{CAST, Person};

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

const HEAD: &str = "\
# An invented strength group of a climbing hall: none of these athletes exists.
# Written by `cargo run --release -p nextrung-replay --bin demo-roster -- data/demo`; do not edit by hand.

[roster]
id = \"climbing-hall\"
title = \"Climbing hall strength group (invented)\"
";

/// The file's text.
pub fn toml() -> String {
    CAST.iter().fold(HEAD.to_owned(), |text, person| text + "\n" + &athlete(person))
}

fn athlete(p: &Person) -> String {
    let mut lines = vec![
        format!("# {}", p.story),
        "[[athlete]]".to_owned(),
        format!("id = \"{}\"", p.id),
        format!("display_name = \"{}\"", p.name),
        format!("birth_date = \"{}\"", p.birth),
        format!("body_mass_kg = {:.1}", p.mass_kg),
        format!("goals = [{}]", quoted(p.goals)),
        format!("equipment = [{}]", quoted(p.equipment)),
        format!("available_weekdays = [{}]", quoted(&weekdays(p.days))),
    ];
    lines.extend(limits(p));
    for (clearance, date, by) in p.cleared {
        lines.push("\n[[athlete.clearance]]".to_owned());
        lines.push(format!("clearance = \"{clearance}\""));
        lines.push(format!("confirmed_date = \"{date}\""));
        lines.push(format!("confirmed_by = \"{by}\""));
    }
    lines.iter().fold(String::new(), |mut text, line| {
        // Writing to a text cannot fail.
        let _ = writeln!(text, "{line}");
        text
    })
}

fn limits(p: &Person) -> Vec<String> {
    let mut fields = Vec::new();
    fields.extend(p.limits.max_pain.map(|n| format!("max_pain = {n}")));
    fields.extend(p.limits.max_sets.map(|n| format!("max_sets_per_session = {n}")));
    fields.extend(p.limits.max_minutes.map(|n| format!("max_minutes = {n}")));
    fields.extend(
        p.limits
            .ban
            .map(|(rung, why)| format!("banned_rungs = [{{ rung = \"{rung}\", reason = \"{why}\" }}]")),
    );
    if !fields.is_empty() {
        fields.insert(0, "\n[athlete.limits]".to_owned());
    }
    fields
}

fn weekdays(days: &[u8]) -> Vec<&'static str> {
    days.iter().filter_map(|d| WEEKDAYS.get(usize::from(*d)).copied()).collect()
}

fn quoted(words: &[&str]) -> String {
    words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ")
}
