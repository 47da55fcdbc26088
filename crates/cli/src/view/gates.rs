//! Gates as a page.

use nextrung_api::v1;
use nextrung_api::v1::gate_status::Need;

use crate::calendar::{iso, long};
use crate::lexicon::Lexicon;
use crate::output::Layout;
use crate::paragraph::{hanging, list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::chance;
use crate::view::prescription::section;
use crate::words;

/// The page: where the way stands, the gates in order, what is unmet in words, who confirmed what.
pub(crate) fn page(found: &v1::GateReview, who: &str, lexicon: &Lexicon, layout: Layout) -> String {
    let title = format!("{who}, the way to {} on {}", lexicon.rung(&found.rung), long(found.date.as_ref()));
    let mut page = format!("{}\n", layout.strong(&title));
    for sentence in &found.sentences {
        page += &paragraph(sentence, layout.width, 0);
    }
    if !found.gates.is_empty() {
        page += &format!("\n{}", rows(found, lexicon, layout));
    }
    let sections = [
        ("Open", open(found, layout.width)),
        ("Confirmed", confirmations(found, layout)),
        ("Cautions", bullets(&found.cautions, layout.width)),
    ];
    for (title, body) in sections {
        page += &section(title, &body, layout);
    }
    page += &format!("\n{}\n", layout.faint(&format!("from log position {}", found.log_position)));
    page
}

fn rows(found: &v1::GateReview, lexicon: &Lexicon, layout: Layout) -> String {
    let mut table = Columns::new(&["met", "~asks for", "~before", ">best", ">chance", "~by"]);
    for gate in &found.gates {
        let mark = if gate.is_met { "yes" } else { "no" };
        let gated = lexicon.rung(&gate.gated_rung);
        match &gate.need {
            Some(Need::Units(need)) => table.row([
                mark.to_owned(),
                format!("{} of {}", need.at_least, lexicon.rung(&need.rung)),
                gated,
                need.best.to_string(),
                chance(need.probability_now),
                met_by(gate, need),
            ]),
            Some(Need::Clearance(clearance)) => table.row([
                mark.to_owned(),
                words::phrase_of::<v1::Clearance>(*clearance),
                gated,
                String::new(),
                String::new(),
                gate.confirmation.as_ref().map(given).unwrap_or_default(),
            ]),
            None => {}
        }
    }
    table.render(layout)
}

/// What meets a gate that asks for units.
fn met_by(gate: &v1::GateStatus, need: &v1::UnitsNeed) -> String {
    match gate.met_by() {
        v1::GateMeans::Shown => format!("shown {}", iso(need.shown_date.as_ref())),
        v1::GateMeans::Expected => "as good as shown".to_owned(),
        v1::GateMeans::Outgrown => "not asked any more".to_owned(),
        v1::GateMeans::Confirmed | v1::GateMeans::Unspecified => String::new(),
    }
}

/// By whom and when: `coach, 2026-03-01`.
fn given(one: &v1::Confirmation) -> String {
    format!("{}, {}", one.confirmed_by, iso(one.confirmed_date.as_ref()))
}

/// The gates that are not met, with why each is asked for.
fn open(found: &v1::GateReview, width: usize) -> String {
    let unmet = found.gates.iter().filter(|gate| !gate.is_met);
    unmet.map(|gate| hanging("  - ", &format!("{} {}", gate.sentence, gate.why), width)).collect()
}

fn confirmations(found: &v1::GateReview, layout: Layout) -> String {
    if found.confirmations.is_empty() {
        return String::new();
    }
    let mut table = Columns::new(&["clearance", "~by", "on", ">in the log at", ">taken back at"]);
    for one in &found.confirmations {
        let confirmation = one.confirmation.clone().unwrap_or_default();
        table.row([
            words::phrase_of::<v1::Clearance>(confirmation.clearance),
            confirmation.confirmed_by.clone(),
            iso(confirmation.confirmed_date.as_ref()),
            one.sequence.to_string(),
            if one.ended_sequence > 0 { one.ended_sequence.to_string() } else { String::new() },
        ]);
    }
    table.render(layout)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn confirmation(clearance: v1::Clearance) -> v1::Confirmation {
        v1::Confirmation {
            clearance: clearance.into(),
            confirmed_date: Some(v1::Date { year: 2026, month: 3, day: 1 }),
            confirmed_by: "coach".to_owned(),
        }
    }

    fn review() -> v1::GateReview {
        let units = v1::UnitsNeed {
            rung: "ladders/hand-balance/rungs/toe-pull".to_owned(),
            at_least: 5,
            best: 3,
            probability_now: 0.4,
            ..v1::UnitsNeed::default()
        };
        let gated_rung = "ladders/hand-balance/rungs/free-straight".to_owned();
        v1::GateReview {
            rung: gated_rung.clone(),
            date: Some(v1::Date { year: 2026, month: 3, day: 10 }),
            log_position: 12,
            gates: vec![
                v1::GateStatus {
                    gated_rung: gated_rung.clone(),
                    need: Some(Need::Units(units)),
                    why: "Balance at the wall first.".to_owned(),
                    sentence: "Show 5.".to_owned(),
                    ..v1::GateStatus::default()
                },
                v1::GateStatus {
                    gated_rung,
                    need: Some(Need::Clearance(v1::Clearance::ExitPractised.into())),
                    is_met: true,
                    confirmation: Some(confirmation(v1::Clearance::ExitPractised)),
                    ..v1::GateStatus::default()
                },
            ],
            confirmations: vec![v1::ConfirmationRecord {
                confirmation: Some(confirmation(v1::Clearance::ExitPractised)),
                sequence: 2,
                ended_sequence: 0,
            }],
            sentences: vec!["1 of 2 gates is met.".to_owned()],
            cautions: vec!["Care.".to_owned()],
        }
    }

    #[test]
    fn the_way_stands_in_order_with_who_confirmed_what() {
        let expected = "\
hall/wren, the way to hand-balance/free-straight on Tuesday 10 March 2026
1 of 2 gates is met.

  met  asks for                    before                      best  chance  by
  no   5 of hand-balance/toe-pull  hand-balance/free-straight     3    40 %
  yes  exit practised              hand-balance/free-straight                coach, 2026-03-01

Open
  - Show 5. Balance at the wall first.

Confirmed
  clearance       by     on          in the log at
  exit practised  coach  2026-03-01              2

Cautions
  - Care.

from log position 12
";
        assert_eq!(page(&review(), "hall/wren", &Lexicon::default(), Layout::PLAIN), expected);
    }
}
