//! Ladders as pages.

use nextrung_api::v1;

use crate::names::{last, short};
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::range;
use crate::words;

/// A list of ladders.
pub(crate) fn list(ladders: &[v1::Ladder], layout: Layout) -> String {
    let mut table = Columns::new(&["ladder", "name", ">rungs", "side", "~about"]);
    for ladder in ladders {
        table.row([
            short(&ladder.name),
            ladder.display_name.clone(),
            ladder.rungs.len().to_string(),
            words::word_of::<v1::Side>(ladder.side),
            ladder.about.clone(),
        ]);
    }
    table.render_wide(layout)
}

/// One ladder from easy to hard.
pub(crate) fn page(ladder: &v1::Ladder, layout: Layout) -> String {
    let side = words::word_of::<v1::Side>(ladder.side);
    let title =
        format!("{}: {} ({side}, version {})", short(&ladder.name), ladder.display_name, ladder.version);
    let mut page = format!("{}\n", layout.strong(&title));
    page += &paragraph(&ladder.about, layout.width, 0);
    page += "\n";
    let mut table = Columns::new(&["rung", "~name", "unit", ">work", ">attempt", "~asks first for"]);
    for rung in &ladder.rungs {
        table.row([
            last(&rung.name).to_owned(),
            rung.display_name.clone(),
            words::unit(rung.unit).to_owned(),
            band(rung.working_band),
            band(rung.attempt_band),
            gates(rung).join("; "),
        ]);
    }
    page += &table.render(layout);
    if !ladder.shadings.is_empty() {
        page += "\nShadings\n";
        let mut table = Columns::new(&["id", "~name", "~changes the difficulty by", "~needs"]);
        for shading in &ladder.shadings {
            table.row([
                shading.shading_id.clone(),
                shading.display_name.clone(),
                changes(shading),
                shading.equipment.join(", "),
            ]);
        }
        page += &table.render(layout);
    }
    if !ladder.cautions.is_empty() {
        page += &format!("\nCautions\n{}", bullets(&ladder.cautions, layout.width));
    }
    page
}

fn band(band: Option<v1::Band>) -> String {
    band.map_or_else(String::new, |band| range(band.low, band.high))
}

fn gates(rung: &v1::Rung) -> Vec<String> {
    let mut asked: Vec<String> = Vec::new();
    if !rung.equipment.is_empty() {
        asked.push(rung.equipment.join(", "));
    }
    for gate in &rung.gates {
        match &gate.condition {
            Some(v1::gate::Condition::Rung(shown)) => {
                let unit = words::unit(shown.unit);
                asked.push(format!("{} {unit} of {}", shown.at_least, short(&shown.rung)));
            }
            Some(v1::gate::Condition::Clearance(clearance)) => {
                asked.push(format!("clearance {}", words::phrase_of::<v1::Clearance>(*clearance)));
            }
            None => {}
        }
    }
    asked
}

fn changes(shading: &v1::Shading) -> String {
    let change = |change: &v1::DifficultyChange| format!("{:+.2} {}", change.change, change.ability);
    shading.changes.iter().map(change).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_shows_rungs_gates_and_shadings() {
        let gate = v1::RungGate {
            rung: "ladders/pull/rungs/hang".to_owned(),
            at_least: 20,
            unit: i32::from(v1::Unit::HoldSeconds),
        };
        let rung = v1::Rung {
            name: "ladders/pull/rungs/pull-up".to_owned(),
            display_name: "Pull-up".to_owned(),
            unit: i32::from(v1::Unit::Reps),
            equipment: vec!["bar".to_owned()],
            working_band: Some(v1::Band { low: 3, high: 5 }),
            attempt_band: Some(v1::Band { low: 1, high: 2 }),
            gates: vec![v1::Gate { condition: Some(v1::gate::Condition::Rung(gate)), why: String::new() }],
            ..v1::Rung::default()
        };
        let shading = v1::Shading {
            shading_id: "light-band".to_owned(),
            display_name: "light band".to_owned(),
            changes: vec![v1::DifficultyChange { ability: "vertical-pull".to_owned(), change: -0.3 }],
            equipment: vec!["band".to_owned()],
            ..v1::Shading::default()
        };
        let ladder = v1::Ladder {
            name: "ladders/pull".to_owned(),
            display_name: "Pulling".to_owned(),
            version: 2,
            side: i32::from(v1::Side::BentArm),
            about: "Up a bar.".to_owned(),
            cautions: vec!["Check the bar.".to_owned()],
            shadings: vec![shading],
            rungs: vec![rung],
        };
        let expected = "pull: Pulling (bent-arm, version 2)
Up a bar.

  rung     name     unit  work  attempt  asks first for
  pull-up  Pull-up  reps   3-5      1-2  bar; 20 s of pull/hang

Shadings
  id          name        changes the difficulty by  needs
  light-band  light band  -0.30 vertical-pull        band

Cautions
  - Check the bar.
";
        assert_eq!(page(&ladder, Layout::PLAIN), expected);
    }
}
