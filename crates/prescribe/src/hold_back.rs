//! Hold-backs: reasons not to train a rung now, found before any score.

use nextrung_capacity::outlook::Strain;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{EquipmentId, RungRef};
use nextrung_domain::ladder::{Gate, GateNeed, Side};
use nextrung_domain::measure::Pain;
use nextrung_domain::profile::{Clearance, Word};
use serde::{Deserialize, Serialize};

use crate::history::PainNote;
use crate::reason::Figure;
use crate::situation::Situation;
use crate::wording::{ago, amount, clean, plain, small};

/// Why a rung with the head below the heart asks for the clearance of inverted work.
pub(crate) const INVERTED: &str = "The head is below the heart on this rung.";

/// The kinds of hold-backs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HoldBackKind {
    /// Pain at or over the limit.
    Pain,
    /// Units on another rung not shown yet.
    Gate,
    /// A clearance not confirmed.
    Clearance,
    /// Equipment missing.
    Equipment,
    /// Banned by the coach.
    Banned,
    /// Harder than the coach allows.
    Capped,
}

/// A reason not to train a rung now.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldBack {
    /// The rung.
    pub rung: RungRef,
    /// What holds it back.
    pub kind: HoldBackKind,
    /// What would open it, in a sentence.
    pub opened_by: String,
    /// What was found, in a sentence.
    pub detail: String,
    /// The figures behind it.
    pub figures: Vec<Figure>,
}

/// Pain that still holds back all that loads an ability.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PainHold {
    /// The ability.
    pub ability: AbilityIx,
    /// What was told.
    pub note: PainNote,
    /// First day on which the hold is over.
    pub until: i32,
}

/// The pain that holds back a rung, if any: told at or over the limit on one of the abilities it loads, and not yet
/// long enough ago. A later day with less pain on the same ability lifts it, unless the pain was strong.
pub fn pain_on(at: &Situation<'_>, rung: RungIx) -> Option<PainHold> {
    let demands = at.rung(rung).demands.iter();
    demands.filter_map(|d| pain_hold(at, d.ability)).max_by_key(|hold| hold.until)
}

fn pain_hold(at: &Situation<'_>, ability: AbilityIx) -> Option<PainHold> {
    let hold = |note: PainNote, days: i32| {
        let until = note.day.saturating_add(days);
        (is_over_limit(at, &note) && at.day() < until).then_some(PainHold { ability, note, until })
    };
    let strong = at.history.strong_pains.get(&ability).and_then(|n| hold(*n, at.policy.strong_pain_days));
    strong.or_else(|| at.history.pains.get(&ability).and_then(|n| hold(*n, at.policy.pain_days)))
}

fn is_over_limit(at: &Situation<'_>, note: &PainNote) -> bool {
    note.pain.is_none_or(|p| p >= at.profile.limits.max_pain)
}

/// True when pain over the limit was told on one of the rung's abilities so lately that work is kept easy.
pub fn is_after_pain(at: &Situation<'_>, rung: RungIx) -> bool {
    let lately = |note: Option<&PainNote>, days: i32| {
        let window = days + at.policy.pain_return_days;
        note.is_some_and(|n| is_over_limit(at, n) && at.day() - n.day < window)
    };
    at.rung(rung).demands.iter().any(|d| {
        lately(at.history.pains.get(&d.ability), at.policy.pain_days)
            || lately(at.history.strong_pains.get(&d.ability), at.policy.strong_pain_days)
    })
}

/// The last pain over the limit that was told lately on an arm ladder, when the ladder asked about is one of the arms: what
/// hurts while pulling hangs from the same arms as what does not load the painful strength.
pub(crate) fn pain_of_the_arms<'a>(at: &Situation<'a>, side: Side) -> Option<&'a PainNote> {
    let is_arm = |side: Side| matches!(side, Side::BentArm | Side::StraightArm);
    let is_near = |note: &&PainNote| {
        is_over_limit(at, note)
            && at.day() - note.day < at.policy.pain_days
            && is_arm(at.rung(note.rung).side)
    };
    let told = at.history.pains.values().chain(at.history.strong_pains.values());
    if is_arm(side) { told.filter(is_near).max_by_key(|note| note.day) } else { None }
}

/// True when a gate asking for units is met: they were shown, or the estimate is all but sure of them.
pub(crate) fn is_shown(at: &Situation<'_>, rung: RungIx, at_least: u16) -> bool {
    at.history.rungs.get(&rung).is_some_and(|n| n.best >= at_least) || {
        let (chance, doubt) = expected(at, rung, at_least);
        chance >= at.policy.gate_chance && doubt <= at.policy.gate_doubt
    }
}

