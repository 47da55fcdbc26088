//! Rung: how many of the span's working sets were of the size wanted, held against the best rung there was.

use std::collections::BTreeMap;

use nextrung_capacity::done::Done;
use nextrung_capacity::load::ln_threshold;
use nextrung_capacity::normal::distribution;
use nextrung_capacity::smooth::{Smoothed, SmoothedAbility, Sweeps, smooth};
use nextrung_capacity::state::AbilityState;
use nextrung_capacity::task::{Task, TaskDemand};
use nextrung_domain::band::Band;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::measure::Unit;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Stop;

use super::log::{Logged, SpanLog};
use super::{HALF, MOST_EVIDENCE};
use crate::hold_back::is_open;
use crate::reason::Figure;
use crate::share::{wilson, worth};
use crate::situation::Situation;

/// Reported reserve counts as more than the band only with this to spare: reports are off by about a unit.
const SPARE: u16 = 2;

/// How the working sets fitted.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// Sets judged.
    pub(super) sets: f64,
    /// Share too easy: more than the band was there.
    pub(super) easy: f64,
    /// Share too hard: less than the band was there.
    pub(super) hard: f64,
    /// Share that would be outside on the best plain rung, by what is now known of the athlete.
    pub(super) unavoidable: f64,
    /// Middle and standard deviation of the share outside, as far as so many sessions tell it.
    pub(super) told: (f64, f64),
    /// Sets that show the wrong side best.
    pub(super) evidence: Vec<ClientSetId>,
}

/// One judged set: chances that it was too easy and too hard, and that the best rung would not have landed in band either.
struct Judged<'a> {
    logged: Logged<'a>,
    easy: f64,
    hard: f64,
    unavoidable: f64,
}

impl Fit {
    /// Judges the sets that build. What a set leaves open ("at least so many") is filled in by hindsight.
    pub(super) fn of(at: &Situation<'_>, log: &SpanLog<'_>) -> Self {
        let building: Vec<Logged<'_>> = log.on_goal.iter().filter(|l| log.builds(at, l)).copied().collect();
        if building.is_empty() {
            return Self::none();
        }
        let behind = Behind::of(at, log);
        let mut best = BTreeMap::new();
        let judged: Vec<Judged<'_>> =
            building.into_iter().filter_map(|logged| behind.judge(at, logged, &mut best)).collect();
        let Some(sets) = u32::try_from(judged.len()).ok().filter(|n| *n > 0).map(f64::from) else {
            return Self::none();
        };
        let session =
            |one: &Judged<'_>| ((one.logged.day(), one.logged.set.session.get()), one.easy + one.hard);
        let mean = |f: fn(&Judged<'_>) -> f64| judged.iter().map(f).sum::<f64>() / sets;
        let (easy, hard) = (mean(|j| j.easy), mean(|j| j.hard));
        Self {
            sets,
            easy,
            hard,
            unavoidable: mean(|j| j.unavoidable),
            told: wilson(easy + hard, worth(judged.iter().map(session)), HALF),
            evidence: evidence(&judged, easy > hard),
        }
    }

    fn none() -> Self {
        let told = wilson(0.0, 0.0, HALF);
        Self { sets: 0.0, easy: 0.0, hard: 0.0, unavoidable: 0.0, told, evidence: Vec::new() }
    }

    /// Share of the sets outside the band.
    pub(super) fn outside(&self) -> f64 {
        self.easy + self.hard
    }

    /// The central interval of that share with the level of all intervals.
    pub(super) fn interval(&self) -> (f64, f64) {
        let (middle, sd) = self.told;
        ((middle - HALF * sd).max(0.0), (middle + HALF * sd).min(1.0))
    }

    /// Share outside beyond what no rung would have spared, for a standard normal draw.
    pub(super) fn excess(&self, z: f64) -> f64 {
        let (middle, sd) = self.told;
        (middle + sd * z).clamp(0.0, 1.0) - self.unavoidable
    }

    pub(super) fn figures(&self) -> Vec<Figure> {
        if self.sets == 0.0 {
            return vec![Figure::count("working-sets", 0, "sets")];
        }
        vec![
            Figure::new("working-sets", self.sets, "sets"),
            Figure::new("too-easy", self.easy, "share"),
            Figure::new("too-hard", self.hard, "share"),
            Figure::new("outside-on-the-best-rung", self.unavoidable, "share"),
        ]
    }
}

/// The history in hindsight.
struct Behind {
    smoothed: Smoothed,
}

impl Behind {
    fn of(at: &Situation<'_>, log: &SpanLog<'_>) -> Self {
        let sets: Vec<(Task, Done)> = log.behind.iter().filter_map(|set| at.model.read(set)).collect();
        Self { smoothed: smooth(at.model, &sets, Sweeps::default()) }
    }

