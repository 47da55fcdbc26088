//! Manifest: what a replay was made from, as the report ends with it.

use nextrung_domain::date::CivilDate;

use crate::evaluate::summary::Manifest;
use crate::output::report::figure::{NONE, count, counted};
use crate::output::report::page::Page;
use crate::output::report::score::share_of;
use crate::output::report::table::Table;

/// Adds the section.
pub(crate) fn add(page: &mut Page, manifest: &Manifest) {
    page.section("manifest", "What this was made from");
    if manifest.data.is_empty() {
        page.paragraph("No hash of the data was kept: this replay cannot be tied to its logs.");
    } else {
        let mut data = Table::new("Data", &["read", "SHA-256", "bytes"]).with_words(1);
        for one in &manifest.data {
            data.row(vec![one.name.clone(), one.sha256.clone(), count(one.bytes)]);
        }
        page.table(&data);
    }
    let mut settings = Table::new("Versions and settings", &["", "as it was"]).with_words(1);
    for (name, value) in settings_of(manifest) {
        settings.row(vec![name.to_owned(), value]);
    }
    page.table(&settings);
}

fn settings_of(manifest: &Manifest) -> Vec<(&'static str, String)> {
    let Manifest { selection, .. } = manifest;
    let all = |names: Vec<String>| if names.is_empty() { "all".to_owned() } else { names.join(", ") };
    let date = |date: Option<CivilDate>| date.map_or("open".to_owned(), |date| date.to_string());
    let ladders = manifest.ladder_versions.iter().map(|(id, version)| format!("{id} {version}"));
    vec![
        ("program", manifest.program.clone()),
        ("model and parameters", manifest.model_version.clone()),
        ("challenger", manifest.challenger_version.clone().unwrap_or_else(|| "none".to_owned())),
        ("rules", manifest.policy_version.clone()),
        ("ladders and their versions", ladders.collect::<Vec<_>>().join(", ")),
        ("first training date scored", date(selection.from)),
        ("last training date scored", date(selection.to)),
        ("ladders scored", all(selection.ladders.iter().map(ToString::to_string).collect())),
        ("athletes scored", all(selection.athletes.iter().cloned().collect())),
        ("warm-up in which nothing is scored", counted(selection.warm_up_days.into(), "day", "days")),
        ("forecasters", manifest.forecasters.join(", ")),
        (
            "advisers",
            if manifest.advisers.is_empty() { NONE.to_owned() } else { manifest.advisers.join(", ") },
        ),
        (
            "forecasters that learn from all athletes are taught anew every",
            counted(u64::try_from(manifest.block_days).unwrap_or(0), "day", "days"),
        ),
        ("seed", manifest.seed.to_string()),
        ("level of intervals", share_of(manifest.interval_level)),
    ]
}
