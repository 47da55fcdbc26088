//! Score: how good each forecaster was, and by how much the first differs from it.

use nextrung_chart::intervals::{Figure, Intervals, Line, Scale, Side};

use crate::evaluate::summary::{ForecasterFigures, Summary};
use crate::output::OutputError;
use crate::output::report::figure::{NONE, change, change_range, count, estimate, score, share};
use crate::output::report::first;
use crate::output::report::page::Page;
use crate::output::report::table::Table;
use crate::simulate::bootstrap::Estimate;

/// Below so many athletes it is said that intervals over them are too short (common practice, no source).
const FEW_ATHLETES: u64 = 20;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) -> Result<(), OutputError> {
    page.section("scores", "How good each forecaster was");
    let mut about = Table::new("Who foretold", &["forecaster", "what it is"]).with_words(1);
    summary.forecasters.iter().for_each(|one| about.row(vec![one.name.clone(), one.about.clone()]));
    page.table(&about);
    page.table(&scores(summary));
    let Some(service) = first(summary) else { return Ok(()) };
    let level = share_of(summary.manifest.interval_level);
    page.heading(&format!("The {} against each of them", service.name));
    let lines: Vec<Line> =
        others(summary).map(line).filter(|line| line.figures.iter().any(Option::is_some)).collect();
    if lines.is_empty() {
        page.paragraph("There is nobody to hold it against, or too few athletes for an interval.");
    } else {
        page.picture(&picture(service, &level, lines).draw()?);
    }
    page.table(&differences(summary, service, &level));
    caution(page, summary);
    if let Some(closed) = summary.gap_closed {
        page.paragraph(&format!(
            "Share of the gap between the climatology and an oracle that is closed: {}.",
            estimate(Some(closed), share)
        ));
    }
    Ok(())
}

/// What a row of intervals does not say.
fn caution(page: &mut Page, summary: &Summary) {
    let intervals = others(summary).filter(|one| one.difference.is_some()).count();
    if intervals > 1 {
        page.paragraph(&format!(
            "Each interval speaks for itself alone: with {intervals} side by side it is likelier that some one misleads."
        ));
    }
    let athletes = summary.counts.athletes_scored;
    if intervals > 0 && athletes < FEW_ATHLETES {
        page.paragraph(&format!(
            "All rest on {athletes} athletes. With fewer than some {FEW_ATHLETES} such intervals tend to be too short."
        ));
    }
}

/// `99 %`.
pub(crate) fn share_of(level: f64) -> String {
    format!("{}\u{a0}%", (1000.0 * level).round() / 10.0)
}

fn others(summary: &Summary) -> impl Iterator<Item = &ForecasterFigures> {
    summary.forecasters.iter().skip(1)
}

fn scores(summary: &Summary) -> Table {
    let level = share_of(summary.manifest.interval_level);
    let mut table = Table::new(
        "Mean scores",
        &[
            "forecaster",
            "mean",
            &format!("{level} interval"),
            "of the count alone",
            "ranked score, units",
            "no chance",
        ],
    )
    .under(&[("", 1), ("log score, nats a set", 3), ("", 2)]);
    for one in &summary.forecasters {
        let range = |e: Estimate| format!("{} to {}", score(e.low), score(e.high));
        table.row(vec![
            one.name.clone(),
            score(one.log_score),
            one.log_score_interval.map_or(NONE.to_owned(), range),
            score(one.log_score_of_count),
            one.ranked.map_or(NONE.to_owned(), score),
            count(one.no_chance),
        ]);
    }
    table
}

fn differences(summary: &Summary, service: &ForecasterFigures, level: &str) -> Table {
    let interval = format!("{level} interval");
    let caption =
        format!("Score of the {} less that of each other; below zero it is the better", service.name);
    let mut table = Table::new(
        &caption,
        &["against", "mean", &interval, "the interval says", "mean", &interval, "the interval says"],
    )
    .under(&[("", 1), ("log score, nats a set", 3), ("ranked score, units", 3)]);
    for one in others(summary) {
        let mut cells = vec![one.name.clone()];
        for found in [one.difference, one.ranked_difference] {
            cells.extend([change(found), change_range(found), verdict(found).to_owned()]);
        }
        table.row(cells);
    }
    table
}

fn verdict(difference: Option<Estimate>) -> &'static str {
    match difference {
        Some(d) if d.high < 0.0 => "better",
        Some(d) if d.low > 0.0 => "worse",
        Some(_) => "open",
        None => NONE,
    }
}

fn line(one: &ForecasterFigures) -> Line {
    let figure = |found: Option<Estimate>| found.map(|e| Figure { value: e.mean, interval: (e.low, e.high) });
    Line { name: one.name.clone(), figures: vec![figure(one.difference), figure(one.ranked_difference)] }
}

fn picture(service: &ForecasterFigures, level: &str, lines: Vec<Line>) -> Intervals {
    let side = |words: &str| Side { words: words.to_owned(), scale: Scale::Difference };
    Intervals {
        id: "differences",
        title: format!("Score of the {} less that of each other forecaster", service.name),
        subtitle: format!("Left of the broken line at zero the {} is the better.", service.name),
        sides: vec![side("log score, nats a set"), side("ranked probability score, units")],
        lines,
        notes: vec![format!("Disc: mean over sets. Whisker: {level} interval, athletes drawn anew.")],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_decides_not_the_mean() {
        let said = |mean: f64, low: f64, high: f64| verdict(Some(Estimate { mean, low, high }));
        assert_eq!([said(-0.2, -0.3, -0.1), said(0.2, 0.1, 0.3)], ["better", "worse"]);
        assert_eq!([said(-0.2, -0.3, 0.1), said(0.2, -0.1, 0.3), said(0.0, 0.0, 0.0)], ["open"; 3]);
        assert_eq!(verdict(None), NONE);
    }

    #[test]
    fn levels_are_said_in_percent() {
        assert_eq!([0.99, 0.999, 0.5].map(share_of), ["99\u{a0}%", "99.9\u{a0}%", "50\u{a0}%"]);
    }
}
