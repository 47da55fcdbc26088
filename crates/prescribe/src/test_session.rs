//! Test session: when nothing is known or doubt is wide, a short safe test comes before any choice.

use nextrung_capacity::outlook::Strain;
use nextrung_domain::ids::LadderId;

use crate::candidate::{Candidate, Scored};
use crate::dose::plan;
use crate::prescription::{Block, Item};
use crate::reason::{Figure, Reason, ReasonCode};
use crate::session::{ItemParts, make_item};
use crate::situation::Situation;

/// A test starts where the lower end of the band is at least this likely.
const SAFE: f64 = 0.6;
/// Test sets, and rest between them.
const TEST_SETS: u16 = 2;
/// Units above the band at which a test set ends.
const OVER: u16 = 3;

/// Why a ladder needs a test, if it does: its limiting abilities were never seen, or the doubt about its best open
/// candidate is wider than the policy allows.
pub(crate) fn needed(at: &Situation<'_>, scored: &[Scored], best: Option<usize>) -> Option<Reason> {
    let best = best?;
    let doubt = scored[best].outlook.doubt();
    let figures = vec![Figure::new("doubt", doubt, "ln-units")];
    let limiting = scored[best].outlook.demands().min_by(|a, b| a.belief.mean.total_cmp(&b.belief.mean))?;
    let ability = at.catalog().ability(limiting.ability).name.to_lowercase();
    if at.state.block(limiting.ability).is_none() {
        let sentence = format!("Nothing is known about {ability} yet: a short test comes first.");
        return Some(Reason::new(ReasonCode::NothingKnown, sentence, figures));
    }
    (doubt > at.policy.test_doubt).then(|| {
        let factor = libm::exp(doubt);
        let sentence = format!(
            "The estimate of {ability} may be off by a factor of {factor:.1} either way: a short test comes first."
        );
        Reason::new(ReasonCode::DoubtTooWide, sentence, figures)
    })
}

/// The test item of a ladder: the hardest open plain rung, never an inverted one, on which the lower end of the band is
/// likely; the easiest such rung when none is. Nothing when every rung is held back or inverted.
pub(crate) fn item(at: &Situation<'_>, ladder: &LadderId, scored: &[Scored], reason: Reason) -> Option<Item> {
    let is_plain = |c: &Candidate| c.shading.is_none() && c.load_kg == 0.0;
    let safe =
        |s: &&Scored| is_plain(&s.candidate) && s.candidate.is_open && !at.rung(s.candidate.rung).inverted;
    let likely = |s: &&Scored| s.outlook.at_least(f64::from(s.band.low), Strain::NONE) >= SAFE;
    let chosen = scored.iter().filter(safe).rfind(likely).or_else(|| scored.iter().find(safe))?;
    let name = &at.rung(chosen.candidate.rung).name;
    let ladder_name = at.catalog().ladder(ladder).map_or("", |l| l.name.as_str());
    let picked = Reason::new(
        ReasonCode::BestInWorkingBand,
        format!("{name} is a safe place to find out where {} stands.", ladder_name.to_lowercase()),
        vec![Figure::chance("p-band-low", chosen.outlook.at_least(f64::from(chosen.band.low), Strain::NONE))],
    );
    let dose = plan(TEST_SETS, at.policy.strength_rest, "Two test sets");
    let target = (chosen.band.low, chosen.band.high.saturating_add(OVER));
    let parts = ItemParts { block: Block::Test, plan: dose, target, reasons: vec![reason, picked] };
    Some(make_item(at, chosen, parts))
}
