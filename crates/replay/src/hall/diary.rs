//! Diary: what a person writes down of a set, and what not.

use std::collections::BTreeSet;

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::dice::Dice;
use crate::hall::body::{Effort, Limit};
use crate::hall::cast::{Claims, Person};
use crate::hall::row::Row;

/// What happened in a set.
#[derive(Debug, Clone)]
pub struct Happened {
    /// What was attempted.
    pub effort: Effort,
    /// What for.
    pub purpose: Purpose,
    /// Target set before.
    pub target: Option<u16>,
    /// Clean units.
    pub units: u16,
    /// How it ended.
    pub stop: Stop,
    /// What could have been done.
    pub limit: Limit,
    /// Pain of 10 felt.
    pub pain: Option<f64>,
}

/// A person's log while it is written.
pub struct Diary<'a> {
    catalog: &'a Catalog,
    person: &'a Person,
    first: CivilDate,
    rows: Vec<Row>,
    day: i32,
    number: u16,
    is_back: bool,
    seen: BTreeSet<RungIx>,
}

const TIRED: [&str; 4] =
    ["last one stopped halfway", "nothing left", "grip was going", "elbows would not lock"];
const FELL: [&str; 3] = ["tipped over the fingers", "drifted to the left", "came down early"];
const BENT: [&str; 3] = ["hips dropped", "ribs came out", "back arched at the end"];
const OUTSIDE: [&str; 3] = ["somebody needed the bar", "fire drill", "phone"];
const CHOSEN: [&str; 3] = ["enough for today", "kept one", "shape was going, stopped"];

impl<'a> Diary<'a> {
    /// An empty log.
    pub fn new(catalog: &'a Catalog, person: &'a Person, first: CivilDate) -> Self {
        let seen = BTreeSet::new();
        Self { catalog, person, first, rows: Vec::new(), day: 0, number: 0, is_back: false, seen }
    }

    /// A session begins.
    pub fn open(&mut self, day: i32, is_back: bool) {
        (self.day, self.number, self.is_back) = (day, 0, is_back);
    }

    /// True when the last set was stopped for pain.
    pub fn ended_in_pain(&self) -> bool {
        self.rows.last().is_some_and(|row| row.stop == Stop::Pain)
    }

    /// The rows.
    pub fn close(self) -> Vec<Row> {
        self.rows
    }

    /// Writes down one set.
    pub fn write(&mut self, set: &Happened, dice: &mut Dice) {
        self.number += 1;
        let rung = self.catalog.rung(set.effort.rung);
        let habit = &self.person.habit;
        let has_load = set.effort.load_kg != 0.0;
        let reserve = self.reserve(set, rung.unit, dice);
        let is_slow = set.purpose == Purpose::Working && rung.unit == Unit::Reps && dice.chance(0.02);
        let row = Row {
            athlete: self.person.id,
            date: self.first.plus_days(self.day),
            number: self.number,
            rung: self.catalog.name(set.effort.rung).to_string(),
            purpose: set.purpose,
            shading: set.effort.shading.as_ref().map(ToString::to_string),
            unit: rung.unit,
            done: set.units,
            target: set.target,
            stop: set.stop,
            reserve,
            rest: (self.number > 1 && dice.chance(habit.rest)).then_some(set.effort.rest),
            load_kg: has_load.then_some(set.effort.load_kg),
            body_mass_kg: (has_load && dice.chance(0.3)).then(|| self.weighed(dice)),
            tempo: if is_slow { "31X1" } else { "" },
            pain: self.pain(set, dice),
            note: self.note(set, dice),
        };
        self.seen.insert(set.effort.rung);
        self.rows.push(row);
    }

    /// Body mass on the scale, to half a kilogram.
    fn weighed(&self, dice: &mut Dice) -> f64 {
        libm::round(2.0 * (self.person.mass_kg + 0.7 * dice.normal())) / 2.0
    }

    fn reserve(&self, set: &Happened, unit: Unit, dice: &mut Dice) -> Option<u16> {
        let may = unit == Unit::Reps && matches!(set.stop, Stop::Target | Stop::Chosen);
        if !may || !dice.chance(self.person.habit.reserve) {
            return None;
        }
        let left = set.limit.strength.saturating_sub(set.units);
        let claimed = match self.person.habit.claims {
            Claims::Honest if dice.chance(0.25) => left + 1,
            Claims::Honest => left,
            Claims::Modest => left.saturating_sub(if dice.chance(0.6) { 1 } else { 2 }),
            Claims::Always(claim) => u16::from(claim),
        };
        Some(claimed.min(10))
    }

    fn pain(&self, set: &Happened, dice: &mut Dice) -> Option<u8> {
        match set.pain {
            Some(pain) => {
                let told = libm::round(pain).clamp(1.0, 10.0);
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 1 to 10")]
                let whole = told as u8;
                Some(whole)
            }
            // Most people leave the field empty; some write the nought.
            None => dice.chance(0.05).then_some(0),
        }
    }

    fn note(&self, set: &Happened, dice: &mut Dice) -> String {
        if self.number == 1 && self.is_back {
            return "first day back, easy does it".to_owned();
        }
        if set.stop == Stop::Pain {
            return "elbow, stopped".to_owned();
        }
        let is_first = !self.seen.contains(&set.effort.rung) && self.day > self.person.present.0;
        if is_first && dice.chance(0.6) {
            return "first time on this one".to_owned();
        }
        let words: &[&str] = match set.stop {
            Stop::Strength => &TIRED,
            Stop::Balance => &FELL,
            Stop::Line => &BENT,
            Stop::Interrupted | Stop::Other => &OUTSIDE,
            Stop::Chosen => &CHOSEN,
            Stop::Target | Stop::Failed | Stop::Pain => &[],
        };
        let often = if set.stop == Stop::Interrupted { 0.8 } else { 0.07 };
        if dice.chance(often) {
            dice.pick(words).map_or_else(String::new, |w| (*w).to_owned())
        } else {
            String::new()
        }
    }
}
