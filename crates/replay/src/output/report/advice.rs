//! Advice: what would have been advised, held against what was done, and what that cannot say.

use nextrung_chart::intervals::{Figure, Intervals, Line, Scale, Side};

use crate::evaluate::summary::{AdviserFigures, StandFigures, Summary};
use crate::output::OutputError;
use crate::output::report::figure::{NONE, count, estimate, part, share};
use crate::output::report::page::Page;
use crate::output::report::score::share_of;
use crate::output::report::table::Table;
use crate::simulate::bootstrap::Estimate;

/// Adds the section; nothing when nobody advised.
pub(crate) fn add(page: &mut Page, summary: &Summary) -> Result<(), OutputError> {
    if summary.advisers.is_empty() {
        return Ok(());
    }
    page.section("advice", "Advice held against the logs");
    page.paragraph(
        "For each day in the logs it was worked out, from what was known before that day, what each adviser would have said. \
         The tables count how often the log did that, and how its working sets went where it did and where it did not.",
    );
    page.paragraph(
        "This does not say what any advice is worth. Nobody was told by lot what to do. Whoever departs from advice has \
         reasons that the log does not hold: sets that were done differ from those that were not in more than the advice. A \
         higher share in band beside one adviser is no ground for following it.",
    );
    let level = share_of(summary.manifest.interval_level);
    page.picture(&picture(summary, &level).draw()?);
    page.table(&rates(summary, &level));
    page.table(&days(summary));
    for one in &summary.advisers {
        page.table(&stands(one));
    }
    Ok(())
}

fn picture(summary: &Summary, level: &str) -> Intervals {
    let figure = |found: Option<Estimate>| found.map(|e| Figure { value: e.mean, interval: (e.low, e.high) });
    let side = |words: &str| Side { words: words.to_owned(), scale: Scale::Share };
    let line = |one: &AdviserFigures| Line {
        name: one.name.clone(),
        figures: vec![figure(one.agreement), figure(one.in_band_as_advised)],
    };
    Intervals {
        id: "advice",
        title: "How often the log did as advised, and how its sets went there".to_owned(),
        subtitle: "Descriptions of what was done; not what following an adviser would have brought."
            .to_owned(),
        sides: vec![
            side("days and ladders on which the log did as advised"),
            side("working sets in band where it did"),
        ],
        lines: summary.advisers.iter().map(line).collect(),
        notes: vec![format!("Disc: mean. Whisker: {level} interval, athletes drawn anew.")],
    }
}

fn rates(summary: &Summary, level: &str) -> Table {
    let caption = format!("Rates with their {level} intervals over athletes");
    let mut table = Table::new(
        &caption,
        &[
            "adviser",
            "did as advised",
            "in band, all",
            "in band, as advised",
            "advice changed, a month",
            "log changed, a month",
        ],
    );
    let rate = |value: f64| format!("{value:.2}");
    for one in &summary.advisers {
        table.row(vec![
            one.name.clone(),
            estimate(one.agreement, share),
            estimate(one.in_band, share),
            estimate(one.in_band_as_advised, share),
            estimate(one.switches_a_month, rate),
            estimate(one.log_switches_a_month, rate),
        ]);
    }
    table
}

fn days(summary: &Summary) -> Table {
    let mut table =
        Table::new("Days advised, by kind", &["adviser", "all", "training", "test", "rest", "held back"]);
    for one in &summary.advisers {
        let mut cells = vec![one.name.clone()];
        cells.extend(one.days.map(count));
        table.row(cells);
    }
    table
}

fn stands(one: &AdviserFigures) -> Table {
    let caption = format!("How logged working sets went beside the advice of {}", one.name);
    let heads = [
        "the log was",
        "days and ladders",
        "sets",
        "in band",
        "below",
        "above",
        "strength",
        "balance",
        "line",
        "not said",
        "pain",
        "share in band",
    ];
    let mut table =
        Table::new(&caption, &heads).under(&[("", 3), ("units done", 3), ("failed for", 4), ("", 2)]);
    for StandFigures { stand, ladder_days, went } in &one.stands {
        let mut cells = vec![stand.words().to_owned(), count(*ladder_days)];
        cells.extend([went.sets, went.in_band, went.below, went.above].map(count));
        cells.extend(went.failed.map(count));
        cells.push(count(went.pain));
        cells.push(part(went.in_band, went.sets).map_or(NONE.to_owned(), share));
        table.row(cells);
    }
    table
}
