//! Load: what a day's training comes to, as far as the wishes of a week go.

use std::collections::{BTreeMap, BTreeSet};

use nextrung_domain::ability::{AbilityIx, AbilityKind};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::LadderId;
use nextrung_domain::ladder::Side;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::Purpose;

use crate::prescription::{Block, Item};

/// Sets on a ladder that make an exposure, and sets on an ability that make it worked hard: the two sets of a test do,
/// the one set that shows a gate does not. Common practice, no source.
const COUNTING_SETS: u16 = 2;

/// Sets of one part of a session on one rung.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// The part.
    pub block: Block,
    /// The rung.
    pub rung: RungIx,
    /// How many.
    pub sets: u16,
}

/// One day as the log has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrainedDay {
    /// Days since 1970-01-01.
    pub day: i32,
    /// What was done, in the order in which it first came.
    pub efforts: Vec<Effort>,
}

/// What the week is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Aims {
    /// Ladders of strength, the dearest first.
    pub ladders: Vec<LadderId>,
    /// Ladders of balance practice.
    pub practice: Vec<LadderId>,
    /// Arm sides of those ladders, the dearest first.
    pub arms: Vec<Side>,
    /// True when one of them trains the legs.
    pub are_legs_wanted: bool,
    /// Sets on a side after which the rule of a day counts it as trained.
    pub side_sets: u16,
    /// Days in a row after which a rest day comes.
    pub days_in_row: i32,
}

/// What a day's training comes to. Rest is the default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Load {
    /// By ladder of strength, in the order of the aims: whether it was an exposure. Empty means none.
    pub exposures: Vec<bool>,
    /// By ladder of practice, in the order of the aims. Empty means none.
    pub practice: Vec<bool>,
    /// Strengths worked hard.
    pub hard: BTreeSet<AbilityIx>,
    /// The arm side that the rule of a day counts as trained; none when both were: such a day takes no turn.
    pub arm: Option<Side>,
    /// Sides that the rule of a day counts as trained, in the order of [`Side::ALL`].
    pub sides: [bool; 4],
    /// Sets in all.
    pub sets: u16,
}

impl Load {
    /// What some efforts come to.
    pub fn of(aims: &Aims, catalog: &Catalog, efforts: &[Effort]) -> Self {
        let total = |counts: &dyn Fn(&Effort) -> bool| {
            efforts.iter().filter(|e| counts(e)).map(|e| e.sets).fold(0, u16::saturating_add)
        };
        let on = |e: &Effort, ladder: &LadderId| catalog.ladder_of(e.rung).id == *ladder;
        let is_work = |e: &Effort| matches!(e.block, Block::Working | Block::Test);
        let is_exposed = |l: &LadderId| total(&|e| is_work(e) && on(e, l)) >= COUNTING_SETS;
        let is_practised = |l: &LadderId| total(&|e| on(e, l)) > 0;
        let sides = Side::ALL.map(|side| total(&|e| catalog.rung(e.rung).side == side) >= aims.side_sets);
        let is_trained = |side: Side| Side::ALL.iter().zip(sides).any(|(s, is_in)| *s == side && is_in);
        let arm = match [Side::BentArm, Side::StraightArm].map(is_trained) {
            [true, false] => Some(Side::BentArm),
            [false, true] => Some(Side::StraightArm),
            [false, false] | [true, true] => None,
        };
        Self {
            exposures: aims.ladders.iter().map(is_exposed).collect(),
            practice: aims.practice.iter().map(is_practised).collect(),
            hard: hard_abilities(catalog, efforts),
            arm,
            sides,
            sets: total(&|_| true),
        }
    }

    /// True when nothing was trained.
    pub fn is_rest(&self) -> bool {
        self.sets == 0
    }

    /// True when the rule of a day counts the side as trained.
    pub fn has_side(&self, side: Side) -> bool {
        Side::ALL.iter().position(|s| *s == side).is_some_and(|place| self.sides[place])
    }
}

/// True for sets that are not practice of balance.
fn is_hard(catalog: &Catalog, effort: &Effort) -> bool {
    effort.block != Block::BalancePractice && catalog.rung(effort.rung).side != Side::Balance
}

/// Strengths that a rung asks for.
pub(super) fn strengths(catalog: &Catalog, rung: RungIx) -> impl Iterator<Item = AbilityIx> + '_ {
    let demands = catalog.rung(rung).demands.iter().map(|d| d.ability);
    demands.filter(|a| catalog.ability(*a).kind == AbilityKind::Strength)
}

fn hard_abilities(catalog: &Catalog, efforts: &[Effort]) -> BTreeSet<AbilityIx> {
    let mut sets: BTreeMap<AbilityIx, u16> = BTreeMap::new();
    for effort in efforts.iter().filter(|e| is_hard(catalog, e)) {
        for ability in strengths(catalog, effort.rung) {
            let count = sets.entry(ability).or_insert(0);
            *count = count.saturating_add(effort.sets);
        }
    }
    sets.into_iter().filter(|(_, count)| *count >= COUNTING_SETS).map(|(ability, _)| ability).collect()
}

/// The efforts of a prescription's items, in their order.
pub(super) fn of_items(catalog: &Catalog, items: &[Item]) -> Vec<Effort> {
    let effort = |i: &Item| catalog.find(&i.rung).map(|rung| Effort { block: i.block, rung, sets: i.sets });
    items.iter().filter_map(effort).collect()
}

/// The days of some sets, which come in training order. Sets of unknown rungs are passed over, as in the history; what
/// was done for its own sake counts as work.
pub fn trained_days<'s>(catalog: &Catalog, sets: impl IntoIterator<Item = &'s SetEntry>) -> Vec<TrainedDay> {
    let mut days: Vec<TrainedDay> = Vec::new();
    for set in sets {
        let Some(rung) = catalog.find(&set.rung) else { continue };
        let block = match set.purpose {
            Purpose::Working | Purpose::Free => Block::Working,
            Purpose::Attempt => Block::Attempt,
            Purpose::Practice => Block::BalancePractice,
            Purpose::Test => Block::Test,
        };
        let day = set.date.day_number();
        if days.last().is_none_or(|d| d.day != day) {
            days.push(TrainedDay { day, efforts: Vec::new() });
        }
        let Some(TrainedDay { efforts, .. }) = days.last_mut() else { continue };
        match efforts.iter_mut().find(|e| e.block == block && e.rung == rung) {
            Some(effort) => effort.sets = effort.sets.saturating_add(1),
            None => efforts.push(Effort { block, rung, sets: 1 }),
        }
    }
    days
}
