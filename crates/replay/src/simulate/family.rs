//! Family: kinds of truth, each a departure from the model's own that is known and seeded.
//!
//! | family | what is true |
//! |---|---|
//! | matched | the model's own formulas and parameters (F-01 to F-05) |
//! | normal, heavy tails | set noise of another shape and the same spread |
//! | scattered, regular | noise of sets and form of the day 1.7 times as large, or 0.6 times |
//! | growth | levels grow by the work done ([`Dose`]), not by a trend |
//! | plateaus | levels stand still for weeks and jump ([`Jumps`]) |
//! | time off | away for weeks, with twice the loss the model takes for granted |
//! | pain | sets ended by pain, the likelier the greater the strain ([`Ache`]), and days off after |
//! | misreported | reserve claimed far too low, by each athlete differently, in three words only |
//! | own choice | rungs and targets by temper, not by the service |
//! | gaps | sessions and sets nobody hears of, late batches, slips corrected, doubles withdrawn |
//! | all at once | heavy tails, growth, time off, pain, misreported reserve and gaps together |
//!
//! In every family a fifth of the causes is not said, a quarter of the sets of reps at their target come with reps in reserve,
//! and one set in twelve is stopped by choice at a count fixed before the set. What is missing and where sets are stopped
//! never depends on the luck of the set, so that nobody can expect to foretell sets better than the truth does; in life it
//! may depend on it. The service that chooses hears at once of what is told and never of the rest; only the log is late.
//! Sizes: common practice, no source.
//!
//! A family goes with any [`World`], and [`Family::and`] joins two.

use std::sync::Arc;

use nextrung_capacity::params::ReserveParameters;
use nextrung_domain::catalog::Catalog;

use crate::simulate::ache::Ache;
use crate::simulate::attendance::Habit;
use crate::simulate::chooser::Chooser;
use crate::simulate::crowd::mail::Mail;
use crate::simulate::growth::{Dose, Growth, Jumps};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::{Setup, Telling};
use crate::simulate::world::World;

/// A kind of truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Family {
    /// Its name, also on the command line.
    pub name: &'static str,
    /// Shape of the set's noise.
    pub noise: Noise,
    /// Noise of sets and form of the day, times the model's.
    pub scatter: f64,
    /// How levels move.
    pub growth: Growth,
    /// Loss in time off, times the model's.
    pub idle_loss: f64,
    /// How prone to pain athletes are.
    pub ache: Option<Ache>,
    /// How they truly report reserve; the model's way when nothing is said.
    pub reserve: Option<ReserveParameters>,
    /// What they tell.
    pub telling: Telling,
    /// When they turn up.
    pub habit: Habit,
    /// Who chooses the rungs of a roster.
    pub chooser: Chooser,
    /// How what is told reaches the log.
    pub mail: Mail,
}

/// What athletes tell in every family.
const TELLING: Telling =
    Telling { unsaid: 0.2, reserve: 0.25, chosen: 1.0 / 12.0, near: 0.0, ..Telling::PLAIN };

/// The model's own.
pub const MATCHED: Family = Family {
    name: "matched",
    noise: Noise::Logistic,
    scatter: 1.0,
    growth: Growth::Trend,
    idle_loss: 1.0,
    ache: None,
    reserve: None,
    telling: TELLING,
    habit: Habit::ALWAYS,
    chooser: Chooser::Service,
    mail: Mail::PROMPT,
};

/// Normal set noise.
pub const NORMAL: Family = Family { name: "normal", noise: Noise::Normal, ..MATCHED };

/// Student's t with three degrees of freedom.
pub const HEAVY_TAILS: Family = Family { name: "heavy-tails", noise: Noise::StudentThree, ..MATCHED };

/// Sets and days scatter more than the model takes for granted.
pub const SCATTERED: Family = Family { name: "scattered", scatter: 1.7, ..MATCHED };

/// Sets and days scatter less.
pub const REGULAR: Family = Family { name: "regular", scatter: 0.6, ..MATCHED };

/// Growth by the work done.
pub const GROWTH: Family = Family { name: "growth", growth: Growth::Dose(Dose::USUAL), ..MATCHED };

/// Flat spells and jumps.
pub const PLATEAUS: Family = Family { name: "plateaus", growth: Growth::Jumps(Jumps::USUAL), ..MATCHED };

/// Absences of weeks that cost more than the model expects.
pub const TIME_OFF: Family =
    Family { name: "time-off", habit: Habit::COMES_AND_GOES, idle_loss: 2.0, ..MATCHED };

/// Pain.
pub const PAIN: Family = Family { name: "pain", ache: Some(Ache::USUAL), ..MATCHED };

