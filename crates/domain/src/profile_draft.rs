//! Profile draft: an athlete's profile as it comes in, and the one check that turns it into a [`Profile`].

use std::collections::BTreeSet;

use crate::band::{Band, BandPair, Bands};
use crate::catalog::Catalog;
use crate::date::CivilDate;
use crate::draft::{Choice, Findings, MAX_LISTED, check_choice, check_rung, check_text, listed, quoted};
use crate::ids::EquipmentId;
use crate::measure::{Grams, Pain, Unit};
use crate::problem::{Problem, did_you_mean};
use crate::profile::{Clearance, Confirmation, Goal, Limits, Profile, Weekdays, Word};

/// Year, month, day as they come in.
pub type DateParts = (i64, i64, i64);

/// A clearance as it comes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfirmationDraft {
    /// What was confirmed.
    pub clearance: Choice<Clearance>,
    /// When.
    pub confirmed_date: Option<DateParts>,
    /// By whom.
    pub confirmed_by: String,
}

/// Bands as they come in: (working low, high, attempt low, high) for reps, holding and lowering.
pub type BandsDraft = [Option<(i64, i64, i64, i64)>; 3];

/// A profile as it comes in, nothing checked. Field names are those of the contract.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ProfileDraft {
    /// A name to show.
    pub display_name: String,
    /// Birth date.
    pub birth_date: Option<DateParts>,
    /// Body mass.
    pub body_mass_kg: Option<f64>,
    /// Goal rungs as `ladder/rung`, with the day wished for.
    pub goals: Vec<(String, Option<DateParts>)>,
    /// Equipment slugs.
    pub equipment: Vec<String>,
    /// Weekdays, 0 for Monday; empty for every day.
    pub available_weekdays: Vec<u8>,
    /// Pain at which a rung is held back.
    pub max_pain: Option<i64>,
    /// Most sets a session.
    pub max_sets_per_session: Option<i64>,
    /// Most minutes a session.
    pub max_minutes: Option<i64>,
    /// Banned rungs with reasons.
    pub bans: Vec<(String, String)>,
    /// Rungs insisted on, with reasons.
    pub pins: Vec<(String, String)>,
    /// Hardest rungs allowed, with reasons.
    pub caps: Vec<(String, String)>,
    /// Clearances.
    pub clearances: Vec<ConfirmationDraft>,
    /// The coach's own bands.
    pub bands: BandsDraft,
}

impl ProfileDraft {
    /// Checks every field. Fails with every problem found, fields named as in the contract.
    pub fn check(&self, catalog: &Catalog, today: CivilDate) -> Result<Profile, Vec<Problem>> {
        let mut bad = Findings(Vec::new());
        check_name(&mut bad, &self.display_name);
        let birth_date = self.birth_date.and_then(|parts| check_past(&mut bad, "birth_date", parts, today));
        let body_mass = self.body_mass_kg.and_then(|kg| {
            let mass = Grams::from_kg(kg, 20.0, 300.0);
            if mass.is_none() {
                bad.add("body_mass_kg", kg.to_string(), "kilograms from 20 to 300");
            }
            mass
        });
        let goals = self.check_goals(&mut bad, catalog);
        let equipment = self.check_equipment(&mut bad, catalog);
        let days = self.check_days(&mut bad);
        let limits = self.check_limits(&mut bad, catalog);
        let clearances = self.check_clearances(&mut bad, today);
        let bands = check_bands(&mut bad, &self.bands);
        if !bad.0.is_empty() {
            return Err(bad.0);
        }
        Ok(Profile {
            display_name: self.display_name.trim().to_owned(),
            birth_date,
            body_mass,
            goals,
            equipment,
            days,
            limits,
            clearances,
            bands,
        })
    }

    fn check_goals(&self, bad: &mut Findings, catalog: &Catalog) -> Vec<Goal> {
        let mut found: Vec<Goal> = Vec::new();
        for (i, (text, by)) in listed(bad, "goals", &self.goals, MAX_LISTED).iter().enumerate() {
            let at = bad.0.len();
            let by = by.and_then(|(y, m, d)| {
                let date = CivilDate::from_parts(y, m, d).ok();
                if date.is_none() {
                    bad.add("by_date", format!("{y}-{m}-{d}"), "a day that exists, from 1900 to 2199");
                }
                date
            });
            match check_rung(bad, text, catalog) {
                Some((name, ..)) if found.iter().any(|g| g.rung == name) => {
                    bad.add("rung", format!("{} again", quoted(text)), "each goal once");
                }
                Some((rung, ..)) => found.push(Goal { rung, by }),
                None => {}
            }
            prefix(bad, at, &format!("goals[{i}]"));
        }
        found
    }

