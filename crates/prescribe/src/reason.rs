//! Reasons: why one decision was taken, for programs and for people.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

/// One number behind a decision.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// What the number is, a slug such as `p-band`.
    pub name: Cow<'static, str>,
    /// The number.
    pub value: f64,
    /// Its unit, a slug such as `probability`.
    pub unit: Cow<'static, str>,
}

impl Figure {
    /// A figure.
    pub fn new(name: &'static str, value: f64, unit: &'static str) -> Self {
        Self { name: Cow::Borrowed(name), value, unit: Cow::Borrowed(unit) }
    }

    /// A probability.
    pub fn chance(name: &'static str, value: f64) -> Self {
        Self::new(name, value, "probability")
    }

    /// A count of something.
    pub fn count(name: &'static str, value: impl Into<f64>, unit: &'static str) -> Self {
        Self::new(name, value.into(), unit)
    }
}

/// Why: a code for programs, the figures it rests on, a sentence for people.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// What kind of reason.
    pub code: ReasonCode,
    /// One sentence a coach would say.
    pub sentence: String,
    /// The figures behind it.
    pub figures: Vec<Figure>,
}

impl Reason {
    /// A reason.
    pub fn new(code: ReasonCode, sentence: impl Into<String>, figures: Vec<Figure>) -> Self {
        Self { code, sentence: sentence.into(), figures }
    }
}

/// The kinds of reasons; same list and meaning as in the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReasonCode {
    /// Of all open candidates this one most likely falls into the working band.
    BestInWorkingBand,
    /// Of all open candidates this one most likely falls into the attempt band.
    BestInAttemptBand,
    /// Last time's rung is within a small margin of the best.
    KeptWithinMargin,
    /// Two candidates were as good as each other; the easier was taken.
    TieToEasier,
    /// A shading places the work between two rungs.
    ShadedBetweenRungs,
    /// Kilograms place the rung in the band.
    LoadChosen,
    /// Ready for more than last time.
    MoveUp,
    /// Last time's rung still fits.
    Hold,
    /// Something easier than last time fits better.
    StepBack,
    /// First time on this ladder.
    FirstTime,
    /// Back after time off.
    ReturnAfterTimeOff,
    /// Several planned targets in a row were missed.
    RunOfMisses,
    /// Nothing is known on this ladder yet.
    NothingKnown,
    /// The estimate is too uncertain to choose from.
    DoubtTooWide,
    /// Pain at or over the limit.
    PainAtOrOverLimit,
    /// Something has to be shown first.
    GateUnmet,
    /// A clearance is not confirmed.
    ClearanceUnconfirmed,
    /// Equipment is missing.
    EquipmentMissing,
    /// The coach has banned the rung.
    BannedByCoach,
    /// Balance practice first, while fresh.
    BalancePracticeFirst,
    /// Today belongs to this side.
    SideAlternation,
    /// The last days ask for rest.
    RestAfterRecentWork,
    /// The athlete does not train on this weekday.
    WeekdayNotAvailable,
    /// The ladder leads to a goal.
    LeadsToGoal,
    /// The goal rung itself is in the band.
    GoalReached,
    /// The number of sets.
    SetsChosen,
    /// Sets were cut to stay within limits.
    CutToLimits,
    /// The target is the band cut to what is likely.
    TargetClipped,
    /// No rung is in reach for an attempt.
    NoAttemptInReach,
    /// No rung falls into the band; the nearest was taken.
    NothingInBand,
    /// A minor: qualified supervision.
    MinorSupervision,
    /// The coach insists on the rung.
    PinnedByCoach,
    /// The coach allows nothing harder on the ladder.
    CappedByCoach,
    /// A plain rung fits well enough, so that no change to a rung was thought of.
    PlainEnough,
}