/// Chance of so many clean units on the plain rung, and the doubt in it, ln units.
pub(crate) fn expected(at: &Situation<'_>, rung: RungIx, at_least: u16) -> (f64, f64) {
    let outlook = at.state.outlook(at.model, &Task::new(at.catalog(), rung, &[], 1.0));
    (outlook.at_least(f64::from(at_least), Strain::NONE), outlook.doubt())
}

fn is_gate_met(at: &Situation<'_>, gate: &Gate) -> bool {
    match &gate.need {
        GateNeed::Units { rung, at_least } => {
            at.catalog().find(rung).is_some_and(|ix| is_shown(at, ix, *at_least))
        }
        GateNeed::Clearance(clearance) => at.profile.is_cleared(*clearance, at.date),
    }
}

/// True when the rung itself was done well enough that nothing easier has to be shown for it.
pub(crate) fn is_mastered(at: &Situation<'_>, rung: RungIx) -> bool {
    let low = at.policy.working_band(at.rung(rung)).low;
    at.history.rungs.get(&rung).is_some_and(|n| n.best >= low)
}

/// Gates of a rung that ask for units not shown yet, with those units.
pub(crate) fn unmet_units<'a>(
    at: &'a Situation<'_>,
    rung: RungIx,
) -> impl Iterator<Item = (RungIx, u16, &'a Gate)> {
    let gates = if is_mastered(at, rung) { &[] } else { at.rung(rung).gates.as_slice() };
    gates.iter().filter_map(|gate| match &gate.need {
        GateNeed::Units { rung, at_least } if !is_gate_met(at, gate) => {
            at.catalog().find(rung).map(|ix| (ix, *at_least, gate))
        }
        GateNeed::Units { .. } | GateNeed::Clearance(_) => None,
    })
}

/// True when nothing but units to be shown can hold the rung back.
pub(crate) fn is_open_but_for_units(at: &Situation<'_>, rung: RungIx) -> bool {
    let r = at.rung(rung);
    let cleared = |c: Clearance| at.profile.is_cleared(c, at.date);
    let asks = |g: &Gate| match g.need {
        GateNeed::Clearance(c) => cleared(c),
        GateNeed::Units { .. } => true,
    };
    has(at, &r.equipment)
        && (!r.inverted || cleared(Clearance::InvertedWork))
        && (at.profile.limits.bans.is_empty() || at.profile.ban_on(&at.catalog().name(rung)).is_none())
        && (at.profile.limits.caps.is_empty() || cap_over(at, rung).is_none())
        && pain_on(at, rung).is_none()
        && r.gates.iter().all(asks)
}

/// The coach's cap on a rung's ladder that the rung lies above, if there is one.
fn cap_over<'a>(at: &Situation<'a>, rung: RungIx) -> Option<&'a Word> {
    let cap = at.profile.cap_on(&at.catalog().ladder_of(rung).id)?;
    at.catalog().find(&cap.rung).filter(|hardest| rung > *hardest).map(|_| cap)
}

/// True when all of it is at hand.
pub(crate) fn has(at: &Situation<'_>, equipment: &[EquipmentId]) -> bool {
    equipment.iter().all(|e| at.profile.equipment.contains(e))
}

/// True when nothing holds the rung back; the quick form of [`of_rung`].
pub fn is_open(at: &Situation<'_>, rung: RungIx) -> bool {
    is_open_but_for_units(at, rung) && unmet_units(at, rung).next().is_none()
}

