//! Prescriptions as pages.

use nextrung_api::v1;

use crate::calendar::{iso, long};
use crate::lexicon::Lexicon;
use crate::names::short;
use crate::output::Layout;
use crate::paragraph::{hanging, list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::{chance, dose, likely, rest};
use crate::view::hold_back;
use crate::words;

/// A list of prescriptions.
pub(crate) fn list(prescriptions: &[v1::Prescription], layout: Layout) -> String {
    if prescriptions.is_empty() {
        return "no prescriptions yet: nextrung prescribe ROSTER/ATHLETE\n".to_owned();
    }
    let mut table = Columns::new(&["day", "kind", "~what", "prescription"]);
    for one in prescriptions {
        table.row([
            iso(one.date.as_ref()),
            words::phrase_of::<v1::PrescriptionKind>(one.kind),
            one.headline.clone(),
            short(&one.name),
        ]);
    }
    table.render_wide(layout)
}

/// One prescription with everything in it.
pub(crate) fn page(made: &v1::Prescription, who: &str, lexicon: &Lexicon, layout: Layout) -> String {
    let mut page = format!("{}\n", layout.strong(&title(made, who)));
    page += &paragraph(&made.headline, layout.width, 0);
    page += &work(made, lexicon, layout);
    for (at, item) in made.items.iter().enumerate() {
        page += &details(at + 1, item, lexicon, layout);
    }
    let sections = [
        ("Goals", goals(made, layout.width)),
        ("Held back", hold_back::page(&made.hold_backs, lexicon, layout.width)),
        ("Ladders against last time", bullets(&direction_sentences(made, lexicon), layout.width)),
        ("The day", sentences(&made.reasons, layout.width)),
        ("Cautions", bullets(&made.cautions, layout.width)),
    ];
    for (title, body) in sections {
        page += &section(title, &body, layout);
    }
    page += &format!("\n{}\n", layout.faint(&origin(made)));
    page
}

/// Who and for which day, and what kind of day it is.
pub(crate) fn title(made: &v1::Prescription, who: &str) -> String {
    let kind = match v1::PrescriptionKind::try_from(made.kind) {
        Ok(v1::PrescriptionKind::Training) => "training",
        Ok(v1::PrescriptionKind::Test) => "a short test",
        Ok(v1::PrescriptionKind::Rest) => "rest",
        Ok(v1::PrescriptionKind::HeldBack) => "held back",
        Ok(v1::PrescriptionKind::Unspecified) | Err(_) => "see below",
    };
    format!("{who}, {}: {kind}", long(made.date.as_ref()))
}

/// What to do, as a table; nothing when there is nothing to do.
pub(crate) fn work(made: &v1::Prescription, lexicon: &Lexicon, layout: Layout) -> String {
    if made.items.is_empty() {
        return String::new();
    }
    let mut table = Columns::new(&[">", "part", "~what", ">dose", ">rest", ">could do (80 %)", ">chance"]);
    for (at, item) in made.items.iter().enumerate() {
        let expected = item.expected.clone().unwrap_or_default();
        table.row([
            (at + 1).to_string(),
            words::phrase_of::<v1::Block>(item.block).replace(" practice", ""),
            lexicon.work(&item.rung, &item.shadings, item.load_kg),
            dose(item),
            rest(item.rest_seconds),
            likely(expected.median_units, expected.interval.as_ref()),
            chance(hit(item.block, &expected)),
        ]);
    }
    format!("\n{}", table.render(layout))
}

/// The chance that a set does what it is for: a test set reaches its target, any other falls into the band.
pub(crate) fn hit(block: i32, expected: &v1::Expectation) -> f64 {
    if block != i32::from(v1::Block::Test) {
        return expected.p_band;
    }
    let reached = expected.stops.iter().find(|stop| stop.stop == i32::from(v1::Stop::Target));
    reached.map_or(0.0, |stop| stop.probability)
}

/// Why one item, when to stop it, what to think of.
fn details(number: usize, item: &v1::PrescribedItem, lexicon: &Lexicon, layout: Layout) -> String {
    let title = format!("{number}  {}", lexicon.work(&item.rung, &item.shadings, item.load_kg));
    let mut page = format!("\n{}\n", layout.strong(&title));
    for (at, reason) in item.reasons.iter().enumerate() {
        let mark = if at == 0 { "   why   " } else { "         " };
        page += &hanging(mark, &reason.sentence, layout.width);
    }
    if let Some(rule) = &item.stop_rule {
        page += &hanging("   stop  ", &rule.sentence, layout.width);
    }
    if !item.cues.is_empty() {
        page += &hanging("   cues  ", &item.cues.join(" "), layout.width);
    }
    page
}

/// Where the athlete stands with each goal.
pub(crate) fn goals(made: &v1::Prescription, width: usize) -> String {
    bullets(&goal_sentences(made), width)
}

/// The same as sentences.
pub(crate) fn goal_sentences(made: &v1::Prescription) -> Vec<String> {
    let sentence = |goal: &v1::GoalStatus| {
        let by = goal.by_date.map(|day| format!(" Wished for by {}.", iso(Some(&day)))).unwrap_or_default();
        format!("{}{by}", goal.sentence)
    };
    made.goal_statuses.iter().map(sentence).collect()
}

/// Where each ladder goes against last time, in sentences.
pub(crate) fn direction_sentences(made: &v1::Prescription, lexicon: &Lexicon) -> Vec<String> {
    let sentence = |one: &v1::LadderDirection| {
        let where_to = words::phrase_of::<v1::Direction>(one.direction);
        let why = one.reason.as_ref().map(|reason| reason.sentence.as_str()).unwrap_or_default();
        format!("{}: {where_to}. {why}", lexicon.ladder(&one.ladder))
    };
    made.directions.iter().map(sentence).collect()
}

/// The sentences of reasons, one a line.
pub(crate) fn sentences(reasons: &[v1::Reason], width: usize) -> String {
    let sentences: Vec<String> = reasons.iter().map(|reason| reason.sentence.clone()).collect();
    bullets(&sentences, width)
}

/// A titled section; nothing when it is empty.
pub(crate) fn section(title: &str, body: &str, layout: Layout) -> String {
    if body.is_empty() { String::new() } else { format!("\n{}\n{body}", layout.strong(title)) }
}

/// What it was made from.
pub(crate) fn origin(made: &v1::Prescription) -> String {
    let name = if made.name.is_empty() { "not kept".to_owned() } else { short(&made.name) };
    format!(
        "{name}; from log position {}, {}, {}",
        made.log_position, made.policy_version, made.model_version
    )
}

#[cfg(test)]
mod tests;
