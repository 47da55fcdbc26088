//! Words: what a refit moved and what it left, in sentences a coach reads (F-09).

use std::collections::BTreeMap;
use std::fmt;

use nextrung_capacity::linear::Sym;
use nextrung_capacity::normal;
use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::measure::Unit;

use super::RefitError;
use super::ascent::Ascent;
use super::cholesky::Cholesky;
use super::ground::Ground;
use super::intake::Verdict;
use super::lean::STEPS;
use super::plan::Plan;
use super::reach::{Demand, Held, is_anchor};

/// A step is told as moved when it differs from the ladder file by more than this many of its standard deviations.
const BEYOND_DOUBT: f64 = 1.96;
/// An order is told as turned when it is at least this likely.
const TURNED: f64 = 0.9;

/// A rung as a coach knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Named {
    /// Its number.
    pub rung: RungIx,
    /// Its name.
    pub name: String,
    /// What it is counted in.
    pub unit: Unit,
}

/// The step between two rungs that follow each other on a ladder, among those whose difficulty is known from the roster.
#[derive(Debug, Clone, PartialEq)]
pub struct StepBetween {
    /// The ability.
    pub ability: AbilityIx,
    /// Its name, when one of the rungs asks for others too.
    pub ability_name: Option<String>,
    /// The rung that comes first on the ladder.
    pub from: Named,
    /// The next.
    pub to: Named,
    /// Difference of the difficulties, ln units: as the ladder file has it.
    pub on_file: f64,
    /// As the roster has it.
    pub found: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Athletes who trained both.
    pub shared: usize,
}

/// A difficulty that stayed where the ladder file has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stayed {
    /// The rung.
    pub rung: Named,
    /// The ability.
    pub ability: AbilityIx,
    /// Its name.
    pub ability_name: String,
    /// Why.
    pub why: Held,
    /// Athletes who trained it.
    pub athletes: usize,
    /// Name of the anchor.
    pub anchor: String,
}

/// A parameter that was turned.
#[derive(Debug, Clone, PartialEq)]
pub struct Turned {
    /// Its name in the parameters.
    pub name: &'static str,
    /// The kind of ability it is about.
    pub kind: Option<AbilityKind>,
    /// Value before.
    pub from: f64,
    /// Value now.
    pub to: f64,
    /// Standard deviation of the turn, all else held; nothing where the posterior has no top along it.
    pub sd: Option<f64>,
}

/// What moved and what stayed.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// Every step between neighbours of which one moved.
    pub steps: Vec<StepBetween>,
    /// Difficulties of trained rungs that stayed.
    pub stayed: Vec<Stayed>,
    /// Parameters.
    pub dials: Vec<Turned>,
    /// What intake says, where athletes have any.
    pub intake: Vec<Verdict>,
    doubts: BTreeMap<Demand, f64>,
}

impl Account {
    /// Of a finished ascent.
    pub fn of(
        catalog: &Catalog,
        ground: &Ground<'_>,
        plan: &Plan,
        ascent: &Ascent,
    ) -> Result<Self, RefitError> {
        let mut covariances = BTreeMap::new();
        let mut doubts = BTreeMap::new();
        for (ability, lean) in &ascent.look.leans {
            let covariance = Cholesky::of(&lean.information).ok_or(RefitError::Information)?.inverse();
            for (at, rung) in lean.rungs.iter().enumerate() {
                doubts.insert((*ability, *rung), covariance.get(STEPS + at, STEPS + at).sqrt());
            }
            covariances.insert(*ability, covariance);
        }
        let stayed = |(demand, why): (&Demand, &Held)| Stayed {
            rung: named(catalog, demand.1),
            ability: demand.0,
            ability_name: catalog.ability(demand.0).name.clone(),
            why: *why,
            athletes: ground.reach.athletes(*demand),
            anchor: catalog
                .find(&catalog.ability(demand.0).anchor)
                .map_or_else(String::new, |rung| catalog.rung(rung).name.clone()),
        };
        let (now, before) = (ground.parameters(&ascent.look.point), ground.parameters(ground.origin()));
        let searched = plan.dials.iter().zip(&ascent.bends).filter(|(dial, _)| ground.hangs_on(**dial));
        let dials = searched.map(|(dial, bend)| Turned {
            name: dial.name(),
            kind: dial.kind(),
            from: dial.value(&before),
            to: dial.value(&now),
            sd: (*bend > 0.0).then(|| 1.0 / bend.sqrt()),
        });
        Ok(Self {
            steps: steps(catalog, ground, ascent, &covariances),
            stayed: ground.reach.held.iter().map(stayed).collect(),
            dials: dials.collect(),
            intake: Vec::new(),
            doubts,
        })
    }

