//! Report: the figures of a replay as one page that stands alone, for somebody who means to check them.
//!
//! It is HTML that is XML as well, with its pictures as SVG inside. Nothing runs, nothing is loaded, and no colour is needed:
//! greys, dashes and words. Every picture has its figures in a table below it. The same figures give the same bytes.

use crate::evaluate::summary::{ForecasterFigures, Summary};
use crate::output::OutputError;
use crate::output::report::page::Page;

mod advice;
mod calibration;
mod check;
mod figure;
mod group;
mod manifest;
mod page;
mod reading;
mod score;
mod spread;
mod style;
mod table;

/// The page.
///
/// # Errors
///
/// [`OutputError::Picture`] when a figure is no finite number.
pub fn html(summary: &Summary) -> Result<String, OutputError> {
    let mut page = Page::new("How well sets were foretold");
    opening(&mut page, summary);
    page.section("concluded", "What can be concluded");
    page.list(&summary.conclusions);
    reading::add(&mut page, summary);
    score::add(&mut page, summary)?;
    calibration::add(&mut page, summary)?;
    spread::add(&mut page, summary)?;
    group::add(&mut page, summary);
    advice::add(&mut page, summary)?;
    check::add(&mut page, summary);
    manifest::add(&mut page, &summary.manifest);
    Ok(page.finish())
}

fn opening(page: &mut Page, summary: &Summary) {
    let counts = &summary.counts;
    page.paragraph(&format!(
        "{} of {} were gone through in the order in which they arrived. Before each one, {} said how it may end, knowing \
         nothing that arrived later; then it was looked up how it did end. {} were scored. All scores are losses: smaller is \
         better.",
        figure::counted(counts.sets, "set", "sets"),
        figure::counted(counts.athletes, "athlete", "athletes"),
        figure::counted(figure::length(&summary.forecasters), "forecaster", "forecasters"),
        figure::count(counts.sets_scored),
    ));
}

/// The forecaster that all others are held against; none in a summary without forecasters.
fn first(summary: &Summary) -> Option<&ForecasterFigures> {
    summary.forecasters.first()
}