    fn check_equipment(&self, bad: &mut Findings, catalog: &Catalog) -> BTreeSet<EquipmentId> {
        let known: BTreeSet<&str> = catalog
            .ladders()
            .iter()
            .flat_map(|l| {
                let rungs = l.rungs.iter().flat_map(|r| r.equipment.iter());
                rungs.chain(l.shadings.iter().flat_map(|s| s.equipment.iter()))
            })
            .map(EquipmentId::as_str)
            .collect();
        let mut found = BTreeSet::new();
        for (i, word) in listed(bad, "equipment", &self.equipment, MAX_LISTED).iter().enumerate() {
            match EquipmentId::new(word).ok().filter(|id| known.contains(id.as_str())) {
                Some(id) => {
                    found.insert(id);
                }
                None => {
                    let guess = did_you_mean(word, known.iter().copied());
                    let list: Vec<&str> = known.iter().copied().collect();
                    bad.add(
                        &format!("equipment[{i}]"),
                        quoted(word),
                        format!("one of {}{guess}", list.join(", ")),
                    );
                }
            }
        }
        found
    }

    fn check_days(&self, bad: &mut Findings) -> Weekdays {
        let days = listed(bad, "available_weekdays", &self.available_weekdays, MAX_LISTED);
        for (i, day) in days.iter().enumerate().filter(|(_, d)| **d > 6) {
            bad.add(&format!("available_weekdays[{i}]"), day.to_string(), "a day from Monday to Sunday");
        }
        if self.available_weekdays.is_empty() {
            Weekdays::ALL
        } else {
            Weekdays::from_days(self.available_weekdays.iter().copied())
        }
    }

    fn check_limits(&self, bad: &mut Findings, catalog: &Catalog) -> Limits {
        let default = Limits::default();
        let max_pain = match self.max_pain {
            None => default.max_pain,
            Some(v) => Pain::new(v).filter(|p| p.get() >= 1).unwrap_or_else(|| {
                bad.add("limits.max_pain", v.to_string(), "a whole number from 1 to 10");
                default.max_pain
            }),
        };
        let mut number = |field: &str, value: Option<i64>, high: u16, default: u16| match value {
            None => default,
            Some(v) => u16::try_from(v).ok().filter(|n| (1..=high).contains(n)).unwrap_or_else(|| {
                bad.add(field, v.to_string(), format!("a whole number from 1 to {high}"));
                default
            }),
        };
        let max_sets = number("limits.max_sets_per_session", self.max_sets_per_session, 60, default.max_sets);
        let max_minutes = number("limits.max_minutes", self.max_minutes, 300, default.max_minutes);
        let [bans, pins, caps] = [&BANS, &PINS, &CAPS].map(|list| list.check(bad, self, catalog));
        Limits { max_pain, max_sets, max_minutes, bans, pins, caps }
    }

    fn check_clearances(&self, bad: &mut Findings, today: CivilDate) -> Vec<Confirmation> {
        let mut found: Vec<Confirmation> = Vec::new();
        for (i, draft) in listed(bad, "clearances", &self.clearances, MAX_LISTED).iter().enumerate() {
            let at = bad.0.len();
            let clearance =
                check_choice(bad, "clearance", &draft.clearance, &Clearance::ALL.map(Clearance::word));
            let on = match draft.confirmed_date {
                // As with training dates: one day more, for those who live east of the service.
                Some(parts) => check_past(bad, "confirmed_date", parts, today.plus_days(1)),
                None => {
                    bad.add("confirmed_date", "nothing", "the day on which it was confirmed");
                    None
                }
            };
            if draft.confirmed_by.trim().is_empty() {
                bad.add("confirmed_by", "nothing", "who confirmed it");
            }
            check_text(bad, "confirmed_by", &draft.confirmed_by);
            if let Some(again) = clearance.filter(|c| found.iter().any(|f| f.clearance == *c)) {
                bad.add("clearance", format!("`{}` again", again.word()), "each clearance once");
            }
            if let (Some(clearance), Some(on)) = (clearance, on) {
                found.push(Confirmation { clearance, on, by: draft.confirmed_by.clone() });
            }
            prefix(bad, at, &format!("clearances[{i}]"));
        }
        found
    }
}

