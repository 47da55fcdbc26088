//! Truth: an athlete whose levels are known, who does what the prescription says.

use nextrung_capacity::load::loaded_units;
use nextrung_capacity::task::{Task, mass_ratio};
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Grams;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::{Block, Item, Prescription};

use super::gym::Athlete;

/// What is true of an athlete: one level per ability, on the scale of the catalog.
#[derive(Clone)]
pub(crate) struct Truth {
    pub(crate) levels: Vec<f64>,
    /// Scatter of a set, ln units (uniform within twice this).
    pub(crate) scatter: f64,
    seed: u64,
}

impl Truth {
    /// Everybody's start levels, with some set otherwise.
    pub(crate) fn new(athlete: &Athlete, levels: &[(&str, f64)], seed: u64) -> Self {
        let level = |ability: &nextrung_domain::ability::Ability| {
            let told = levels.iter().find(|(id, _)| *id == ability.id.as_str());
            told.map_or(ability.start_level, |(_, level)| *level)
        };
        Self { levels: athlete.model.catalog.abilities().iter().map(level).collect(), scatter: 0.06, seed }
    }

    /// A number in -1..1 (splitmix64, public domain).
    fn draw(&mut self) -> f64 {
        self.seed = self.seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.seed;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let top = u32::try_from((z ^ (z >> 31)) >> 32).expect("32 bits");
        f64::from(top) / f64::from(u32::MAX) * 2.0 - 1.0
    }

    /// Units a rested athlete could do, and the kind of ability that gives out first.
    pub(crate) fn capacity(&self, task: &Task) -> (f64, AbilityKind) {
        task.demands()
            .iter()
            .map(|d| {
                let units = libm::exp(self.levels[d.ability.at()] - d.difficulty);
                (loaded_units(units, task.mass_ratio).max(0.0), d.kind)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .expect("a rung demands something")
    }

    /// Units a rested athlete could do on a plain rung.
    pub(crate) fn on_rung(&self, athlete: &Athlete, rung: &str) -> f64 {
        let name = nextrung_domain::ids::RungRef::parse(rung).expect("a rung");
        let ix = athlete.model.catalog.find(&name).expect("a known rung");
        self.capacity(&Task::new(&athlete.model.catalog, ix, &[], 1.0)).0
    }

    /// Does one item as it says, its stop rule included.
    fn item(&mut self, athlete: &Athlete, item: &Item) -> Vec<SetDraft> {
        let catalog = &athlete.model.catalog;
        let ix = catalog.find(&item.rung).expect("a known rung");
        let load = Grams::from_kg(item.load_kg, -150.0, 150.0).filter(|l| l.kg() != 0.0);
        let share = catalog.rung(ix).load_share.as_ref().map(|(s, _)| *s);
        let task = Task::new(catalog, ix, &item.shadings, mass_ratio(share, athlete.profile.body_mass, load));
        let (rested, kind) = self.capacity(&task);
        let mut sets: Vec<SetDraft> = Vec::new();
        let mut misses = 0;
        for number in 0..item.sets {
            let spread = match kind {
                AbilityKind::Strength => self.scatter,
                AbilityKind::Balance | AbilityKind::Line => 3.0 * self.scatter,
            };
            let tired = 0.03 * f64::from(number);
            let can = rested * libm::exp(2.0 * spread * self.draw() - tired);
            let whole = i64::from(item.target_high).min(units(can));
            let reached = whole >= i64::from(item.target_high);
            let is_test = item.block == Block::Test;
            let (done, stop) = match (reached, kind) {
                (true, _) => (whole, Stop::Target),
                (false, _) if is_test && whole > 1 => (whole - 1, Stop::Chosen),
                (false, AbilityKind::Strength) => (whole, Stop::Strength),
                (false, AbilityKind::Balance) => (whole, Stop::Balance),
                (false, AbilityKind::Line) => (whole, Stop::Line),
            };
            sets.push(SetDraft {
                rung: item.rung.to_string(),
                purpose: Choice::Known(purpose(item.block)),
                shadings: item.shadings.iter().map(ToString::to_string).collect(),
                done: Some((item.unit, done)),
                planned_target: Some(i64::from(item.target_high)),
                stop: Choice::Known(stop),
                reps_in_reserve: (stop == Stop::Chosen).then_some(1),
                rest_seconds: (number > 0).then_some(item.rest_seconds.into()),
                load_kg: load.map(Grams::kg),
                ..SetDraft::default()
            });
            let is_miss = done < i64::from(item.target_low);
            misses = if is_miss { misses + 1 } else { 0 };
            if item.stop_rule.misses_in_a_row.is_some_and(|most| misses >= most) {
                break;
            }
        }
        sets
    }

    /// Does the whole session and logs it.
    pub(crate) fn follow(&mut self, athlete: &mut Athlete, day: i32, prescription: &Prescription) {
        let sets: Vec<SetDraft> =
            prescription.items.iter().flat_map(|item| self.item(athlete, item)).collect();
        athlete.log(day, sets);
    }
}

fn purpose(block: Block) -> Purpose {
    match block {
        Block::BalancePractice => Purpose::Practice,
        Block::Attempt => Purpose::Attempt,
        Block::Working => Purpose::Working,
        Block::Test => Purpose::Test,
    }
}

fn units(can: f64) -> i64 {
    (0..=1800).rev().find(|n| f64::from(*n) <= can).map_or(0, i64::from)
}
