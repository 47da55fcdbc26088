//! Test session: when nothing is known or doubt is wide, a short safe test comes before any choice.

use nextrung_capacity::outlook::Strain;
use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::measure::Unit;

use crate::candidate::Scored;
use crate::dose::{plan, stop_rule};
use crate::prescription::{Block, Item};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::session::{ItemParts, make_item};
use crate::situation::Situation;
use crate::wording::small;

/// A test starts where the lower end of the band is at least this likely.
const SAFE: f64 = 0.6;
/// The same after time off: what was strong once is tried on something easy.
const SAFE_AFTER_TIME_OFF: f64 = 0.95;
/// Test sets, and rest between them.
const TEST_SETS: u16 = 2;
/// Units above the band that a test set allows for at least.
const OVER: u16 = 3;
/// A test set ends where more units are less likely than this.
const UNLIKELY: f64 = 0.1;

/// Most units of a test set: beyond it endurance is tested, not strength.
fn most(unit: Unit) -> u16 {
    match unit {
        Unit::Reps => 20,
        Unit::HoldSeconds => 60,
        Unit::LoweringSeconds => 30,
    }
}

/// The ability that limits a candidate.
fn limiting(scored: &Scored) -> Option<AbilityIx> {
    scored.outlook.demands().min_by(|a, b| a.belief.mean.total_cmp(&b.belief.mean)).map(|d| d.ability)
}

/// Why a ladder needs a test, if it does: the ability that limits its best open candidate was never seen, or the doubt
/// about that candidate is wider than the policy allows. After some test sessions in a row training starts anyway.
pub(crate) fn needed(
    at: &Situation<'_>,
    scored: &[Scored],
    ladder: Option<usize>,
    best: usize,
) -> Option<Reason> {
    let run = ladder.and_then(|l| at.history.tests.get(&l)).map_or(0, |note| note.run);
    if run >= at.policy.test_run {
        return None;
    }
    let doubt = scored[best].outlook.doubt();
    let figures = vec![Figure::new("doubt", doubt, "ln-units")];
    let ability = limiting(&scored[best])?;
    let name = small(&at.catalog().ability(ability).name);
    if at.state.block(ability).is_none() {
        let sentence = format!("Nothing is known about {name} yet: a short test comes first.");
        return Some(Reason::new(ReasonCode::NothingKnown, sentence, figures));
    }
    (doubt > at.policy.test_doubt).then(|| {
        let factor = libm::exp(doubt);
        let sentence = format!(
            "The estimate of {name} may be off by a factor of {factor:.1} either way: a short test comes first."
        );
        Reason::new(ReasonCode::DoubtTooWide, sentence, figures)
    })
}

/// The test item of a ladder and the place of its candidate: among the open plain rungs that ask for strength alone, and
/// for the strength in doubt if there are such, the hardest on which the lower end of the band is likely; the easiest
/// when it is likely on none. Nothing when no such rung is open.
pub(crate) fn item(
    at: &Situation<'_>,
    scored: &[Scored],
    best: usize,
    reason: Reason,
) -> Option<(Item, usize)> {
    let is_safe = |s: &Scored| {
        let strength_alone = s.outlook.demands().all(|d| d.kind == AbilityKind::Strength);
        s.candidate.is_plain() && s.candidate.is_open && strength_alone
    };
    let doubted = limiting(&scored[best]);
    let asks = |s: &Scored| limiting(s) == doubted;
    let is_any = scored.iter().any(|s| is_safe(s) && asks(s));
    let can = |s: &Scored| is_safe(s) && (asks(s) || !is_any);
    let low = |s: &Scored| s.outlook.at_least(f64::from(s.band.low), Strain::NONE);
    let last = at.history.ladders.get(&at.catalog().ladder_number(scored[best].candidate.rung));
    let is_return = last.is_some_and(|note| at.day() - note.day >= at.policy.return_days);
    let safe = if is_return { SAFE_AFTER_TIME_OFF } else { SAFE };
    let places = || scored.iter().enumerate().filter(|(_, s)| can(s));
    let hardest =
        places().filter(|(_, s)| low(s) >= safe).min_by(|(_, a), (_, b)| a.p_easy.total_cmp(&b.p_easy));
    let (place, chosen) = hardest.or_else(|| places().max_by(|(_, a), (_, b)| low(a).total_cmp(&low(b))))?;
    let rung = at.rung(chosen.candidate.rung);
    let strength = limiting(chosen).map_or(String::new(), |a| small(&at.catalog().ability(a).name));
    let picked = Reason::new(
        ReasonCode::BestInWorkingBand,
        format!("{} is a safe way to find out how much {strength} there is.", rung.name),
        vec![Figure::chance("p-band-low", low(chosen))],
    );
    let dose = plan(TEST_SETS, at.policy.strength_rest, "Two test sets".to_owned());
    let top = units_likely(chosen, most(rung.unit).max(chosen.band.high.saturating_add(OVER)));
    let target = (chosen.band.low, top.max(chosen.band.high.saturating_add(OVER)));
    let stop_rule = stop_rule(at, Block::Test, &chosen.outlook, (target.0, rung.unit));
    let parts =
        ItemParts { block: Block::Test, plan: dose, target, stop_rule, reasons: vec![reason, picked] };
    Some((make_item(at, chosen, parts), place))
}

/// Most units, up to a limit, that are not unlikely.
fn units_likely(scored: &Scored, limit: u16) -> u16 {
    let likely = |units: &u16| scored.outlook.at_least(f64::from(*units), Strain::NONE) >= UNLIKELY;
    (1..=limit).rev().find(likely).unwrap_or(1)
}
