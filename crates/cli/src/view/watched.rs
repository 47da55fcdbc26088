//! What a watcher is told, as a few lines.

use nextrung_api::v1;

use crate::calendar::long;
use crate::lexicon::Lexicon;
use crate::output::Layout;
use crate::paragraph::paragraph;
use crate::view::figure::dose;
use crate::words;

/// The cautions that come before all others: the general one, and that of a minor.
const CAUTIONS: usize = 2;

/// The first time the parts of the day, later what changed.
pub(crate) fn page(
    told: &v1::WatchPrescriptionsResponse,
    who: &str,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let made = told.prescription.clone().unwrap_or_default();
    let title = format!("{who}, {}", long(made.date.as_ref()));
    let mut page = format!("{}\n", layout.strong(&title));
    if told.change.is_empty() {
        for item in &made.items {
            let work = lexicon.work(&item.rung, &item.shadings, item.load_kg);
            let part = words::phrase_of::<v1::Block>(item.block);
            page += &paragraph(&format!("{part}: {work}, {}", dose(item)), layout.width, 2);
        }
        if made.items.is_empty() {
            page += &paragraph(&made.headline, layout.width, 2);
        }
    } else {
        page += &paragraph(&told.change, layout.width, 2);
    }
    for hold in made.hold_backs.iter().filter(|hold| hold.kind() == v1::HoldBackKind::Pain) {
        page += &paragraph(&format!("Held back: {} {}", hold.detail, hold.opened_by), layout.width, 2);
    }
    page +=
        &made.cautions.iter().take(CAUTIONS).map(|text| paragraph(text, layout.width, 2)).collect::<String>();
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_time_the_day_is_shown_and_later_the_change() {
        let item = v1::PrescribedItem {
            block: i32::from(v1::Block::Working),
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            sets: 4,
            target_low: 3,
            target_high: 5,
            unit: i32::from(v1::Unit::Reps),
            ..v1::PrescribedItem::default()
        };
        let prescription = Some(v1::Prescription {
            date: Some(v1::Date { year: 2026, month: 11, day: 24 }),
            items: vec![item],
            headline: "Train: pull-up.".to_owned(),
            ..v1::Prescription::default()
        });
        let first = v1::WatchPrescriptionsResponse { prescription, ..Default::default() };
        let shown = page(&first, "hall/wren", &Lexicon::default(), Layout::PLAIN);
        assert_eq!(shown, "hall/wren, Tuesday 24 November 2026\n  working: pull/pull-up, 4 x 3-5 reps\n");
        let later = v1::WatchPrescriptionsResponse { change: "Now rest.".to_owned(), ..first };
        let shown = page(&later, "hall/wren", &Lexicon::default(), Layout::PLAIN);
        assert_eq!(shown, "hall/wren, Tuesday 24 November 2026\n  Now rest.\n");
    }
}
