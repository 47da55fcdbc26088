//! Who: a simulated athlete by seed and number, and the streams of random numbers that are theirs.

use crate::dice::Dice;

/// Seed and number of a simulated athlete.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Who {
    /// The master seed.
    pub seed: u64,
    /// The athlete's number.
    pub number: u64,
}

impl Who {
    /// One of the athlete's streams of random numbers.
    pub fn dice(self, purpose: u64) -> Dice {
        Dice::new(self.seed, self.number * 8 + purpose)
    }

    /// Streams beside those, for what only some kinds of athletes have.
    pub fn side_dice(self, purpose: Side) -> Dice {
        let place = match purpose {
            Side::Nature => 0,
            Side::Ache => 1,
            Side::Attendance => 2,
            Side::Silence => 3,
            Side::Temper => 4,
            Side::Mail => 5,
        };
        Dice::new(self.seed, (1 << 63) + self.number * 8 + place)
    }
}

/// What a stream beside the usual ones is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// How fast somebody gains and how prone to pain they are.
    Nature,
    /// Pain.
    Ache,
    /// Days on which somebody turns up.
    Attendance,
    /// What is never told.
    Silence,
    /// Choices of one's own.
    Temper,
    /// How what is told reaches the log.
    Mail,
}
