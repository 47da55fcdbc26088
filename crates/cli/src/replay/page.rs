//! Page: the most important figures of a replay, for people.

use std::path::Path;

use nextrung_replay::evaluate::summary::{AdviserFigures, ForecasterFigures, Summary};
use nextrung_replay::simulate::bootstrap::Estimate;

use crate::output::Layout;
use crate::paragraph::{list, paragraph};
use crate::table::Columns;

const LEGEND: &str = "Log score: mean of -ln of the chance given to how a set ended, with its cause; smaller is better, and the \
                      difference is the service's less the other's, with its 99 % interval over athletes. Ranked: how far the \
                      chances lay from the count, in units. In 80 %: share of counts in the central interval, against the share \
                      it was given.";

/// The page.
pub(super) fn page(summary: &Summary, folder: &Path, layout: Layout) -> String {
    let counts = &summary.counts;
    let head = format!(
        "{} sets of {} athletes scored, of {} read",
        counts.sets_scored, counts.athletes_scored, counts.sets
    );
    let mut page = format!("{}\n", layout.strong(&head));
    let left_out = counts.excluded.iter().map(|(why, sets)| format!("{sets} left out: {why}"));
    let notes = counts.notes.iter().map(|(note, times)| format!("{times} {note}"));
    page += &list(&left_out.chain(notes).collect::<Vec<_>>(), layout.width);
    page += &format!("\n{}\n{}", layout.strong("Predictions"), forecasters(summary, layout));
    page += &format!("\n{}", paragraph(LEGEND, layout.width, 0));
    if !summary.advisers.is_empty() {
        page += &format!("\n{}\n{}", layout.strong("Advice held against the log"), advisers(summary, layout));
    }
    page += &format!("\n{}\n{}", layout.strong("What this says"), list(&summary.conclusions, layout.width));
    let m = &summary.manifest;
    let origin = format!(
        "{}, {}, seed {}. Written to {}.",
        m.model_version,
        m.policy_version,
        m.seed,
        folder.display()
    );
    page + &format!("\n{}\n", layout.faint(&origin))
}

fn forecasters(summary: &Summary, layout: Layout) -> String {
    let mut table = Columns::new(&[
        "forecaster",
        ">log score",
        ">difference",
        ">ranked",
        ">Brier low",
        ">Brier high",
        ">in 80 %",
    ]);
    for f in &summary.forecasters {
        let brier = |edge: &str| {
            f.edges.iter().find(|e| e.edge == edge).map_or_else(String::new, |e| format!("{:.4}", e.brier))
        };
        table.row([
            f.name.clone(),
            format!("{:.4}", f.log_score),
            f.difference.map_or_else(String::new, signed),
            f.ranked.map_or_else(String::new, |ranked| format!("{ranked:.3}")),
            brier("low"),
            brier("high"),
            coverage(f),
        ]);
    }
    table.render_wide(layout)
}

fn coverage(f: &ForecasterFigures) -> String {
    let at = f.intervals.iter().find(|i| (i.level - 0.8).abs() < 1e-9);
    at.map_or_else(String::new, |i| format!("{} of {}", percent(i.found), percent(i.expected)))
}

fn advisers(summary: &Summary, layout: Layout) -> String {
    let mut table = Columns::new(&[
        "adviser",
        ">days",
        ">log did as advised",
        ">in band then",
        ">in band at all",
        ">switches a month",
    ]);
    for a in &summary.advisers {
        let share = |estimate: Option<Estimate>| estimate.map_or_else(String::new, |e| percent(e.mean));
        table.row([
            a.name.clone(),
            a.days[0].to_string(),
            share(a.agreement),
            share(a.in_band_as_advised),
            share(a.in_band),
            a.switches_a_month.map_or_else(String::new, |e| format!("{:.1}", e.mean)),
        ]);
    }
    if let Some(switches) = summary.advisers.first().and_then(|a: &AdviserFigures| a.log_switches_a_month) {
        let cells = ["the log itself", "", "", "", ""].map(str::to_owned);
        table.row(cells.into_iter().chain([format!("{:.1}", switches.mean)]));
    }
    table.render_wide(layout)
}

fn signed(estimate: Estimate) -> String {
    format!("{:+.3} ({:+.3} to {:+.3})", estimate.mean, estimate.low, estimate.high)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}
