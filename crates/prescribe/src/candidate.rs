//! Candidates: every rung of a ladder, plain, shaded or loaded, with its chances to land in a band.

use nextrung_capacity::load::ratio_between;
use nextrung_capacity::outlook::{DemandOutlook, Strain, TaskOutlook};
use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::{LadderId, ShadingId};
use nextrung_domain::ladder::{Ladder, Shading};
use nextrung_domain::measure::Unit;

use crate::hold_back::{has, is_open};
use crate::situation::Situation;

/// Work of one planned set, in sets to the limit: planned sets stop a little short of it.
const PLANNED_WORK: f64 = 0.8;
/// A candidate so far behind with a fresh set is not brought forward by fatigue: five sets with 3 min of rest cost 0.06
/// ln units, which moves no chance by more than 0.3 even where nothing but the noise of a set is left of the doubt.
const FAR_BEHIND: f64 = 0.35;
/// Standard deviations beyond which the band is out of question ...
const OUT_OF_QUESTION: f64 = 2.0;
/// ... and within which a rung may be said to fit.
const FITTING: f64 = 0.5;
/// Loads are rounded to this, kilograms.
const LOAD_STEP: f64 = 1.25;
/// Least load that is worth the trouble, kilograms.
const LEAST_LOAD: f64 = 2.5;
/// Most load that is proposed, as a share of the mass moved.
const MOST_LOAD: f64 = 0.5;

/// A rung with at most one shading or a load, before any score.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The rung.
    pub rung: RungIx,
    /// Its shading.
    pub shading: Option<ShadingId>,
    /// What the shading adds to the difficulty over all abilities, ln units; 0 without one.
    pub change: f64,
    /// Kilograms added.
    pub load_kg: f64,
    /// The task it makes.
    pub task: Task,
    /// True when nothing holds the rung back.
    pub is_open: bool,
}

/// A candidate with its chances.
#[derive(Debug, Clone)]
pub struct Scored {
    /// The candidate.
    pub candidate: Candidate,
    /// What is expected of a fresh set.
    pub outlook: TaskOutlook,
    /// The band it was scored against.
    pub band: Band,
    /// Chance to land in the band, averaged over the planned sets.
    pub p_band: f64,
    /// Chance to be above it.
    pub p_easy: f64,
    /// Chance to be below it.
    pub p_hard: f64,
    /// What candidates are ranked by: `p_band` less the cost of a shading, a load or another unit than the goal's.
    pub score: f64,
}

impl Candidate {
    /// The plain rung.
    fn plain(at: &Situation<'_>, rung: RungIx) -> Self {
        let task = Task::new(at.catalog(), rung, &[], 1.0);
        Self { rung, shading: None, change: 0.0, load_kg: 0.0, task, is_open: is_open(at, rung) }
    }

    /// True without shading and load.
    pub fn is_plain(&self) -> bool {
        self.shading.is_none() && self.load_kg == 0.0
    }
}

impl Scored {
    /// The candidate with what is expected of it, before any score.
    fn unscored(at: &Situation<'_>, candidate: Candidate) -> Self {
        let outlook = at.state.outlook(at.model, &candidate.task);
        let band = at.policy.working_band(at.rung(candidate.rung));
        Self { candidate, outlook, band, p_band: 0.0, p_easy: 0.0, p_hard: 0.0, score: 0.0 }
    }

    /// Chances to land in the band and above it, of a set that carries some work.
    fn chances(&self, strain: Strain) -> [f64; 2] {
        let (inside, above) = self.outlook.in_and_above(self.band, strain);
        [inside, above]
    }

    fn set_chances(&mut self, [p_band, p_easy]: [f64; 2], cost: f64) {
        (self.p_band, self.p_easy, self.p_hard) = (p_band, p_easy, (1.0 - p_band - p_easy).max(0.0));
        self.score = p_band - cost;
    }

    /// Mean of ln units on the ability that limits most, as if without load.
    pub fn limiting_mean(&self) -> f64 {
        self.outlook.demands().map(|d| d.belief.mean).fold(f64::INFINITY, f64::min)
    }
}

/// Which band of a rung is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// The working band.
    Working,
    /// The attempt band.
    Attempt,
}

/// Every candidate of a ladder that the athlete has the equipment to shade, easy rungs first; held-back rungs are there
/// too, marked, so that the answer can say what they would have been. Rungs that belong to another side of the training
/// than their ladder are left to the other day, unless they are the goal or insisted on.
pub fn of_ladder(at: &Situation<'_>, ladder: &LadderId) -> Vec<Candidate> {
    let Some(content) = at.catalog().ladder(ladder) else { return Vec::new() };
    let mut found = Vec::new();
    for plain in plain_of(at, content) {
        found.extend(changes(at, content, &plain, |_| true));
        found.push(plain.candidate);
    }
    found.sort_by_key(|c| (c.rung, !c.is_plain(), c.load_kg > 0.0));
    found
}

