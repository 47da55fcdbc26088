//! Dial: one parameter of the model as a refit turns it (F-09).

use nextrung_capacity::params::Parameters;
use nextrung_domain::ability::AbilityKind;

/// A parameter that a refit may move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dial {
    /// Scale of a set's noise (F-01).
    Scale(AbilityKind),
    /// Spread of the day's form (F-04).
    Day(AbilityKind),
    /// Spread of the athletes' own departures on a rung (F-02).
    Offset(AbilityKind),
    /// Level noise (F-03).
    Level(AbilityKind),
    /// Spread of the slopes (F-03).
    Slope(AbilityKind),
    /// Mean slope of a new athlete (F-03).
    SlopeMean(AbilityKind),
    /// Fall by work carried (F-02).
    Fatigue(AbilityKind),
    /// Mean bias of reported reserve (F-05).
    ReserveBias,
}

/// A standard deviation below this, ln units, is taken for this one, so that a logarithm and an inverse exist.
pub(super) const LEAST_SD: f64 = 1e-4;
/// What one ln unit of a turn stands for on the two dials that may be negative: ln units a day, and ln units. A weak prior
/// of half a unit then lets the mean slope move by its default, and the bias by its default spread.
const SLOPE_UNIT: f64 = 0.002;
const BIAS_UNIT: f64 = 0.25;

impl Dial {
    /// Every dial that each kind of ability has its own of.
    pub const OF_A_KIND: [fn(AbilityKind) -> Self; 7] =
        [Self::Scale, Self::Day, Self::Offset, Self::Level, Self::Slope, Self::SlopeMean, Self::Fatigue];

    /// The kind of ability it is about; nothing when it is about all.
    pub fn kind(self) -> Option<AbilityKind> {
        match self {
            Self::Scale(kind)
            | Self::Day(kind)
            | Self::Offset(kind)
            | Self::Level(kind)
            | Self::Slope(kind)
            | Self::SlopeMean(kind)
            | Self::Fatigue(kind) => Some(kind),
            Self::ReserveBias => None,
        }
    }

    /// Its name as the parameters have it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Scale(_) => "scale",
            Self::Day(_) => "day_sd",
            Self::Offset(_) => "offset_sd",
            Self::Level(_) => "level_sd",
            Self::Slope(_) => "slope_sd",
            Self::SlopeMean(_) => "slope_mean",
            Self::Fatigue(_) => "fatigue",
            Self::ReserveBias => "bias_mean",
        }
    }

    /// The parameter's value.
    pub fn value(self, parameters: &Parameters) -> f64 {
        *self.slot(&mut parameters.clone())
    }

    /// Turns it: times `exp(by)`, or `by` units more on the two that may be negative.
    pub fn turn(self, parameters: &mut Parameters, by: f64) {
        let slot = self.slot(parameters);
        *slot = match self {
            Self::SlopeMean(_) => *slot + by * SLOPE_UNIT,
            Self::ReserveBias => *slot + by * BIAS_UNIT,
            Self::Scale(_)
            | Self::Day(_)
            | Self::Offset(_)
            | Self::Level(_)
            | Self::Slope(_)
            | Self::Fatigue(_) => *slot * libm::exp(by),
        };
    }

    fn slot(self, parameters: &mut Parameters) -> &mut f64 {
        let Some(kind) = self.kind() else { return &mut parameters.reserve.bias_mean };
        let of = &mut parameters.kinds[kind.index()];
        match self {
            Self::Scale(_) => &mut of.scale,
            Self::Day(_) => &mut of.day_sd,
            Self::Offset(_) => &mut of.offset_sd,
            Self::Level(_) => &mut of.level_sd,
            Self::Slope(_) => &mut of.slope_sd,
            Self::SlopeMean(_) => &mut of.slope_mean,
            Self::Fatigue(_) => &mut of.fatigue,
            Self::ReserveBias => &mut parameters.reserve.bias_mean,
        }
    }
}
