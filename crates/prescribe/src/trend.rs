//! Trend: capacity and failures on a rung over time, as the whole log has them (F-11).

pub mod failures;
pub mod slope;
mod story;

use std::collections::{BTreeMap, BTreeSet};

use nextrung_capacity::done::Done;
use nextrung_capacity::model::Model;
use nextrung_capacity::smooth::{LOOK, Smoothed, Sweeps, smooth_at};
use nextrung_capacity::state::{AbilityState, AthleteState, DAY};
use nextrung_capacity::task::{Task, TaskDemand};
use nextrung_domain::catalog::RungIx;
use nextrung_domain::profile::Profile;

use failures::FailureTrend;

/// Levels of the central intervals.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.95];
/// Most rungs shown when none is named.
const MOST_RUNGS: usize = 6;

/// Days since 1970-01-01, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// The first.
    pub first: i32,
    /// The last.
    pub last: i32,
}

impl Span {
    /// True for a day inside.
    pub fn has(self, day: i32) -> bool {
        (self.first..=self.last).contains(&day)
    }
}

/// What one fresh set without shadings would have come to on a usual day of a time, units of the rung, seen from the whole
/// log. The intervals hold all that makes one set differ from the median: doubt about the athlete, the form of a day, which
/// is drawn anew and not the form of that very day, and the noise of a set. It is what an estimate of capacity says, with
/// the later sets heard too.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The day, since 1970-01-01.
    pub day: i32,
    /// Median.
    pub median: f64,
    /// Central intervals, in the order of [`LEVELS`].
    pub intervals: [(f64, f64); 3],
}

/// A rung over time.
#[derive(Debug, Clone, PartialEq)]
pub struct RungTrend {
    /// The rung.
    pub rung: RungIx,
    /// One for each day of the span on which an ability of the rung was trained.
    pub points: Vec<Point>,
    /// Any failure first, then by each cause that was said, in the order of the stops.
    pub failures: Vec<FailureTrend>,
    /// The same in plain sentences.
    pub sentences: Vec<String>,
}

/// The trends of some rungs within a span, from the whole log in training order up to the span's last day.
pub fn trends(model: &Model, sets: &[(Task, Done)], span: Span, rungs: &[RungIx]) -> Vec<RungTrend> {
    let tasks: Vec<Task> = rungs.iter().map(|rung| Task::new(&model.catalog, *rung, &[], 1.0)).collect();
    let days: Vec<BTreeSet<i32>> = tasks.iter().map(|task| days_of(task, sets, span)).collect();
    let all: BTreeSet<i32> = days.iter().flatten().copied().collect();
    let looks: Vec<i32> = all.into_iter().collect();
    let smoothed = smooth_at(model, sets, Sweeps::default(), &looks);
    let of_rung = |(task, days): (&Task, &BTreeSet<i32>)| {
        let points: Vec<Point> = days.iter().map(|day| point(model, &smoothed, task, *day)).collect();
        let failures = failures::of_rung(task.rung, sets, span);
        let sentences = story::sentences(model.catalog.rung(task.rung), &points, &failures);
        RungTrend { rung: task.rung, points, failures, sentences }
    };
    tasks.iter().zip(&days).map(of_rung).collect()
}

/// The goals and the rungs trained most in a span, at most six, in the order of ladders and rungs.
pub fn rungs_of_interest(model: &Model, profile: &Profile, sets: &[(Task, Done)], span: Span) -> Vec<RungIx> {
    let mut counts: BTreeMap<RungIx, u32> = BTreeMap::new();
    for (task, _) in sets.iter().filter(|(_, done)| span.has(done.day)) {
        *counts.entry(task.rung).or_insert(0) += 1;
    }
    let mut most: Vec<(RungIx, u32)> = counts.into_iter().collect();
    most.sort_by_key(|(rung, count)| (u32::MAX - count, *rung));
    let goals = profile.goals.iter().filter_map(|goal| model.catalog.find(&goal.rung));
    let mut wanted: Vec<RungIx> = Vec::new();
    for rung in goals.chain(most.into_iter().map(|(rung, _)| rung)) {
        if wanted.len() < MOST_RUNGS && !wanted.contains(&rung) {
            wanted.push(rung);
        }
    }
    wanted.sort_unstable();
    wanted
}

/// Days of the span on which an ability of the task was worked.
fn days_of(task: &Task, sets: &[(Task, Done)], span: Span) -> BTreeSet<i32> {
    let shares = |other: &Task| other.demands().iter().any(|d| asks_for(task, d));
    let worked = sets.iter().filter(|(other, done)| done.is_effort() && span.has(done.day) && shares(other));
    worked.map(|(_, done)| done.day).collect()
}

fn asks_for(task: &Task, demand: &TaskDemand) -> bool {
    task.demands().iter().any(|own| own.ability == demand.ability)
}

fn point(model: &Model, smoothed: &Smoothed, task: &Task, day: i32) -> Point {
    let mut state = AthleteState::new(&model.parameters);
    state.blocks = task.demands().iter().filter_map(|d| block_on(model, smoothed, d, day)).collect();
    state.blocks.sort_unstable_by_key(|block| block.ability);
    let outlook = state.outlook(model, task);
    let most = f64::from(model.catalog.rung(task.rung).unit.most());
    let quantile = |p: f64| outlook.quantile(p).min(most);
    let intervals = LEVELS.map(|level| (quantile(0.5 - 0.5 * level), quantile(0.5 + 0.5 * level)));
    Point { day, median: quantile(0.5), intervals }
}

/// The block of a demand as the look at a day's end has it. Before its first day an ability stands where it stood on that
/// day, since it only moves from then on; one never trained stands at its prior.
fn block_on(model: &Model, smoothed: &Smoothed, demand: &TaskDemand, day: i32) -> Option<AbilityState> {
    let nodes = &smoothed.ability(demand.ability)?.nodes;
    let look = nodes.iter().find(|node| node.session == LOOK && node.day == day);
    if let Some(look) = look {
        return Some(look.clone());
    }
    let mut first = nodes.first()?.clone();
    let form = model.parameters.of(demand.kind).day_sd;
    first.mean[DAY] = 0.0;
    first.covariance.renew(DAY, form * form);
    Some(first)
}
