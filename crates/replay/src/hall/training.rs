//! Training: half a year of sessions of one person, set by set.

use std::collections::BTreeMap;

use nextrung_domain::ability::AbilityKind;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::dice::Dice;
use crate::hall::body::{Body, Effort, Limit};
use crate::hall::calendar::{self, pain_on};
use crate::hall::cast::Person;
use crate::hall::choice::{Stand, attempt_band, working_band};
use crate::hall::diary::{Diary, Happened};
use crate::hall::paths::{self, Slot, Use};
use crate::hall::row::Row;
use crate::hall::{DAYS, HallError};

/// Days from one test of the best to the next.
const TEST_DAYS: i32 = 42;
/// Chance that something outside ends a set.
const INTERRUPTED: f64 = 0.01;

/// A person in the middle of the story.
struct Trainee<'a> {
    catalog: &'a Catalog,
    person: &'a Person,
    body: Body,
    stands: BTreeMap<&'static str, Stand>,
    dice: Dice,
    diary: Diary<'a>,
    day: i32,
    last_test: i32,
}

/// Everything one person logged.
pub fn log(
    catalog: &Catalog,
    person: &Person,
    first: CivilDate,
    mut dice: Dice,
) -> Result<Vec<Row>, HallError> {
    let days = calendar::training_days(person, &mut dice);
    let body = Body::new(catalog, person, &mut dice);
    let diary = Diary::new(catalog, person, first);
    let stands = BTreeMap::new();
    let last_test = person.present.0;
    let mut trainee = Trainee { catalog, person, body, stands, dice, diary, day: 0, last_test };
    trainee.meet_ladders()?;
    let mut turn = 0;
    let mut last = None;
    for day in 0..DAYS {
        trainee.day = day;
        if days.binary_search(&day).is_ok() {
            trainee.diary.open(day, calendar::is_back(person, day, last));
            let session = person.sessions[turn % person.sessions.len()];
            trainee.train(session);
            turn += 1;
            last = Some(day);
        }
        trainee.body.sleep(&mut trainee.dice);
    }
    Ok(trainee.diary.close())
}

