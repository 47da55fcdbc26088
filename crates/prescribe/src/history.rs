//! History: what was trained lately, as far as the choice needs it. A fold over the same ordered sets as the state.

use std::collections::BTreeMap;

use nextrung_domain::ability::AbilityIx;
use nextrung_domain::band::Bands;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::ladder::{Demand, Side};
use nextrung_domain::measure::{Grams, Pain};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};

use crate::choice::is_same_load;

/// Days of sessions that are remembered one by one.
pub const MEMORY_DAYS: i32 = 28;

/// Pain from which a later day with less does not lift the hold.
pub const STRONG_PAIN: u8 = 7;

/// One day's work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayNote {
    /// Days since 1970-01-01.
    pub day: i32,
    /// Sets by side, in the order of [`Side::ALL`].
    pub sets: [u16; 4],
}

/// What was shown on a rung.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RungNote {
    /// Most clean units in a set without easing: no shading, no kilograms taken off.
    pub best: u16,
    /// Last day.
    pub day: i32,
}

/// Where a ladder stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LadderNote {
    /// Rung of the last working set.
    pub rung: RungIx,
    /// Its shadings.
    pub shadings: Vec<ShadingId>,
    /// Its load.
    pub load: Option<Grams>,
    /// Day of the last working set.
    pub day: i32,
    /// Working sets in a row that failed below their target and below the working band.
    pub misses: u16,
    /// Sessions in a row on this rung and shading, with much the same load.
    pub sessions: u16,
}

/// Test sessions on a ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TestNote {
    /// Day of the last one.
    pub day: i32,
    /// How many there were since the last working set, none more than [`MEMORY_DAYS`] after the one before.
    pub run: u16,
}

/// The last pain told about an ability.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PainNote {
    /// The day.
    pub day: i32,
    /// The worst of that day; nothing when a set was stopped for pain and no figure was given.
    pub pain: Option<Pain>,
    /// The rung on which it was told.
    pub rung: RungIx,
}

/// What was trained lately.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    /// The last [`MEMORY_DAYS`] days with work, oldest first.
    pub days: Vec<DayNote>,
    /// By rung.
    pub rungs: BTreeMap<RungIx, RungNote>,
    /// By number of ladder: working sets.
    pub ladders: BTreeMap<usize, LadderNote>,
    /// By number of ladder: test sessions since the last working set.
    pub tests: BTreeMap<usize, TestNote>,
    /// By ability: the last pain told.
    pub pains: BTreeMap<AbilityIx, PainNote>,
    /// By ability: the last pain of [`STRONG_PAIN`] or more.
    pub strong_pains: BTreeMap<AbilityIx, PainNote>,
}

impl History {
    /// Takes in one set. Sets must come in training order; a set of an unknown rung is passed over.
    pub fn observe(&mut self, catalog: &Catalog, set: &SetEntry) {
        let Some(rung) = catalog.find(&set.rung) else { return };
        let day = set.date.day_number();
        self.note_day(catalog.rung(rung).side, day);
        self.note_rung(rung, set, day);
        self.note_pain(catalog, rung, set, day);
        let ladder = catalog.ladder_number(rung);
        match set.purpose {
            Purpose::Working => {
                self.tests.remove(&ladder);
                self.note_ladder(catalog, (ladder, rung), set, day);
            }
            Purpose::Test => self.note_test(ladder, day),
            Purpose::Attempt | Purpose::Practice | Purpose::Free => {}
        }
    }

    fn note_test(&mut self, ladder: usize, day: i32) {
        let before = self.tests.get(&ladder).filter(|n| day - n.day < MEMORY_DAYS);
        let run = match before {
            Some(n) if n.day == day => n.run,
            Some(n) => n.run.saturating_add(1),
            None => 1,
        };
        self.tests.insert(ladder, TestNote { day, run });
    }

