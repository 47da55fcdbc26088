//! Calibration: whether chances at the edges of the working band come true as often as they say.

use nextrung_chart::calibration::{Calibration, Event, Step};

use crate::evaluate::summary::{CalibrationStep, EdgeFigures, Summary};
use crate::output::OutputError;
use crate::output::report::figure::{NONE, count, part, score, share};
use crate::output::report::first;
use crate::output::report::page::Page;
use crate::output::report::table::Table;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) -> Result<(), OutputError> {
    page.section("calibration", "Chances at the edges of the working band");
    page.paragraph(
        "Each set is two questions: are at least as many units done as the working band begins with, and more than it ends \
         with? The Brier score of the chances given is miscalibration, less discrimination, plus uncertainty. Uncertainty is \
         that of the sets and the same for all.",
    );
    page.table(&parts(summary));
    let Some(service) = first(summary) else { return Ok(()) };
    let event = |edge: &EdgeFigures| Event {
        words: words(&edge.edge),
        steps: edge.steps.iter().map(|step| place(step, edge.events)).collect(),
    };
    let picture = Calibration {
        title: format!("Chances that the {} gave, and how often they came true", service.name),
        subtitle: "Steps on the broken line are right; below it too much was promised, above it too little.".to_owned(),
        events: service.edges.iter().map(event).collect(),
        notes: vec!["Isotonic regression: sets are pooled until the shares rise with the chance. A bar is as wide as its step.".to_owned()],
    };
    page.picture(&picture.draw()?);
    service.edges.iter().for_each(|edge| page.table(&steps(edge)));
    Ok(())
}

fn words(edge: &str) -> String {
    match edge {
        "low" => "At least the low end of the band".to_owned(),
        "high" => "More than the high end of the band".to_owned(),
        other => other.to_owned(),
    }
}

fn parts(summary: &Summary) -> Table {
    let heads = ["sets", "Brier score", "mis\u{ad}calibration", "discrimi\u{ad}nation", "uncertainty"];
    let mut columns = vec!["forecaster"];
    columns.extend(heads.iter().chain(&heads));
    let mut table = Table::new("Brier score and its parts", &columns).under(&[
        ("", 1),
        (&words("low"), heads.len()),
        (&words("high"), heads.len()),
    ]);
    for one in &summary.forecasters {
        let mut cells = vec![one.name.clone()];
        for name in ["low", "high"] {
            match one.edges.iter().find(|edge| edge.edge == name) {
                Some(e) => {
                    cells.push(count(e.events));
                    cells.extend([e.brier, e.miscalibration, e.discrimination, e.uncertainty].map(score));
                }
                None => cells.extend(heads.map(|_| NONE.to_owned())),
            }
        }
        table.row(cells);
    }
    table
}

fn place(step: &CalibrationStep, sets: u64) -> Step {
    let CalibrationStep { from, to, came, .. } = *step;
    Step { from, to, came, weight: part(step.sets, sets).unwrap_or(0.0) }
}

fn steps(edge: &EdgeFigures) -> Table {
    let caption = format!("{}: the steps", words(&edge.edge));
    let mut table = Table::new(&caption, &["chance said", "share that came", "sets"]).long();
    for step in &edge.steps {
        let chance = |chance: f64| format!("{:.2}\u{a0}%", 100.0 * chance);
        let said = format!("{} to {}", chance(step.from), chance(step.to));
        table.row(vec![said, share(step.came), count(step.sets)]);
    }
    table
}