/// Reserve claimed about a third too low (ln -0.45 of capacity, spread 0.3) on most sets, in three words.
pub const MISREPORTED: Family = Family {
    name: "misreported",
    reserve: Some(ReserveParameters { bias_mean: -0.45, bias_sd: 0.3, error: 0.8, growth: 0.25 }),
    telling: Telling { reserve: 0.8, is_coarse: true, ..TELLING },
    ..MATCHED
};

/// Rungs and targets by temper.
pub const OWN_CHOICE: Family = Family { name: "own-choice", chooser: Chooser::Own, ..MATCHED };

/// Missing sessions and sets, late batches, corrections and withdrawals.
pub const GAPS: Family = Family {
    name: "gaps",
    telling: Telling { lost: (0.15, 0.08), ..TELLING },
    mail: Mail::CARELESS,
    ..MATCHED
};

/// Every family, the last of them all departures together that go together.
pub fn all() -> [Family; 13] {
    let together = HEAVY_TAILS.and(GROWTH).and(TIME_OFF).and(PAIN).and(MISREPORTED).and(GAPS);
    [
        MATCHED,
        NORMAL,
        HEAVY_TAILS,
        SCATTERED,
        REGULAR,
        GROWTH,
        PLATEAUS,
        TIME_OFF,
        PAIN,
        MISREPORTED,
        OWN_CHOICE,
        GAPS,
        Family { name: "all-at-once", ..together },
    ]
}

/// The family of a name.
pub fn named(name: &str) -> Option<Family> {
    all().into_iter().find(|family| family.name == name)
}

impl Family {
    /// This family with every departure of another one, which comes first where both depart; the name stays.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        fn of<T: PartialEq>(ours: T, theirs: T, usual: &T) -> T {
            if theirs == *usual { ours } else { theirs }
        }
        let (ours, theirs, usual) = (self.telling, other.telling, TELLING);
        Self {
            name: self.name,
            noise: of(self.noise, other.noise, &MATCHED.noise),
            scatter: of(self.scatter, other.scatter, &MATCHED.scatter),
            growth: of(self.growth, other.growth, &MATCHED.growth),
            idle_loss: of(self.idle_loss, other.idle_loss, &MATCHED.idle_loss),
            ache: of(self.ache, other.ache, &MATCHED.ache),
            reserve: of(self.reserve, other.reserve, &MATCHED.reserve),
            telling: Telling {
                unsaid: of(ours.unsaid, theirs.unsaid, &usual.unsaid),
                reserve: of(ours.reserve, theirs.reserve, &usual.reserve),
                chosen: of(ours.chosen, theirs.chosen, &usual.chosen),
                near: of(ours.near, theirs.near, &usual.near),
                is_coarse: of(ours.is_coarse, theirs.is_coarse, &usual.is_coarse),
                lost: of(ours.lost, theirs.lost, &usual.lost),
            },
            habit: of(self.habit, other.habit, &MATCHED.habit),
            chooser: of(self.chooser, other.chooser, &MATCHED.chooser),
            mail: of(self.mail, other.mail, &MATCHED.mail),
        }
    }

    /// The setup of a world whose truth is of this family; the service keeps its own parameters.
    ///
    /// # Errors
    ///
    /// [`SimulationError`] when the ladders lack what the world needs.
    pub fn setup(&self, catalog: &Arc<Catalog>, world: &World) -> Result<Setup, SimulationError> {
        let mut setup = Setup::of_world(catalog, world, self.noise, self.telling)?;
        for kind in &mut setup.truth.kinds {
            kind.scale *= self.scatter;
            kind.day_sd *= self.scatter;
            kind.idle_loss *= self.idle_loss;
        }
        setup.truth.reserve = self.reserve.unwrap_or(setup.truth.reserve);
        setup.growth = self.growth;
        setup.ache = self.ache;
        Ok(setup)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_told_apart_and_found() {
        for family in all() {
            assert_eq!(named(family.name), Some(family));
        }
        assert_eq!(named("unheard-of"), None);
    }

    #[test]
    fn every_family_but_the_first_departs_from_the_model() {
        for family in &all()[1..] {
            assert_ne!(Family { name: MATCHED.name, ..*family }, MATCHED, "{}", family.name);
        }
    }

    #[test]
    fn joined_families_keep_both_departures() {
        let both = PAIN.and(GAPS);
        assert_eq!((both.ache, both.telling, both.mail), (PAIN.ache, GAPS.telling, GAPS.mail));
        assert_eq!(GAPS.and(PAIN), Family { name: GAPS.name, ..both });
        assert_eq!(
            SCATTERED.and(REGULAR).scatter.to_bits(),
            REGULAR.scatter.to_bits(),
            "the other comes first"
        );
        assert_eq!(PAIN.and(MATCHED), PAIN);
    }
}
