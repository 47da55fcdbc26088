//! Journey: the paths of a state through the sessions to come.

use nextrung_capacity::linear::Sym;
use nextrung_capacity::state::{AbilityState, Entry, LEVEL, SLOPE};
use nextrung_capacity::task::{Task, TaskDemand};

use super::dose::Gain;
use super::training::Training;
use crate::dice::Dice;
use crate::situation::Situation;

/// Days of a week.
pub(super) const WEEK: i32 = 7;
/// The seed of every forecast: the same question has the same answer.
const SEED: u64 = 20_261_125;
/// A path on which nothing is left open any more is given up.
const CLOSED: f64 = 1e-12;

/// What the days before a session do to level and slope, as factors of two standard normal draws.
#[derive(Debug, Clone, Copy)]
struct Leg {
    gain: f64,
    decay: f64,
    shift: f64,
    /// Level by the draw it shares with the slope, level alone, slope.
    noise: [f64; 3],
}

impl Leg {
    const NONE: Self = Self { gain: 0.0, decay: 1.0, shift: 0.0, noise: [0.0; 3] };

    fn of(entry: &Entry) -> Self {
        let Some(crossing) = &entry.crossing else { return Self::NONE };
        let [ll, lv, vv] = crossing.transition.noise;
        let slope = vv.max(0.0).sqrt();
        let shared = if slope > 0.0 { lv / slope } else { 0.0 };
        let alone = (ll - shared * shared).max(0.0) + crossing.doubt.max(0.0);
        let (gain, decay) = (crossing.transition.gain, crossing.transition.decay);
        Self { gain, decay, shift: crossing.shift, noise: [shared, alone.sqrt(), slope] }
    }
}

/// One demand of the rung on its way.
#[derive(Debug, Clone)]
struct Road {
    /// Means of level, slope and departure on the rung, and the factor of their covariance by rows.
    start: ([f64; 3], [f64; 6]),
    legs: Vec<Leg>,
    difficulty: f64,
    form_sd: f64,
    scale: f64,
    /// Gain of level a week and its standard error, where one is assumed.
    gain: (f64, f64),
}

/// All demands of a rung through the tries of some weeks.
#[derive(Debug, Clone)]
pub(super) struct Journey {
    roads: Vec<Road>,
    /// For each try the week it falls in, from 0, and the weeks gone by then.
    tries: Vec<(usize, f64)>,
    weeks: usize,
}

impl Journey {
    /// The way through the sessions of a training; without any, one try stands at the end of each week.
    pub(super) fn new(
        at: &Situation<'_>,
        (task, weeks): (&Task, u16),
        training: &Training,
        gain: Option<&Gain>,
    ) -> Self {
        let from = at.day();
        let horizon = from + WEEK * i32::from(weeks);
        let is_try = |day: &i32| {
            if training.is_none() { (day - from) % WEEK == 0 } else { training.is_session(from, *day) }
        };
        let days: Vec<i32> = (from + 1..=horizon).filter(is_try).collect();
        let week_of = |day: &i32| usize::try_from((day - from - 1) / WEEK).unwrap_or(0);
        let gone = |day: &i32| f64::from(day - from) / f64::from(WEEK);
        let road = |demand: &TaskDemand| {
            let own =
                gain.filter(|g| g.ability == demand.ability).map_or((0.0, 0.0), |g| (g.per_week, g.error));
            Road::new(at, demand, &days, training, own)
        };
        Self {
            roads: task.demands().iter().map(road).collect(),
            tries: days.iter().map(|day| (week_of(day), gone(day))).collect(),
            weeks: usize::from(weeks),
        }
    }

    /// By week: the chance that no try has given a clean unit by its end, over so many paths. Never rises.
    pub(super) fn still_open(&self, paths: u32) -> Vec<f64> {
        let mut sums = vec![0.0; self.weeks];
        let mut by_week = vec![1.0; self.weeks];
        for path in 0..paths {
            self.walk(&mut Dice::new(SEED, u64::from(path)), &mut by_week);
            sums.iter_mut().zip(&by_week).for_each(|(sum, open)| *sum += open);
        }
        sums.iter().map(|sum| sum / f64::from(paths.max(1))).collect()
    }

