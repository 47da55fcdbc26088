//! Group: sets looked at apart.

use crate::evaluate::summary::Summary;
use crate::output::report::figure::{count, score};
use crate::output::report::page::Page;
use crate::output::report::table::Table;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) {
    page.section("groups", "Sets looked at apart");
    page.paragraph(
        "Mean log scores, nats a set. A set stands in one row of each kind. Scores compare forecasters within a row; rows \
         differ in how much can be foretold at all. Rows of few sets say little.",
    );
    let mut kinds: Vec<&str> = summary.groups.iter().map(|group| group.by.as_str()).collect();
    kinds.dedup();
    for kind in kinds {
        let mut table = Table::new(&format!("By {kind}"), &[kind, "sets"]);
        summary.forecasters.iter().for_each(|one| table.column(&one.name));
        for group in summary.groups.iter().filter(|group| group.by == kind) {
            let mut cells = vec![group.group.clone(), count(group.sets)];
            cells.extend(group.log_scores.iter().map(|value| score(*value)));
            table.row(cells);
        }
        page.table(&table);
    }
}
