//! Agreement: one athlete's log held against the advice of each day.

use std::collections::BTreeMap;

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Grams;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::Kind;

use crate::advice::tally::{AdviceCounts, AdviceTally, Stand, Went};
use crate::advice::{Advised, Step};
use crate::evaluate::entry::Entry;
use crate::evaluate::outcome::kind_of;
use crate::evaluate::part::Part;

/// Kilograms by which two loads may differ and still be the same.
const LOAD_SLACK: f64 = 2.5;

/// Holds the log, as it stands in the end, against the advice of each day; adds to the part and returns the counts by adviser.
pub fn counts<'a>(
    catalog: &Catalog,
    advised: impl Iterator<Item = (&'a CivilDate, &'a Vec<Advised>)>,
    entries: &[Entry],
    part: &mut Part,
) -> Vec<AdviceCounts> {
    let days: Vec<(CivilDate, &Vec<Advised>)> = advised.map(|(date, advised)| (*date, advised)).collect();
    let one = |adviser: usize| {
        let mine: Vec<(CivilDate, &Advised)> =
            days.iter().filter_map(|(d, all)| Some((*d, all.get(adviser)?))).collect();
        of_adviser(catalog, &mine, entries)
    };
    let tallies: Vec<AdviceTally> = (0..part.advice.len()).map(one).collect();
    part.advice.iter_mut().zip(&tallies).for_each(|(sum, tally)| sum.join(tally));
    tallies.into_iter().map(|tally| tally.counts).collect()
}

fn of_adviser(catalog: &Catalog, days: &[(CivilDate, &Advised)], entries: &[Entry]) -> AdviceTally {
    let mut tally = AdviceTally::default();
    let mut last: BTreeMap<usize, &Step> = BTreeMap::new();
    let mut last_done: BTreeMap<usize, &Entry> = BTreeMap::new();
    for (date, advised) in days {
        tally.days += 1;
        tally.kinds[kind_place(advised.kind)] += 1;
        for (ladder, step) in &advised.steps {
            let before = last.insert(*ladder, step);
            tally.counts.switches += u64::from(before.is_some_and(|before| before != step));
        }
        for (ladder, sets) in working_sets(catalog, entries, *date) {
            let stands: Vec<Stand> = sets.iter().map(|set| stand(set, advised.steps.get(&ladder))).collect();
            for (set, stand) in sets.iter().zip(&stands) {
                tally.went[stand.place()].join(&went(set));
            }
            // A day counts by where most of its sets stood, the first of equals.
            let most = Stand::ALL
                .into_iter()
                .rev()
                .max_by_key(|stand| stands.iter().filter(|s| *s == stand).count());
            tally.ladder_days[most.unwrap_or(Stand::NotAdvised).place()] += 1;
            if let Some(set) = sets.last() {
                let before = last_done.insert(ladder, set);
                tally.counts.log_switches +=
                    u64::from(before.is_some_and(|before| !is_same_work(before, set)));
            }
        }
    }
    finish(&mut tally, days);
    tally
}

fn finish(tally: &mut AdviceTally, days: &[(CivilDate, &Advised)]) {
    let span = days.first().zip(days.last()).map_or(0, |((first, _), (last, _))| last.days_since(*first));
    let same = tally.went[Stand::Same.place()];
    tally.counts = AdviceCounts {
        ladder_days: tally.ladder_days.iter().sum(),
        same: tally.ladder_days[Stand::Same.place()],
        sets: tally.went.iter().map(|went| went.sets).sum(),
        in_band: tally.went.iter().map(|went| went.in_band).sum(),
        same_sets: same.sets,
        same_in_band: same.in_band,
        span_days: u64::try_from(span).unwrap_or(0),
        ..tally.counts
    };
}

fn kind_place(kind: Kind) -> usize {
    match kind {
        Kind::Training => 0,
        Kind::Test => 1,
        Kind::Rest => 2,
        Kind::HeldBack => 3,
    }
}

/// The working sets of a day, by number of ladder.
fn working_sets<'e>(
    catalog: &Catalog,
    entries: &'e [Entry],
    date: CivilDate,
) -> BTreeMap<usize, Vec<&'e Entry>> {
    let from = entries.partition_point(|entry| entry.set.date < date);
    let of_day = entries[from..].iter().take_while(|entry| entry.set.date == date);
    let mut found: BTreeMap<usize, Vec<&Entry>> = BTreeMap::new();
    for entry in of_day.filter(|entry| entry.set.purpose == Purpose::Working) {
        found.entry(catalog.ladder_number(entry.task.rung)).or_default().push(entry);
    }
    found
}

fn stand(set: &Entry, advised: Option<&Step>) -> Stand {
    let Some(step) = advised else { return Stand::NotAdvised };
    match set.task.rung.cmp(&step.rung) {
        std::cmp::Ordering::Less => Stand::Easier,
        std::cmp::Ordering::Greater => Stand::Harder,
        std::cmp::Ordering::Equal => {
            let is_same = set.set.shadings == step.shadings && (load(set) - step.load_kg).abs() < LOAD_SLACK;
            if is_same { Stand::Same } else { Stand::SameRung }
        }
    }
}

fn is_same_work(one: &Entry, other: &Entry) -> bool {
    one.task.rung == other.task.rung
        && one.set.shadings == other.set.shadings
        && (load(one) - load(other)).abs() < LOAD_SLACK
}

fn load(set: &Entry) -> f64 {
    set.set.load.map_or(0.0, Grams::kg)
}

fn went(set: &Entry) -> Went {
    let (units, stop) = (set.done.units, set.done.stop);
    let mut failed = [0; 4];
    if stop.is_failure() {
        failed[kind_of(stop).map_or(3, |kind| kind.index())] = 1;
    }
    Went {
        sets: 1,
        in_band: u64::from(set.band.holds(units)),
        below: u64::from(units < set.band.low),
        above: u64::from(units > set.band.high),
        failed,
        pain: u64::from(stop == Stop::Pain),
    }
}
