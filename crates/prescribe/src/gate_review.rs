//! Gate review: which gates stand on the way to a rung, which are met and by what, what comes first.
//!
//! The way is walked through the gates that ask for units: what a rung asks for comes before the rung, deeper gates
//! before those that rest on them. Below a gate that is met nothing is asked for any more, so an open rung has no gate
//! left to meet. A clearance holds for every rung at once, so it stands there once, at the first rung on the way that asks
//! for it.

pub mod confirmations;
mod words;

use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{ClientSetId, RungRef};
use nextrung_domain::ladder::GateNeed;
use nextrung_domain::profile::{Clearance, Confirmation};
use nextrung_domain::set::SetEntry;

use crate::hold_back::{INVERTED, expected, is_mastered, is_shown};
use crate::situation::Situation;
use crate::story::cautions_of;

/// The gates on the way to a rung.
#[derive(Debug, Clone, PartialEq)]
pub struct GateReview {
    /// The rung.
    pub rung: RungRef,
    /// The gates, what comes first standing first.
    pub gates: Vec<GateStatus>,
    /// Where the way stands, in sentences.
    pub sentences: Vec<String>,
    /// Cautions to show with it.
    pub cautions: Vec<String>,
}

/// One gate.
#[derive(Debug, Clone, PartialEq)]
pub struct GateStatus {
    /// The rung that asks.
    pub gated: RungRef,
    /// What has to be there.
    pub need: Need,
    /// Why, from the ladder file.
    pub why: String,
    /// What meets it; nothing while it is not met.
    pub met_by: Option<Means>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// What meets a gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Means {
    /// A set showed the units.
    Shown,
    /// The estimate is all but sure of the units.
    Expected,
    /// The rung that asks was itself done well.
    Outgrown,
    /// Somebody confirmed it.
    Confirmed,
}

/// What a gate asks for, and what there is of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Need {
    /// Clean units on another rung.
    Units(UnitsNeed),
    /// Something confirmed.
    Clearance {
        /// What.
        clearance: Clearance,
        /// By whom and when, if it holds on the day.
        confirmation: Option<Confirmation>,
    },
}

/// Clean units on another rung.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitsNeed {
    /// The rung to show them on.
    pub rung: RungRef,
    /// So many.
    pub at_least: u16,
    /// The most that were done there in one set without easing.
    pub best: u16,
    /// The first set that showed them, and its day.
    pub shown: Option<(ClientSetId, CivilDate)>,
    /// Chance of so many on the day.
    pub chance: f64,
}

/// One gate before it is put into words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Found<'a> {
    gated: RungIx,
    need: Asked,
    why: &'a str,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asked {
    Units(RungIx, u16),
    Clearance(Clearance),
}

/// Reviews the gates on the way to a rung. `sets` are those that count, in training order, up to the day asked about.
pub fn review(at: &Situation<'_>, wanted: RungIx, sets: &[&SetEntry]) -> GateReview {
    let mut way = Vec::new();
    walk(at, wanted, &mut way);
    order(&mut way);
    let gates: Vec<GateStatus> = way.iter().map(|found| status(at, found, sets)).collect();
    let mut rungs: Vec<RungIx> = way.iter().map(|found| found.gated).collect();
    rungs.push(wanted);
    GateReview {
        rung: at.catalog().name(wanted),
        sentences: words::sentences(at, wanted, &gates),
        cautions: cautions_of(at, rungs),
        gates,
    }
}

fn walk<'a>(at: &Situation<'a>, gated: RungIx, way: &mut Vec<Found<'a>>) {
    let rung = at.rung(gated);
    for gate in &rung.gates {
        let GateNeed::Units { rung: asked, at_least } = &gate.need else { continue };
        let Some(asked) = at.catalog().find(asked) else { continue };
        let found = Found { gated, need: Asked::Units(asked, *at_least), why: &gate.why };
        if !way.contains(&found) {
            if !is_mastered(at, gated) && !is_shown(at, asked, *at_least) {
                walk(at, asked, way);
            }
            way.push(found);
        }
    }
    let inverted = rung.inverted.then_some((Clearance::InvertedWork, INVERTED));
    let asked = rung.gates.iter().filter_map(|gate| match gate.need {
        GateNeed::Clearance(clearance) => Some((clearance, gate.why.as_str())),
        GateNeed::Units { .. } => None,
    });
    for (clearance, why) in inverted.into_iter().chain(asked) {
        let need = Asked::Clearance(clearance);
        if !way.iter().any(|found| found.need == need) {
            way.push(Found { gated, need, why });
        }
    }
}

/// Of what is asked on one rung the fewest units first, all of it where the rung first comes.
fn order(way: &mut [Found<'_>]) {
    let before = way.to_vec();
    way.sort_by_key(|found| {
        let first = before.iter().position(|b| match (b.need, found.need) {
            (Asked::Units(a, _), Asked::Units(b, _)) => a == b,
            (a, b) => a == b,
        });
        let units = if let Asked::Units(_, at_least) = found.need { at_least } else { 0 };
        (first, units)
    });
}

fn status(at: &Situation<'_>, found: &Found<'_>, sets: &[&SetEntry]) -> GateStatus {
    let (need, met_by) = match found.need {
        Asked::Units(rung, at_least) => {
            let name = at.catalog().name(rung);
            let is_shown_by = |set: &&&SetEntry| set.rung == name && set.done >= at_least && !set.is_eased();
            let first = sets.iter().find(is_shown_by);
            let need = UnitsNeed {
                at_least,
                best: at.history.rungs.get(&rung).map_or(0, |note| note.best),
                shown: first.map(|set| (set.client_set_id.clone(), set.date)),
                chance: expected(at, rung, at_least).0,
                rung: name,
            };
            let met_by = if need.shown.is_some() {
                Some(Means::Shown)
            } else if is_mastered(at, found.gated) {
                Some(Means::Outgrown)
            } else {
                is_shown(at, rung, at_least).then_some(Means::Expected)
            };
            (Need::Units(need), met_by)
        }
        Asked::Clearance(clearance) => {
            let holds = |c: &&Confirmation| c.clearance == clearance && c.on <= at.date;
            let confirmation = at.profile.clearances.iter().find(holds).cloned();
            let met_by = confirmation.as_ref().map(|_| Means::Confirmed);
            (Need::Clearance { clearance, confirmation }, met_by)
        }
    };
    let gated = at.catalog().name(found.gated);
    let sentence = words::gate(at, found.gated, &need, met_by);
    GateStatus { gated, need, why: found.why.to_owned(), met_by, sentence }
}
