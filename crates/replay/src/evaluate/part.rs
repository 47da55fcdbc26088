//! Part: what came of some athletes' logs; parts of a roster join to the whole.

use std::collections::BTreeMap;

use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Purpose;
use serde::{Deserialize, Serialize};

use crate::advice::tally::{AdviceCounts, AdviceTally};
use crate::evaluate::entry::Entry;
use crate::evaluate::selection::Exclusion;
use crate::evaluate::set_score::SetScore;
use crate::evaluate::tally::{Sums, Tally};

/// Sets known of the athlete before, from which on each group begins.
pub const KNOWN: [u32; 4] = [0, 5, 20, 60];

/// Sets that are looked at apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// By unit, in the order of [`Unit::ALL`].
    Unit(u16),
    /// By purpose, in the order of [`Purpose::ALL`].
    Purpose(u16),
    /// By how many sets were known before, in the order of [`KNOWN`].
    Known(u16),
    /// By number of ladder.
    Ladder(u16),
}

impl Group {
    /// Those a set belongs to.
    pub fn of(entry: &Entry, ladder: usize, known: u32) -> [Self; 4] {
        let place = |at: Option<usize>| at.and_then(|at| u16::try_from(at).ok()).unwrap_or(0);
        let unit = Unit::ALL.iter().position(|unit| *unit == entry.set.unit);
        let purpose = Purpose::ALL.iter().position(|purpose| *purpose == entry.set.purpose);
        let known = KNOWN.iter().rposition(|from| known >= *from);
        [
            Self::Unit(place(unit)),
            Self::Purpose(place(purpose)),
            Self::Known(place(known)),
            Self::Ladder(place(Some(ladder))),
        ]
    }
}

/// What deserves a word beside the figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Note {
    /// Sets that arrived after a set trained later.
    Late,
    /// Sets that arrived more than a block after their day, and are taken as known from that day on.
    Imported,
    /// Sets corrected later.
    Corrected,
    /// Sets whose arrival lies before that of the set recorded before them.
    ClockBack,
    /// Sets that arrived before the day they are said to have been trained on.
    EarlyArrival,
    /// Failures for a cause that the rung does not know.
    StrangeCause,
    /// Sets ended by choice, for pain or from outside: scored by the log score alone.
    OpenEnd,
    /// Athletes with a single set.
    SingleSet,
    /// Athletes without a set that is scored.
    NothingScored,
}

/// What came of one athlete's log.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct AthletePart {
    /// By forecaster.
    pub sums: Vec<Sums>,
    /// By policy.
    pub advice: Vec<AdviceCounts>,
}

/// What came of some athletes' logs.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Part {
    /// By athlete.
    pub athletes: BTreeMap<String, AthletePart>,
    /// By forecaster.
    pub tallies: Vec<Tally>,
    /// By group, then by forecaster.
    pub groups: Vec<(Group, Vec<Sums>)>,
    /// By policy.
    pub advice: Vec<AdviceTally>,
    /// Sets not scored, by why.
    pub excluded: BTreeMap<Exclusion, u64>,
    /// What deserves a word.
    pub notes: BTreeMap<Note, u64>,
    /// Sets read.
    pub sets: u64,
}

impl Part {
    /// Room for so many forecasters and policies.
    pub fn new(forecasters: usize, policies: usize) -> Self {
        Self {
            tallies: vec![Tally::default(); forecasters],
            advice: vec![AdviceTally::default(); policies],
            ..Self::default()
        }
    }

    /// Takes in a prediction of a set of some groups.
    pub fn add(&mut self, forecaster: usize, groups: &[Group], (score, sums): (&SetScore, &Sums)) {
        self.tallies[forecaster].add(score, sums);
        let forecasters = self.tallies.len();
        for group in groups {
            let place = self.group(*group, forecasters);
            self.groups[place].1[forecaster].join(sums);
        }
    }

    fn group(&mut self, group: Group, forecasters: usize) -> usize {
        self.groups.binary_search_by_key(&group, |(group, _)| *group).unwrap_or_else(|place| {
            self.groups.insert(place, (group, vec![Sums::default(); forecasters]));
            place
        })
    }

    /// Counts a set that is not scored.
    pub fn exclude(&mut self, why: Exclusion) {
        *self.excluded.entry(why).or_default() += 1;
    }

    /// Counts sets that could not be read.
    pub fn leave_out(&mut self, sets: u64) {
        self.sets += sets;
        if sets > 0 {
            *self.excluded.entry(Exclusion::BadRow).or_default() += sets;
        }
    }

    /// Counts what deserves a word.
    pub fn note(&mut self, note: Note) {
        *self.notes.entry(note).or_default() += 1;
    }

    /// Takes in another part; an athlete must not stand in both.
    pub fn join(&mut self, other: Self) {
        self.athletes.extend(other.athletes);
        join_all(&mut self.tallies, &other.tallies, Tally::join);
        for (group, sums) in &other.groups {
            let place = self.group(*group, sums.len());
            join_all(&mut self.groups[place].1, sums, Sums::join);
        }
        join_all(&mut self.advice, &other.advice, AdviceTally::join);
        other.excluded.into_iter().for_each(|(why, sets)| *self.excluded.entry(why).or_default() += sets);
        other.notes.into_iter().for_each(|(note, sets)| *self.notes.entry(note).or_default() += sets);
        self.sets += other.sets;
    }
}

fn join_all<T: Clone + Default>(ours: &mut Vec<T>, theirs: &[T], join: impl Fn(&mut T, &T)) {
    if ours.len() < theirs.len() {
        ours.resize(theirs.len(), T::default());
    }
    ours.iter_mut().zip(theirs).for_each(|(one, other)| join(one, other));
}
