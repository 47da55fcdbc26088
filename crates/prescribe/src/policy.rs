//! Policy: the rules of choice as numbers. Common practice, no source, unless a line says otherwise.

use nextrung_domain::band::{Band, Bands};
use nextrung_domain::ladder::Rung;
use serde::{Deserialize, Serialize};

/// The rules of choice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Policy {
    /// Name of this set of rules, kept with every prescription.
    pub version: String,
    /// Bands by unit; the coach's own where given. A rung's own band in the ladder file comes first.
    pub bands: Bands,
    /// A rung is kept while its chance to land in band is within this of the best.
    pub keep_margin: f64,
    /// Candidates closer than this are as good as each other.
    pub tie_margin: f64,
    /// Chance to land in band at which a plain rung is taken and no shading or load is thought of: those are for what
    /// falls between two rungs, however surely a change to a well known rung would land.
    pub plain_enough: f64,
    /// What a shading must gain over the plain rungs to be worth the trouble.
    pub shading_cost: f64,
    /// What a load must gain: the next rung teaches more than kilograms on this one.
    pub load_cost: f64,
    /// What a rung must gain that is not counted in the unit of the goal.
    pub unit_cost: f64,
    /// Most rungs a working rung may stand above the last one; one more above the hardest rung shown clean.
    pub step_rungs: usize,
    /// A clean unit of an attempt must be at least this likely ...
    pub attempt_floor: f64,
    /// ... and more than the attempt band at most this likely, unless it is a goal not reached yet.
    pub attempt_ceiling: f64,
    /// Doubt about a ladder, ln units, above which a test session comes first.
    pub test_doubt: f64,
    /// Test sessions in a row on a ladder after which training starts with what is known.
    pub test_run: u16,
    /// Chance at which a gate is worth a test set.
    pub opening_chance: f64,
    /// Days before a gate that was not met is tried again.
    pub opening_days: i32,
    /// Chance at which a gate counts as shown by the estimate alone ...
    pub gate_chance: f64,
    /// ... provided the doubt is below this, ln units.
    pub gate_doubt: f64,
    /// Days without work on a ladder after which it is a return.
    pub return_days: i32,
    /// Held in hand on a return, ln units; upper limits belong to the first weeks after a break of two weeks or more
    /// (CSCCa/NSCA 2019, seen; the size is an estimate).
    pub return_margin: f64,
    /// Working sets missed in a row that make a run of misses.
    pub miss_run: u16,
    /// Held in hand after a run of misses, ln units.
    pub miss_margin: f64,
    /// Days for which pain at or over the limit holds back all that loads the same abilities.
    pub pain_days: i32,
    /// The same for pain of 7 or more.
    pub strong_pain_days: i32,
    /// Days after the hold during which work on a painful ability is kept easy.
    pub pain_return_days: i32,
    /// Held in hand during those days, ln units.
    pub pain_margin: f64,
    /// Sets on a side that make a training day for it.
    pub side_sets: u16,
    /// Training days in a row after which a rest day comes.
    pub days_in_row: i32,
    /// Rest between strength sets, seconds: no loss of reps before sets 3-4 at 2 to 5 minutes (Scudese 2015, seen).
    pub strength_rest: u16,
    /// Rest between balance sets, seconds.
    pub balance_rest: u16,
    /// Most strength ladders in a session.
    pub ladders_a_session: usize,
}

impl Default for Policy {
    fn default() -> Self {
        Self {
            version: "policy-4".to_owned(),
            bands: Bands::default(),
            keep_margin: 0.06,
            tie_margin: 0.01,
            plain_enough: 0.5,
            shading_cost: 0.15,
            load_cost: 0.25,
            unit_cost: 0.15,
            step_rungs: 2,
            attempt_floor: 0.30,
            attempt_ceiling: 0.65,
            test_doubt: 0.45,
            test_run: 3,
            opening_chance: 0.5,
            opening_days: 7,
            gate_chance: 0.9,
            gate_doubt: 0.45,
            return_days: 21,
            return_margin: 0.15,
            miss_run: 4,
            miss_margin: 0.12,
            pain_days: 7,
            strong_pain_days: 14,
            pain_return_days: 14,
            pain_margin: 0.25,
            side_sets: 3,
            days_in_row: 3,
            strength_rest: 180,
            balance_rest: 90,
            ladders_a_session: 3,
        }
    }
}

impl Policy {
    /// The working band of a rung.
    pub fn working_band(&self, rung: &Rung) -> Band {
        rung.band.unwrap_or_else(|| self.bands.of(rung.unit).working)
    }

    /// The attempt band of a rung.
    pub fn attempt_band(&self, rung: &Rung) -> Band {
        rung.attempt_band.unwrap_or_else(|| self.bands.of(rung.unit).attempt)
    }
}