/// Everything that holds a rung back now: pain first, then bans, clearances, gates, equipment.
pub fn of_rung(at: &Situation<'_>, rung: RungIx) -> Vec<HoldBack> {
    let r = at.rung(rung);
    let name = at.catalog().name(rung);
    let mut found = Vec::new();
    found.extend(pain_on(at, rung).map(|hold| pain_words(at, &name, &hold)));
    if let Some(ban) = at.profile.ban_on(&name) {
        let why = plain(&ban.reason);
        found.push(HoldBack {
            rung: name.clone(),
            kind: HoldBackKind::Banned,
            opened_by: "Only the coach can take the ban off.".to_owned(),
            detail: format!("The coach has banned it: {why}."),
            figures: Vec::new(),
        });
    }
    if let Some(cap) = cap_over(at, rung) {
        let hardest = at.catalog().find(&cap.rung).map_or_else(String::new, |ix| small(&at.rung(ix).name));
        found.push(HoldBack {
            rung: name.clone(),
            kind: HoldBackKind::Capped,
            opened_by: "Only the coach can take the cap off.".to_owned(),
            detail: format!(
                "The coach allows nothing harder than {hardest} on this ladder: {}.",
                plain(&cap.reason)
            ),
            figures: Vec::new(),
        });
    }
    let asked_by_gates = r.gates.iter().filter_map(|g| match g.need {
        GateNeed::Clearance(c) => Some((c, g.why.as_str())),
        GateNeed::Units { .. } => None,
    });
    let inverted = r.inverted.then_some((Clearance::InvertedWork, INVERTED));
    for (clearance, why) in inverted.into_iter().chain(asked_by_gates) {
        let is_new =
            !found.iter().any(|h| h.kind == HoldBackKind::Clearance && h.detail.contains(clearance.word()));
        if is_new && !at.profile.is_cleared(clearance, at.date) {
            found.push(clearance_words(&name, clearance, why));
        }
    }
    found.extend(
        unmet_units(at, rung)
            .map(|(asked, at_least, gate)| gate_words(at, &name, (asked, at_least), &gate.why)),
    );
    let missing: Vec<&str> =
        r.equipment.iter().filter(|e| !at.profile.equipment.contains(*e)).map(EquipmentId::as_str).collect();
    if !missing.is_empty() {
        let list = missing.join(", ");
        found.push(HoldBack {
            rung: name,
            kind: HoldBackKind::Equipment,
            opened_by: format!("Add {list} to the athlete's equipment."),
            detail: format!("It needs {list}, which the athlete does not have."),
            figures: Vec::new(),
        });
    }
    found
}

fn pain_words(at: &Situation<'_>, name: &RungRef, hold: &PainHold) -> HoldBack {
    let limit = at.profile.limits.max_pain;
    let ability = &at.catalog().ability(hold.ability).name;
    let told_on = at.catalog().rung(hold.note.rung);
    let days_ago = at.day() - hold.note.day;
    let until = CivilDate::from_day_number(hold.until).map_or_else(|_| String::new(), |d| d.to_string());
    let told = match hold.note.pain {
        Some(pain) => format!("Pain {} of 10", pain.get()),
        None => "A set stopped for pain".to_owned(),
    };
    let mut figures = vec![
        Figure::count("limit", limit.get(), "pain-0-10"),
        Figure::count("days-since", days_ago, "days"),
        Figure::count("days-left", hold.until - at.day(), "days"),
    ];
    figures.extend(hold.note.pain.map(|p: Pain| Figure::count("pain", p.get(), "pain-0-10")));
    HoldBack {
        rung: name.clone(),
        kind: HoldBackKind::Pain,
        opened_by: format!(
            "Nothing that loads {} before {until}; if it still hurts then, or at rest, see a professional first.",
            small(ability)
        ),
        detail: format!(
            "{told} was logged {} on {} (limit {}).",
            ago(days_ago),
            small(&told_on.name),
            limit.get()
        ),
        figures,
    }
}

/// Who has to do what for a clearance.
pub(crate) fn clearance_opened_by(clearance: Clearance) -> &'static str {
    match clearance {
        Clearance::InvertedWork => {
            "Needed: somebody qualified confirms that head-down work is suitable (eye and blood pressure rise), and the coach records it."
        }
        Clearance::ExitPractised => "Needed: the coach sees the way out practised, and records it.",
        Clearance::SlowLoweringFullRange => {
            "Needed: the coach sees a slow lowering through the whole range, and records it."
        }
    }
}

fn clearance_words(name: &RungRef, clearance: Clearance, why: &str) -> HoldBack {
    HoldBack {
        rung: name.clone(),
        kind: HoldBackKind::Clearance,
        opened_by: clearance_opened_by(clearance).to_owned(),
        detail: format!("The clearance {} is not confirmed. {why}", clearance.word()),
        figures: Vec::new(),
    }
}

fn gate_words(at: &Situation<'_>, name: &RungRef, (asked, at_least): (RungIx, u16), why: &str) -> HoldBack {
    let best = at.history.rungs.get(&asked).map_or(0, |n| n.best);
    let rung = at.rung(asked);
    let label = small(&rung.name);
    let figures = vec![
        Figure::count("asked", at_least, "units"),
        Figure::count("shown", best, "units"),
        Figure::chance("p-now", expected(at, asked, at_least).0),
    ];
    let shown =
        if best == 0 { "none logged".to_owned() } else { format!("{} logged", amount(best, rung.unit)) };
    HoldBack {
        rung: name.clone(),
        kind: HoldBackKind::Gate,
        opened_by: format!("Show {} of {label} ({}).", clean(at_least, rung.unit), at.catalog().name(asked)),
        detail: format!("{why} Asked: {} of {label}; so far {shown}.", amount(at_least, rung.unit)),
        figures,
    }
}