    fn judge<'a>(
        &self,
        at: &Situation<'_>,
        logged: Logged<'a>,
        best: &mut BTreeMap<(i32, u8, usize, Unit), f64>,
    ) -> Option<Judged<'a>> {
        let (task, done) = at.model.read(logged.set)?;
        let band = at.policy.working_band(at.rung(logged.rung));
        let stands: Vec<Stand> =
            task.demands().iter().filter_map(|d| self.stand(at, d, &done, Doubt::Counts)).collect();
        let reach = |units: u16| reach(&stands, f64::from(units), task.mass_ratio);
        let (easy, hard) = verdict(logged.set, band, reach)?;
        let (ladder, unit) = (at.catalog().ladder_number(logged.rung), at.rung(logged.rung).unit);
        let key = (done.day, done.session, ladder, unit);
        let inside = *best.entry(key).or_insert_with(|| self.best(at, logged.rung, &done));
        Some(Judged { logged, easy, hard, unavoidable: 1.0 - inside })
    }

    /// The chance to land in band on the plain rung of the ladder that fits best in that session, had the athlete been
    /// known as well as now: of those that nothing holds back or that were trained.
    fn best(&self, at: &Situation<'_>, rung: RungIx, done: &Done) -> f64 {
        let (unit, ladder) = (at.rung(rung).unit, &at.catalog().ladder_of(rung).id);
        let inside = |ix: RungIx| {
            let task = Task::new(at.catalog(), ix, &[], 1.0);
            let stands: Option<Vec<Stand>> =
                task.demands().iter().map(|d| self.stand(at, d, done, Doubt::LeftOut)).collect();
            let Band { low, high } = at.policy.working_band(at.rung(ix));
            stands.map(|s| reach(&s, f64::from(low), 1.0) - reach(&s, f64::from(high) + 1.0, 1.0))
        };
        let may_be = |ix: RungIx| is_open(at, ix) || at.history.rungs.contains_key(&ix);
        let fits = |ix: &RungIx| at.rung(*ix).unit == unit && may_be(*ix);
        at.catalog().rungs_of(ladder).filter(fits).filter_map(inside).fold(0.0, f64::max)
    }

    /// How an ability stood in a session; nothing for one never trained.
    fn stand(&self, at: &Situation<'_>, demand: &TaskDemand, done: &Done, doubt: Doubt) -> Option<Stand> {
        let block = node(self.smoothed.ability(demand.ability)?, done)?;
        let p = at.model.parameters.of(demand.kind);
        let belief = block.belief(p, demand);
        let noise = p.scale * p.scale * (std::f64::consts::PI * std::f64::consts::PI / 3.0);
        let unknown = match doubt {
            Doubt::Counts => belief.variance,
            Doubt::LeftOut => 0.0,
        };
        Some(Stand { mean: belief.mean, sd: (unknown + noise).sqrt() })
    }
}

/// Whether the doubt about the athlete counts, or only the noise of a set.
#[derive(Clone, Copy)]
enum Doubt {
    Counts,
    LeftOut,
}

/// Where the capacity of a set lies on one ability, ln units.
struct Stand {
    mean: f64,
    sd: f64,
}

/// The block of the session, else of the last one before it, else of the first.
fn node<'a>(ability: &'a SmoothedAbility, done: &Done) -> Option<&'a AbilityState> {
    let until = ability.nodes.partition_point(|n| (n.day, n.session) <= (done.day, done.session));
    ability.nodes.get(until.saturating_sub(1))
}

fn reach(stands: &[Stand], units: f64, mass_ratio: f64) -> f64 {
    let ln_units = ln_threshold(units, mass_ratio);
    if ln_units == f64::NEG_INFINITY {
        return 1.0;
    }
    stands.iter().map(|s| distribution((s.mean - ln_units) / s.sd)).product()
}

/// Chances that a set was too easy and too hard. Nothing when it says nothing about the rung: ended by pain or from
/// outside, or before a try.
fn verdict(set: &SetEntry, band: Band, reach: impl Fn(u16) -> f64) -> Option<(f64, f64)> {
    if set.done > band.high {
        return Some((1.0, 0.0));
    }
    let below = f64::from(u8::from(set.done < band.low));
    match set.stop {
        Stop::Strength | Stop::Balance | Stop::Line | Stop::Failed => Some((0.0, below)),
        Stop::Pain | Stop::Interrupted | Stop::Other => None,
        Stop::Chosen if set.done == 0 => None,
        Stop::Target | Stop::Chosen => {
            let claimed = set.reserve.map_or(0, |r| set.done + u16::from(r.get()));
            if claimed >= band.high + SPARE {
                return Some((1.0, 0.0));
            }
            let held = reach(set.done).max(f64::MIN_POSITIVE);
            let at_least = |units: u16| (reach(units) / held).clamp(0.0, 1.0);
            Some((at_least(band.high + 1), below * (1.0 - at_least(band.low.max(set.done)))))
        }
    }
}

/// The sets furthest outside the band on the side that is off more often, the latest first among equals.
fn evidence(judged: &[Judged<'_>], is_easy: bool) -> Vec<ClientSetId> {
    let chance = |j: &Judged<'_>| if is_easy { j.easy } else { j.hard };
    let units = |j: &Judged<'_>| {
        let claimed = j.logged.set.reserve.map_or(0, |r| i32::from(r.get()));
        let done = i32::from(j.logged.set.done) + claimed;
        if is_easy { done } else { -done }
    };
    let mut found: Vec<&Judged<'_>> = judged.iter().filter(|j| chance(j) > 0.5).collect();
    found.sort_by(|a, b| {
        let (x, y) = (a.logged.set.place(), b.logged.set.place());
        chance(b).total_cmp(&chance(a)).then(units(b).cmp(&units(a))).then(y.cmp(&x))
    });
    found.into_iter().take(MOST_EVIDENCE).map(|j| j.logged.set.client_set_id.clone()).collect()
}
