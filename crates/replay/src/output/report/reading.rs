//! Reading: what was read, what of it was scored, and what was left out.

use std::collections::BTreeMap;

use crate::evaluate::summary::Summary;
use crate::output::report::figure::count;
use crate::output::report::page::Page;
use crate::output::report::table::Table;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) {
    let counts = &summary.counts;
    page.section("read", "What was read and what was left out");
    let mut read = Table::new("Athletes and sets", &["", "number"]);
    for (what, number) in [
        ("athletes read", counts.athletes),
        ("athletes with sets that were scored", counts.athletes_scored),
        ("sets read", counts.sets),
        ("sets scored", counts.sets_scored),
        ("of these, sets that went on to their target or a failure", counts.sets_whole),
    ] {
        read.row(vec![what.to_owned(), count(number)]);
    }
    page.table(&read);
    page.paragraph(
        "Ranked scores, band edges, intervals and ranks are of the sets that went on to their target or a failure. Of the \
         others it is only known that more could have been done; they are scored by the log score alone.",
    );
    listed(page, &counts.excluded, ("Sets not scored, by why", "sets"), "No set was left out.");
    listed(
        page,
        &counts.notes,
        ("What deserves a word", "times"),
        "Nothing else about the logs deserves a word.",
    );
}

fn listed(page: &mut Page, found: &BTreeMap<String, u64>, (caption, head): (&str, &str), none: &str) {
    if found.is_empty() {
        page.paragraph(none);
        return;
    }
    let mut table = Table::new(caption, &["", head]);
    for (words, number) in found {
        table.row(vec![words.clone(), count(*number)]);
    }
    page.table(&table);
}