    /// Standard deviation of a difficulty that moved; 0 for one that did not.
    pub fn doubt(&self, demand: Demand) -> f64 {
        self.doubts.get(&demand).copied().unwrap_or(0.0)
    }

    /// Steps that differ from the ladder file beyond their doubt.
    pub fn moved(&self) -> impl Iterator<Item = &StepBetween> {
        self.steps.iter().filter(|step| step.is_moved())
    }

    /// Steps whose order contradicts the ladder file.
    pub fn turned_round(&self) -> impl Iterator<Item = &StepBetween> {
        self.steps.iter().filter(|step| step.is_turned_round())
    }

    /// One sentence for each step that moved beyond its doubt, each order turned round, what stayed, and what intake says.
    pub fn sentences(&self) -> Vec<String> {
        let mut told: Vec<String> = self.moved().map(ToString::to_string).collect();
        told.extend(self.turned_round().map(StepBetween::order));
        let within = self.steps.iter().filter(|step| !step.is_moved()).count();
        match within {
            0 => {}
            1 => told.push("1 other step is, within its doubt, what the ladder says.".to_owned()),
            _ => told.push(format!("{within} other steps are, within their doubt, what the ladder says.")),
        }
        told.extend(self.stayed.iter().map(ToString::to_string));
        told.extend(self.intake.iter().map(Verdict::sentence));
        told
    }
}

impl StepBetween {
    /// True when it differs from the ladder file beyond its doubt.
    pub fn is_moved(&self) -> bool {
        (self.found - self.on_file).abs() > BEYOND_DOUBT * self.sd
    }

    /// Chance that the order of the two is not that of the ladder file.
    pub fn chance_of_other_order(&self) -> f64 {
        if self.sd > 0.0 {
            normal::distribution(-self.found * 1.0_f64.copysign(self.on_file) / self.sd)
        } else {
            f64::from(u8::from(self.found * self.on_file < 0.0))
        }
    }

    /// True when the order very likely contradicts the ladder file. Rungs in different units have no order.
    pub fn is_turned_round(&self) -> bool {
        self.from.unit == self.to.unit && self.on_file != 0.0 && self.chance_of_other_order() >= TURNED
    }

    fn order(&self) -> String {
        let (harder, easier) =
            if self.on_file > 0.0 { (&self.to, &self.from) } else { (&self.from, &self.to) };
        format!(
            "The ladder has {} as the harder{}, but these athletes find {} harder (chance {:.0} %); the order is left for \
             you to judge.",
            harder.name,
            self.of_ability(),
            easier.name,
            100.0 * self.chance_of_other_order()
        )
    }

    fn of_ability(&self) -> String {
        self.ability_name.as_ref().map_or_else(String::new, |name| format!(" in {}", name.to_lowercase()))
    }

    /// Units on the first rung, and what they are on the other: 5, or more where that would be less than one.
    fn example(&self) -> (f64, f64) {
        let there = |units: f64| (units, units * libm::exp(-self.found));
        let candidates = [5.0, 10.0, 20.0, 40.0];
        candidates.into_iter().map(there).find(|(_, other)| *other >= 1.0).unwrap_or_else(|| there(80.0))
    }
}