impl Trainee<'_> {
    /// Finds where the person stands on each ladder of their sessions: the hardest rung whose band they can do.
    fn meet_ladders(&mut self) -> Result<(), HallError> {
        for slot in self.person.sessions.iter().flat_map(|session| session.iter()) {
            let path = paths::of(self.catalog, self.person, slot.ladder)?;
            for rung in &path {
                self.body.knows(*rung);
            }
            let fits = |at: &usize| {
                let effort = Effort { rung: path[*at], shading: None, load_kg: 0.0, rest: 600 };
                let usual = self.body.usual(self.catalog, &effort);
                usual >= f64::from(working_band(self.catalog.rung(path[*at])).low)
            };
            let at = (0..path.len()).rev().find(fits).unwrap_or(0);
            self.stands.entry(slot.ladder).or_insert_with(|| Stand::new(path, at));
        }
        // Only what lies at or below the start is known; the rest is still to be learned.
        let mut body = Body::new(self.catalog, self.person, &mut self.dice);
        for stand in self.stands.values() {
            for rung in &stand.path[..=stand.at] {
                body.knows(*rung);
            }
        }
        self.body = body;
        Ok(())
    }

    fn train(&mut self, session: &[Slot]) {
        let is_test_day = self.day - self.last_test >= TEST_DAYS && !self.body.is_low();
        let tested = session.iter().position(|slot| is_test_day && slot.purpose == Use::Work);
        for (at, slot) in session.iter().enumerate() {
            match slot.purpose {
                Use::Practice => self.practise(slot),
                Use::Attempt => self.attempt(slot),
                Use::Work if tested == Some(at) => self.test(slot),
                Use::Work => self.work(slot),
            }
            // Who stops for pain goes home.
            if self.diary.ended_in_pain() {
                return;
            }
        }
        if is_test_day {
            self.last_test = self.day;
        }
        if self.dice.chance(self.person.habit.play) {
            self.play(session);
        }
        for stand in self.stands.values_mut() {
            stand.decide(self.catalog, self.person, &mut self.dice);
        }
    }

    fn work(&mut self, slot: &Slot) {
        let Some(stand) = self.stands.get(slot.ladder) else { return };
        let rung = stand.rung();
        let shading = stand.shading.clone();
        let band = working_band(self.catalog.rung(rung));
        let target = if self.dice.chance(0.8) { band.high } else { band.high.min(band.low + 1) };
        let sets = if self.body.is_low() { slot.sets.saturating_sub(1) } else { slot.sets };
        let load_kg = self.plates(rung);
        let mut short = 0;
        for set in 0..sets {
            let rest = self.rest(set, 180.0);
            let effort = Effort { rung, shading: shading.clone(), load_kg, rest };
            let (units, stop) = self.set(&effort, Purpose::Working, Some(target));
            let is_target = stop == Stop::Target;
            if let Some(stand) = self.stands.get_mut(slot.ladder) {
                stand.note(units, is_target && target == band.high);
            }
            short = if is_target { 0 } else { short + 1 };
            if stop == Stop::Pain || short >= 3 {
                break;
            }
        }
    }

    /// Plates on the belt, for those who have them, on rungs where they may be used.
    fn plates(&mut self, rung: RungIx) -> f64 {
        let r = self.catalog.rung(rung);
        let has = self.person.equipment.contains(&"weight") && r.unit == Unit::Reps && r.load_share.is_some();
        if has && self.dice.chance(0.5) { 2.5 * [1.0, 2.0, 3.0][self.dice.below(3)] } else { 0.0 }
    }

    fn attempt(&mut self, slot: &Slot) {
        let Some(stand) = self.stands.get(slot.ladder) else { return };
        let steps = 1 + usize::from(self.dice.chance(self.person.habit.boldness * 0.4));
        let rung = stand.harder(steps);
        if rung == stand.rung() {
            return;
        }
        let target = attempt_band(self.catalog.rung(rung)).high;
        let mut misses = 0;
        for set in 0..slot.sets {
            let effort = Effort { rung, shading: None, load_kg: 0.0, rest: self.rest(set, 160.0) };
            let (units, stop) = self.set(&effort, Purpose::Attempt, Some(target));
            misses = if units == 0 { misses + 1 } else { 0 };
            if misses >= 2 || stop == Stop::Pain {
                break;
            }
        }
    }

    fn practise(&mut self, slot: &Slot) {
        let Some(stand) = self.stands.get(slot.ladder) else { return };
        let (now, next) = (stand.rung(), stand.harder(1));
        for set in 0..slot.sets {
            let rung = if set % 2 == 1 { next } else { now };
            let band = working_band(self.catalog.rung(rung));
            let target = band.low + (band.high - band.low) / 2;
            let effort = Effort { rung, shading: None, load_kg: 0.0, rest: self.rest(set, 90.0) };
            let (units, stop) = self.set(&effort, Purpose::Practice, Some(target));
            if let Some(stand) = self.stands.get_mut(slot.ladder).filter(|s| s.rung() == rung) {
                stand.note(units, stop == Stop::Target);
            }
        }
    }

    fn test(&mut self, slot: &Slot) {
        let Some(stand) = self.stands.get(slot.ladder) else { return };
        let effort = Effort { rung: stand.rung(), shading: None, load_kg: 0.0, rest: 300 };
        self.set(&effort, Purpose::Test, None);
        self.set(&effort, Purpose::Test, None);
    }

    fn play(&mut self, session: &[Slot]) {
        let Some(stand) = session.first().and_then(|slot| self.stands.get(slot.ladder)) else { return };
        let rung = stand.harder(2);
        for _ in 0..1 + self.dice.below(3) {
            let effort = Effort { rung, shading: None, load_kg: 0.0, rest: 90 };
            self.set(&effort, Purpose::Free, None);
        }
    }

    /// Seconds of rest before a set.
    fn rest(&mut self, set: u16, usual: f64) -> u16 {
        let seconds = if set == 0 { 240.0 } else { usual * self.dice.between(0.6, 1.5) };
        let fives = libm::round(seconds / 15.0) * 15.0;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 300")]
        let whole = fives as u16;
        whole
    }

    /// Does one set, logs it and says how it ended.
    fn set(&mut self, effort: &Effort, purpose: Purpose, target: Option<u16>) -> (u16, Stop) {
        let limit = self.body.limit(self.catalog, effort, &mut self.dice);
        let pain = self.pain(effort);
        let (units, stop) = self.ending(limit, target, pain);
        self.body.done(self.catalog, effort, (units, limit));
        let happened = Happened { effort: effort.clone(), purpose, target, units, stop, limit, pain };
        self.diary.write(&happened, &mut self.dice);
        (units, stop)
    }

    fn pain(&self, effort: &Effort) -> Option<f64> {
        let demands = &self.catalog.rung(effort.rung).demands;
        let felt = demands
            .iter()
            .filter_map(|d| pain_on(self.person, self.catalog.ability(d.ability).id.as_str(), self.day));
        felt.reduce(f64::max)
    }

    fn ending(&mut self, limit: Limit, target: Option<u16>, pain: Option<f64>) -> (u16, Stop) {
        let wanted = target.unwrap_or(u16::MAX);
        let most = limit.units.min(wanted);
        if pain.is_some_and(|p| p >= 4.5) {
            return (most / 2, Stop::Pain);
        }
        if most > 1 && self.dice.chance(INTERRUPTED) {
            let stop = if self.dice.chance(0.8) { Stop::Interrupted } else { Stop::Other };
            let part = libm::floor(f64::from(most) * self.dice.unit());
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below a u16")]
            let units = part as u16;
            return (units, stop);
        }
        if limit.units >= wanted {
            return (wanted, Stop::Target);
        }
        let is_careful = limit.units > 0 && self.dice.chance(self.person.habit.caution);
        if is_careful {
            return (limit.units - u16::from(limit.units > 1 && self.dice.chance(0.5)), Stop::Chosen);
        }
        let stop = match limit.kind {
            AbilityKind::Strength => Stop::Strength,
            AbilityKind::Balance => Stop::Balance,
            AbilityKind::Line => Stop::Line,
        };
        let is_said = self.dice.chance(self.person.habit.cause);
        (limit.units, if is_said { stop } else { Stop::Failed })
    }
}
