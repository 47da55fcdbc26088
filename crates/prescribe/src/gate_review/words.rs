//! Words: gates as a coach would tell them.

use nextrung_domain::catalog::RungIx;

use super::{GateStatus, Means, Need, UnitsNeed};
use crate::hold_back::{HoldBackKind, clearance_opened_by, of_rung};
use crate::situation::Situation;
use crate::wording::{amount, capital, clean, percent, small};

/// One gate in a sentence: what showed or confirmed it, or what would.
pub(super) fn gate(at: &Situation<'_>, gated: RungIx, need: &Need, met_by: Option<Means>) -> String {
    match need {
        Need::Units(units) => units_words(at, gated, units, met_by),
        Need::Clearance { clearance, confirmation: Some(given) } => {
            format!("The clearance {} holds: confirmed by {} on {}.", clearance.word(), given.by, given.on)
        }
        Need::Clearance { clearance, confirmation: None } => {
            let later = at.profile.clearances.iter().find(|c| c.clearance == *clearance);
            let later = later
                .map_or_else(String::new, |c| format!(" It is confirmed by {} from {} on only.", c.by, c.on));
            let opened_by = clearance_opened_by(*clearance);
            format!("The clearance {} is not confirmed.{later} {opened_by}", clearance.word())
        }
    }
}

fn units_words(at: &Situation<'_>, gated: RungIx, need: &UnitsNeed, met_by: Option<Means>) -> String {
    let Some(asked) = at.catalog().find(&need.rung) else { return String::new() };
    let rung = at.rung(asked);
    let (name, opens) = (small(&rung.name), small(&at.rung(gated).name));
    let what = format!("{} of {name}", clean(need.at_least, rung.unit));
    let best = match need.best {
        0 => "none so far".to_owned(),
        best => format!("{} so far", amount(best, rung.unit)),
    };
    match (&need.shown, met_by) {
        (Some((set, date)), _) => {
            format!("{} for {opens}: shown on {date} by set {set} ({best}).", capital(&what))
        }
        (None, Some(Means::Outgrown)) => {
            format!("{} for {opens}: not asked any more, {opens} itself was done well.", capital(&what))
        }
        (None, Some(_)) => {
            let chance = percent(need.chance);
            format!(
                "{} for {opens}: not logged, but as good as shown: {chance} today ({best}).",
                capital(&what)
            )
        }
        (None, None) => {
            let chance = percent(need.chance);
            format!("Show {what} for {opens}: {best}, the chance today is {chance}.")
        }
    }
}

/// Where the way stands: what holds the rung back whatever the gates say, then the gates, then what comes next.
pub(super) fn sentences(at: &Situation<'_>, wanted: RungIx, gates: &[GateStatus]) -> Vec<String> {
    let name = small(&at.rung(wanted).name);
    let unmet: Vec<&GateStatus> = gates.iter().filter(|g| g.met_by.is_none()).collect();
    let beside = of_rung(at, wanted).into_iter().filter(|h| match h.kind {
        HoldBackKind::Pain | HoldBackKind::Equipment | HoldBackKind::Banned | HoldBackKind::Capped => true,
        HoldBackKind::Gate | HoldBackKind::Clearance => false,
    });
    let mut told: Vec<String> = beside.map(|h| format!("Held back: {} {}", h.detail, h.opened_by)).collect();
    told.push(standing(&name, gates.len(), unmet.len()));
    if let Some(first) = unmet.first() {
        told.push(format!("First: {}", first.sentence));
    }
    // Units are shown by training, clearances given by people: whoever waits for one can go on with the other.
    let units = unmet.iter().find(|g| matches!(g.need, Need::Units(_)));
    let clearance = unmet.iter().find(|g| matches!(g.need, Need::Clearance { .. }));
    for next in [units, clearance].into_iter().flatten().filter(|g| !std::ptr::eq(**g, unmet[0])) {
        told.push(format!("Then: {}", next.sentence));
    }
    told
}

/// How many of the gates on the way to a rung are met.
fn standing(name: &str, all: usize, unmet: usize) -> String {
    match (all, unmet) {
        (0, _) => format!("{} asks for nothing first.", capital(name)),
        (1, 0) => format!("The one gate on the way to {name} is met."),
        (1, _) => format!("The one gate on the way to {name} is not met."),
        (all, 0) => format!("All {all} gates on the way to {name} are met."),
        (all, unmet) => match all - unmet {
            0 => format!("None of the {all} gates on the way to {name} is met."),
            1 => format!("1 of {all} gates on the way to {name} is met."),
            met => format!("{met} of {all} gates on the way to {name} are met."),
        },
    }
}