    fn note_day(&mut self, side: Side, day: i32) {
        if self.days.last().is_none_or(|d| d.day < day) {
            self.days.retain(|d| day - d.day < MEMORY_DAYS);
            self.days.push(DayNote { day, sets: [0; 4] });
        }
        let place = Side::ALL.iter().position(|s| *s == side).unwrap_or(0);
        if let Some(note) = self.days.last_mut() {
            note.sets[place] = note.sets[place].saturating_add(1);
        }
    }

    fn note_rung(&mut self, rung: RungIx, set: &SetEntry, day: i32) {
        let note = self.rungs.entry(rung).or_insert(RungNote { best: 0, day });
        note.day = day;
        if !set.is_eased() {
            note.best = note.best.max(set.done);
        }
    }

    fn note_pain(&mut self, catalog: &Catalog, rung: RungIx, set: &SetEntry, day: i32) {
        let unsaid = set.stop == Stop::Pain && set.pain.is_none();
        if set.pain.is_none() && !unsaid {
            return;
        }
        // What carries the load hurts: the strengths of a rung, else its balance, else its line.
        let kind = |d: &Demand| catalog.ability(d.ability).kind;
        let loaded = catalog.rung(rung).demands.iter().map(kind).min();
        for demand in catalog.rung(rung).demands.iter().filter(|d| Some(kind(d)) == loaded) {
            let worst = match self.pains.get(&demand.ability).filter(|n| n.day == day) {
                Some(PainNote { pain: None, .. }) => None,
                Some(PainNote { pain, .. }) if !unsaid => (*pain).max(set.pain),
                _ => set.pain,
            };
            let note = PainNote { day, pain: worst, rung };
            self.pains.insert(demand.ability, note);
            if worst.is_some_and(|p| p.get() >= STRONG_PAIN) {
                self.strong_pains.insert(demand.ability, note);
            }
        }
    }

    fn note_ladder(&mut self, catalog: &Catalog, (ladder, rung): (usize, RungIx), set: &SetEntry, day: i32) {
        // Fewer than the target but within the band is what the target is for.
        let wanted = catalog.rung(rung).band.unwrap_or_else(|| Bands::default().of(set.unit).working).low;
        let is_miss = set.target.is_some_and(|t| set.done < t.min(wanted)) && set.stop.is_failure();
        let before = self.ladders.get(&ladder);
        let kg = |load: Option<Grams>| load.map_or(0.0, Grams::kg);
        let is_same = before.is_some_and(|n| {
            n.rung == rung && n.shadings == set.shadings && is_same_load(kg(n.load), kg(set.load))
        });
        let misses = before.filter(|_| is_miss && is_same).map_or(0, |n| n.misses);
        let sessions = match before.filter(|_| is_same) {
            Some(n) if n.day == day => n.sessions,
            Some(n) => n.sessions.saturating_add(1),
            None => 1,
        };
        let note = LadderNote {
            rung,
            shadings: set.shadings.clone(),
            load: set.load,
            day,
            misses: if is_miss { misses.saturating_add(1) } else { 0 },
            sessions,
        };
        self.ladders.insert(ladder, note);
    }

    /// Last day with at least `sets` sets on a side, among those remembered.
    pub fn last_day_on(&self, side: Side, sets: u16) -> Option<i32> {
        let place = Side::ALL.iter().position(|s| *s == side)?;
        self.days.iter().rev().find(|d| d.sets[place] >= sets).map(|d| d.day)
    }

    /// Days with work in a row that end on `day`.
    pub fn days_in_row_to(&self, day: i32) -> i32 {
        let mut expected = day;
        for note in self.days.iter().rev() {
            if note.day != expected {
                break;
            }
            expected -= 1;
        }
        day - expected
    }

    /// Bytes held, for the cache's budget.
    pub fn bytes(&self) -> usize {
        let node = 3 * size_of::<usize>();
        size_of::<Self>()
            + self.days.capacity() * size_of::<DayNote>()
            + self.rungs.len() * (size_of::<RungNote>() + node)
            + self.ladders.len() * (size_of::<LadderNote>() + node)
            + self.tests.len() * (size_of::<TestNote>() + node)
            + (self.pains.len() + self.strong_pains.len()) * (size_of::<PainNote>() + node)
    }
}