    /// One path: what is still open at the end of each week.
    fn walk(&self, dice: &mut Dice, by_week: &mut [f64]) {
        let mut states: Vec<State> = self.roads.iter().map(|road| State::draw(road, dice)).collect();
        by_week.fill(1.0);
        let mut open = 1.0;
        for (at, (week, gone)) in self.tries.iter().enumerate() {
            let mut success = 1.0;
            for (state, road) in states.iter_mut().zip(&self.roads) {
                state.go(&road.legs[at], dice);
                let eta = state.level + gone * state.extra + state.departure - road.difficulty
                    + road.form_sd * dice.normal();
                success /= 1.0 + libm::exp(-eta / road.scale);
            }
            open *= 1.0 - success;
            by_week[*week..].iter_mut().for_each(|slot| *slot = open);
            if open < CLOSED {
                break;
            }
        }
    }
}

/// Where a path stands on one demand.
struct State {
    level: f64,
    slope: f64,
    departure: f64,
    extra: f64,
}

impl State {
    fn draw(road: &Road, dice: &mut Dice) -> Self {
        let (mean, f) = &road.start;
        let z = [dice.normal(), dice.normal(), dice.normal()];
        let extra = if road.gain.1 > 0.0 { road.gain.1 * dice.normal() } else { 0.0 };
        Self {
            level: mean[0] + f[0] * z[0],
            slope: mean[1] + f[1] * z[0] + f[2] * z[1],
            departure: mean[2] + f[3] * z[0] + f[4] * z[1] + f[5] * z[2],
            extra: road.gain.0 + extra,
        }
    }

    fn go(&mut self, leg: &Leg, dice: &mut Dice) {
        let z = [dice.normal(), dice.normal()];
        self.level += leg.gain * self.slope + leg.shift + leg.noise[0] * z[0] + leg.noise[1] * z[1];
        self.slope = leg.decay * self.slope + leg.noise[2] * z[0];
    }
}

impl Road {
    fn new(
        at: &Situation<'_>,
        demand: &TaskDemand,
        days: &[i32],
        training: &Training,
        gain: (f64, f64),
    ) -> Self {
        let parameters = &at.model.parameters;
        let p = parameters.of(demand.kind);
        let known = at.state.block(demand.ability);
        // An ability never worked does not move until it is.
        let is_moving = known.is_some();
        let mut block =
            known.map_or_else(|| AbilityState::prior(at.model, demand.ability, at.day()), Clone::clone);
        let start = start(&block, p, demand);
        let leg = |day: &i32| {
            let is_work = training.works(demand.ability, at.day(), *day);
            let leg =
                block.entry(parameters, *day, 1).filter(|_| is_moving).map_or(Leg::NONE, |e| Leg::of(&e));
            block.enter(parameters, *day, 1);
            if is_work {
                block.last_work = *day;
            }
            leg
        };
        let legs = days.iter().map(leg).collect();
        Self { start, legs, difficulty: demand.difficulty, form_sd: p.day_sd, scale: p.scale, gain }
    }
}

/// Means and factored covariance of level, slope and the sum of the departures on a task, jointly as believed.
fn start(
    block: &AbilityState,
    p: &nextrung_capacity::params::KindParameters,
    demand: &TaskDemand,
) -> ([f64; 3], [f64; 6]) {
    let (row, unmet) = block.row(p, demand);
    let own: Vec<(usize, f64)> =
        row.entries().iter().filter(|(at, _)| *at >= nextrung_capacity::state::OFFSETS).copied().collect();
    let (level, slope) = ([(LEVEL, 1.0)], [(SLOPE, 1.0)]);
    let forms: [&[(usize, f64)]; 3] = [&level, &slope, &own];
    let mean = forms.map(|form| nextrung_capacity::linear::dot(form, &block.mean));
    let mut covariance = Sym::zeros(3);
    for (i, left) in forms.iter().enumerate() {
        for (j, right) in forms.iter().enumerate().take(i + 1) {
            covariance.set(i, j, block.covariance.form(left, right));
        }
    }
    covariance.add(2, 2, unmet);
    (mean, factor(&covariance))
}

/// Cholesky factor by rows; a coordinate without variance of its own gets none, so a known value is no fault.
fn factor(c: &Sym) -> [f64; 6] {
    let root = |x: f64| x.max(0.0).sqrt();
    let over = |x: f64, by: f64| if by > 0.0 { x / by } else { 0.0 };
    let a = root(c.get(0, 0));
    let b = over(c.get(1, 0), a);
    let d = root(c.get(1, 1) - b * b);
    let e = over(c.get(2, 0), a);
    let f = over(c.get(2, 1) - b * e, d);
    [a, b, d, e, f, root(c.get(2, 2) - e * e - f * f)]
}