/// A list of rungs that the coach has spoken of.
struct WordList {
    field: &'static str,
    wanted: &'static str,
    of: fn(&ProfileDraft) -> &[(String, String)],
    once_a_ladder: bool,
}

const BANS: WordList = WordList {
    field: "limits.banned_rungs",
    wanted: "why the rung is banned",
    of: |draft| &draft.bans,
    once_a_ladder: false,
};
const PINS: WordList = WordList {
    field: "limits.pinned_rungs",
    wanted: "why the rung is insisted on",
    of: |draft| &draft.pins,
    once_a_ladder: true,
};
const CAPS: WordList = WordList {
    field: "limits.capped_rungs",
    wanted: "why nothing harder is allowed",
    of: |draft| &draft.caps,
    once_a_ladder: true,
};

impl WordList {
    fn check(&self, bad: &mut Findings, draft: &ProfileDraft, catalog: &Catalog) -> Vec<Word> {
        let mut words: Vec<Word> = Vec::new();
        for (i, (text, reason)) in listed(bad, self.field, (self.of)(draft), MAX_LISTED).iter().enumerate() {
            let at = bad.0.len();
            if reason.trim().is_empty() {
                bad.add("reason", "nothing", self.wanted);
            }
            check_text(bad, "reason", reason);
            if let Some((rung, ..)) = check_rung(bad, text, catalog) {
                let other = words.iter().find(|w| self.once_a_ladder && w.rung.ladder == rung.ladder);
                if words.iter().any(|w| w.rung == rung) {
                    bad.add("rung", format!("{} again", quoted(text)), "each rung once");
                } else if let Some(other) = other {
                    bad.add("rung", format!("{} beside {}", quoted(text), other.rung), "one rung a ladder");
                } else {
                    words.push(Word { rung, reason: reason.clone() });
                }
            }
            prefix(bad, at, &format!("{}[{i}]", self.field));
        }
        words
    }
}

/// Puts `path.` before the fields of the problems found since `from`.
fn prefix(bad: &mut Findings, from: usize, path: &str) {
    for problem in bad.0.iter_mut().skip(from) {
        problem.field = format!("{path}.{}", problem.field);
    }
}

pub(crate) fn check_name(bad: &mut Findings, name: &str) {
    if name.trim().is_empty() || name.len() > 120 {
        bad.add("display_name", quoted(name), "a name of 1 to 120 bytes");
    }
}

fn check_past(bad: &mut Findings, field: &str, (y, m, d): DateParts, today: CivilDate) -> Option<CivilDate> {
    let date = CivilDate::from_parts(y, m, d).ok().filter(|date| *date <= today);
    if date.is_none() {
        bad.add(field, format!("{y}-{m}-{d}"), format!("a day that exists, not after {today}"));
    }
    date
}

/// Bands over the defaults; nothing when no unit is overridden.
pub fn check_bands_draft(draft: &BandsDraft) -> Result<Option<Bands>, Vec<Problem>> {
    let mut bad = Findings(Vec::new());
    let bands = check_bands(&mut bad, draft);
    if bad.0.is_empty() { Ok(bands) } else { Err(bad.0) }
}

fn check_bands(bad: &mut Findings, draft: &BandsDraft) -> Option<Bands> {
    if draft.iter().all(Option::is_none) {
        return None;
    }
    let mut bands = Bands::default();
    let places = [&mut bands.reps, &mut bands.hold, &mut bands.lowering];
    for ((unit, place), given) in Unit::ALL.into_iter().zip(places).zip(draft) {
        let Some((a, b, c, d)) = *given else { continue };
        match (Band::new(unit, a, b), Band::new(unit, c, d)) {
            (Some(working), Some(attempt)) => *place = BandPair { working, attempt },
            _ => {
                let found = format!("working {a}-{b}, attempt {c}-{d}");
                let most = unit.most();
                let expected = format!(
                    "for each, a low of at least 1 that is not above the high, and a high of at most {most}"
                );
                bad.add(&format!("bands.{}", unit.field()), found, expected);
            }
        }
    }
    Some(bands)
}