/// The candidates of a ladder that come into question, not scored yet: every plain rung; shadings only where they come
/// near the band, unless no open rung does, and what was done last time; loads that fit.
pub fn in_question(at: &Situation<'_>, ladder: &LadderId) -> Vec<Scored> {
    let Some(content) = at.catalog().ladder(ladder) else { return Vec::new() };
    let plain = plain_of(at, content);
    let some_fits = plain.iter().any(|p| p.candidate.is_open && distance(p, None) < FITTING);
    let last =
        plain.first().and_then(|p| at.history.ladders.get(&at.catalog().ladder_number(p.candidate.rung)));
    let mut found = Vec::with_capacity(2 * plain.len());
    for base in plain {
        let was_last = |s: &Shading| {
            last.is_some_and(|n| n.rung == base.candidate.rung && n.shadings.first() == Some(&s.id))
        };
        let comes_near =
            |s: &Shading| !some_fits || was_last(s) || distance(&base, Some(s)) < OUT_OF_QUESTION;
        let changed = changes(at, content, &base, comes_near);
        found.push(base);
        found.extend(changed.into_iter().map(|candidate| Scored::unscored(at, candidate)));
    }
    found
}

/// The plain rungs of a ladder.
fn plain_of(at: &Situation<'_>, ladder: &Ladder) -> Vec<Scored> {
    let rungs = at.catalog().rungs_of(&ladder.id);
    let of_day = rungs.filter(|rung| at.rung(*rung).side == ladder.side || at.is_wanted(*rung));
    of_day.map(|rung| Scored::unscored(at, Candidate::plain(at, rung))).collect()
}

/// How much harder a shading makes a rung, over all abilities, ln units.
pub(crate) fn total_change(shading: &Shading) -> f64 {
    shading.change.iter().map(|(_, change)| change).sum()
}

/// The plain rung with each of its shadings that can be made and passes, and with the load that fits.
fn changes(
    at: &Situation<'_>,
    ladder: &Ladder,
    plain: &Scored,
    pass: impl Fn(&Shading) -> bool,
) -> Vec<Candidate> {
    let rung = plain.candidate.rung;
    let shadings = at.rung(rung).shadings.iter().filter_map(|id| ladder.shading(id));
    let shaded = shadings.filter(|s| pass(s) && has(at, &s.equipment)).map(|s| Candidate {
        shading: Some(s.id.clone()),
        change: total_change(s),
        task: Task::new(at.catalog(), rung, std::slice::from_ref(&s.id), 1.0),
        ..plain.candidate.clone()
    });
    let mut found: Vec<Candidate> = shaded.collect();
    if let Some((load_kg, ratio)) = fitting_load(at, plain) {
        let mut loaded = Candidate { load_kg, ..plain.candidate.clone() };
        loaded.task.mass_ratio = ratio;
        found.push(loaded);
    }
    found
}

/// How far the likeliest units lie outside the working band, in standard deviations of what may come; 0 inside.
fn distance(plain: &Scored, shading: Option<&Shading>) -> f64 {
    let Band { low, high } = plain.band;
    let (low, high) = (libm::log(f64::from(low)), libm::log(f64::from(high) + 1.0));
    let change = |d: &DemandOutlook| {
        let changes = shading.map_or(&[][..], |s| &s.change);
        changes.iter().find(|(ability, _)| *ability == d.ability).map_or(0.0, |(_, change)| *change)
    };
    let shifted = plain.outlook.demands().map(|d| (d.belief.mean - change(d), d.spread()));
    let limiting = shifted.min_by(|a, b| a.0.total_cmp(&b.0));
    limiting.map_or(f64::INFINITY, |(mean, spread)| {
        let spread = spread + shading.map_or(0.0, |s| s.sd);
        (low - mean).max(mean - high).max(0.0) / spread
    })
}

