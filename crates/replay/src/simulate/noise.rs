//! Noise: how a set's capacity scatters about the predictor.

use std::f64::consts::PI;

use nextrung_capacity::normal;

use crate::dice::Dice;

/// A family of set noise. All three have the standard deviation of the logistic of the same scale, so that they differ in
/// shape alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noise {
    /// The model's own.
    Logistic,
    /// Normal: lighter tails.
    Normal,
    /// Student's t with three degrees of freedom: heavy tails.
    StudentThree,
}

impl Noise {
    /// Every family.
    pub const ALL: [Self; 3] = [Self::Logistic, Self::Normal, Self::StudentThree];

    /// Its name in tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Logistic => "logistic (matched)",
            Self::Normal => "normal",
            Self::StudentThree => "Student t, 3 df",
        }
    }

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Logistic => "logistic",
            Self::Normal => "normal",
            Self::StudentThree => "student-3",
        }
    }

    /// Reads a [`word`](Self::word).
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|noise| noise.word() == word)
    }

    /// Standard deviation of the logistic of scale 1 over that of this family's standard form.
    fn stretch(self) -> f64 {
        let logistic_sd = PI / 3.0_f64.sqrt();
        match self {
            Self::Logistic => 1.0,
            Self::Normal => logistic_sd,
            Self::StudentThree => logistic_sd / 3.0_f64.sqrt(),
        }
    }

    /// One draw for a logistic scale, ln units.
    pub fn draw(self, scale: f64, dice: &mut Dice) -> f64 {
        let standard = match self {
            Self::Logistic => dice.logistic(),
            Self::Normal => dice.normal(),
            Self::StudentThree => dice.student_three(),
        };
        scale * self.stretch() * standard
    }

    /// Chance that a draw is at least `x` ln units.
    pub fn survival(self, scale: f64, x: f64) -> f64 {
        let z = x / (scale * self.stretch());
        match self {
            Self::Logistic => 1.0 / (1.0 + libm::exp(z)),
            Self::Normal => normal::survival(z),
            // Closed form for three degrees of freedom (from memory; held by a test against draws).
            Self::StudentThree => {
                let t = z / 3.0_f64.sqrt();
                0.5 - (t / (1.0 + t * t) + libm::atan(t)) / PI
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn survival_agrees_with_draws() {
        for family in Noise::ALL {
            let mut dice = Dice::new(11, 0);
            let draws: Vec<f64> = (0..100_000).map(|_| family.draw(0.1, &mut dice)).collect();
            for x in [-0.3, -0.1, 0.0, 0.05, 0.2, 0.5] {
                let p = family.survival(0.1, x);
                let hits = draws.iter().filter(|d| **d >= x).count();
                let share = f64::from(u32::try_from(hits).unwrap()) / 100_000.0;
                let slack = 5.0 * (p * (1.0 - p) / 100_000.0).sqrt();
                assert!((share - p).abs() <= slack, "{}: {share} against {p} at {x}", family.name());
            }
        }
    }
}