impl fmt::Display for StepBetween {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = if self.found > self.on_file { "bigger" } else { "smaller" };
        let (units, other) = self.example();
        let seen = match self.shared {
            0 => "seen by way of other rungs".to_owned(),
            1 => "seen in 1 athlete who trained both".to_owned(),
            many => format!("seen in {many} athletes who trained both"),
        };
        write!(
            f,
            "From {} to {} the step{} is {size} than the ladder says: {:+.2} instead of {:+.2} ln {}, give or take {:.2} (who \
             does {units:.0} {} on the one does about {other:.1} {} on the other), {seen}.",
            self.from.name,
            self.to.name,
            self.of_ability(),
            self.found,
            self.on_file,
            if self.from.unit == self.to.unit { self.from.unit.short() } else { "units" },
            self.sd,
            self.from.unit.short(),
            self.to.unit.short(),
        )
    }
}

impl fmt::Display for Stayed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { rung, ability_name, athletes, anchor, .. } = self;
        let people = if *athletes == 1 { "athlete" } else { "athletes" };
        let why = match self.why {
            Held::Few => format!("only {athletes} {people} trained it"),
            Held::Apart => format!(
                "{athletes} {people} trained it, but too few of them also trained rungs that lead to {anchor}, from which \
                 {} is counted",
                ability_name.to_lowercase()
            ),
            Held::Sure => "the ladder gives it no doubt".to_owned(),
        };
        write!(f, "{} stays where the ladder has it in {}: {why}.", rung.name, ability_name.to_lowercase())
    }
}

fn named(catalog: &Catalog, rung: RungIx) -> Named {
    let about = catalog.rung(rung);
    Named { rung, name: about.name.clone(), unit: about.unit }
}

/// For each ladder and ability, the rungs that moved and the anchor if it was trained, in the order of the ladder, taken
/// two by two.
fn steps(
    catalog: &Catalog,
    ground: &Ground<'_>,
    ascent: &Ascent,
    covariances: &BTreeMap<AbilityIx, Sym>,
) -> Vec<StepBetween> {
    let mut steps = Vec::new();
    for ladder in catalog.ladders() {
        for (ability, lean) in &ascent.look.leans {
            let place = |rung: RungIx| lean.rungs.iter().position(|own| *own == rung);
            let known = |rung: &RungIx| {
                let anchors =
                    is_anchor(catalog, (*ability, *rung)) && ground.reach.athletes((*ability, *rung)) > 0;
                place(*rung).is_some() || anchors
            };
            let rungs: Vec<RungIx> = catalog.rungs_of(&ladder.id).filter(known).collect();
            for (one, other) in rungs.iter().zip(rungs.iter().skip(1)) {
                let found = |rung| ascent.look.point.steps.get(&(*ability, rung)).copied().unwrap_or(0.0);
                let on_file =
                    |rung| catalog.rung(rung).demand_on(*ability).map_or(0.0, |asked| asked.difficulty);
                let variance =
                    covariances.get(ability).map_or(0.0, |c| variance(c, place(*one), place(*other)));
                let several = [one, other].iter().any(|rung| catalog.rung(**rung).demands.len() > 1);
                steps.push(StepBetween {
                    ability: *ability,
                    ability_name: several.then(|| catalog.ability(*ability).name.clone()),
                    from: named(catalog, *one),
                    to: named(catalog, *other),
                    on_file: on_file(*other) - on_file(*one),
                    found: found(*other) - found(*one),
                    sd: variance.max(0.0).sqrt(),
                    shared: ground.reach.shared(*ability, *one, *other),
                });
            }
        }
    }
    steps
}

/// Variance of the difference of two difficulties; an anchor, which has no place, is known.
fn variance(covariance: &Sym, one: Option<usize>, other: Option<usize>) -> f64 {
    let of = |a: Option<usize>, b: Option<usize>| match (a, b) {
        (Some(a), Some(b)) => covariance.get(STEPS + a, STEPS + b),
        _ => 0.0,
    };
    of(one, one) + of(other, other) - 2.0 * of(one, other)
}