/// The load, in kilograms, that puts the middle of the working band at the athlete's median on a rung that is too easy
/// without, and the mass ratio it makes. Nothing when weights are not at hand (and a belt to hang them from, where the
/// body hangs or is propped up), the body mass is not known, or no sensible load fits.
fn fitting_load(at: &Situation<'_>, plain: &Scored) -> Option<(f64, f64)> {
    let r = at.rung(plain.candidate.rung);
    let owns = |word: &str| at.profile.equipment.iter().any(|e| e.as_str() == word);
    let hangs = r.equipment.iter().any(|e| ["bar", "rings", "parallel-bars"].contains(&e.as_str()));
    let (share, _) = r.load_share.as_ref().filter(|_| r.unit == Unit::Reps)?;
    let can_load = owns("weight") && (!hangs || owns("dip-belt"));
    let moved = share * at.profile.body_mass.filter(|_| can_load)?.kg();
    let band = plain.band;
    let middle = (f64::from(band.low) * (f64::from(band.high) + 1.0)).sqrt();
    let units = libm::exp(plain.limiting_mean().min(5.0));
    let ratio = ratio_between(units, middle);
    let load_kg = libm::floor((ratio - 1.0) * moved / LOAD_STEP) * LOAD_STEP;
    (load_kg >= LEAST_LOAD && load_kg <= MOST_LOAD * moved).then(|| (load_kg, (moved + load_kg) / moved))
}

/// The work carried into each of `sets` planned sets, on average over them by `f`.
pub fn mean_over_sets<const N: usize>(
    at: &Situation<'_>,
    (sets, rest_seconds): (u16, u16),
    mut f: impl FnMut(f64) -> [f64; N],
) -> [f64; N] {
    let fade = libm::exp(-f64::from(rest_seconds) / at.model.parameters.recovery_seconds);
    let mut total = [0.0; N];
    let mut work = 0.0;
    for _ in 0..sets {
        for (sum, value) in total.iter_mut().zip(f(work)) {
            *sum += value;
        }
        work = (work + PLANNED_WORK) * fade;
    }
    total.map(|sum| sum / f64::from(sets.max(1)))
}

/// Scores candidates against a band over the planned sets with their fatigue, holding `margin` in hand. Those that are
/// too far behind with a fresh set for fatigue to bring them forward are left at the chances of a fresh set.
pub fn score(at: &Situation<'_>, found: &mut [Scored], aim: Aim, plan: (u16, u16), margin: f64) {
    let unit = found.first().and_then(|s| wanted_unit(at, s.candidate.rung));
    let mut best = f64::NEG_INFINITY;
    for s in found.iter_mut() {
        if aim == Aim::Attempt {
            s.band = at.policy.attempt_band(at.rung(s.candidate.rung));
        }
        let fresh = s.chances(Strain { work: 0.0, margin });
        s.set_chances(fresh, cost(at, &s.candidate, unit));
        best = if s.candidate.is_open { best.max(s.score) } else { best };
    }
    for s in found.iter_mut().filter(|s| s.score >= best - FAR_BEHIND) {
        average(at, s, plan, margin);
    }
}

/// Takes the planned sets with their fatigue into the chances of a candidate that has those of a fresh set.
fn average(at: &Situation<'_>, scored: &mut Scored, plan: (u16, u16), margin: f64) {
    let cost = scored.p_band - scored.score;
    let fresh = [scored.p_band, scored.p_easy];
    let chances =
        mean_over_sets(
            at,
            plan,
            |work| {
                if work == 0.0 { fresh } else { scored.chances(Strain { work, margin }) }
            },
        );
    scored.set_chances(chances, cost);
}

/// Takes another number of planned sets into a candidate's chances and score.
pub(crate) fn rescore(at: &Situation<'_>, scored: &mut Scored, plan: (u16, u16), margin: f64) {
    let cost = scored.p_band - scored.score;
    let fresh = scored.chances(Strain { work: 0.0, margin });
    scored.set_chances(fresh, cost);
    average(at, scored, plan, margin);
}

/// A plain rung scored against its working band, with nothing held in hand and no cost.
pub(crate) fn score_plainly(at: &Situation<'_>, rung: RungIx, plan: (u16, u16)) -> Scored {
    let mut scored = Scored::unscored(at, Candidate::plain(at, rung));
    rescore(at, &mut scored, plan, 0.0);
    scored
}

/// The unit of the hardest goal on a rung's ladder, else of its last working rung.
fn wanted_unit(at: &Situation<'_>, rung: RungIx) -> Option<Unit> {
    let ladder = at.catalog().ladder_number(rung);
    let goals = at.profile.goals.iter().filter_map(|g| at.catalog().find(&g.rung));
    let goal = goals.filter(|g| at.catalog().ladder_number(*g) == ladder).max();
    goal.or_else(|| at.history.ladders.get(&ladder).map(|n| n.rung)).map(|ix| at.rung(ix).unit)
}

fn cost(at: &Situation<'_>, candidate: &Candidate, unit: Option<Unit>) -> f64 {
    let shading = if candidate.shading.is_some() { at.policy.shading_cost } else { 0.0 };
    let load = if candidate.load_kg > 0.0 { at.policy.load_cost } else { 0.0 };
    let is_other = unit.is_some_and(|u| u != at.rung(candidate.rung).unit);
    shading + load + if is_other { at.policy.unit_cost } else { 0.0 }
}
