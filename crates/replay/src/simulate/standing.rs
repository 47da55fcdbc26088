//! Standing: what was true of the abilities as a set began, and with that how the set could end.
//!
//! Written from the formulas (F-01, F-07) and the kinds of noise, not from the filter's code. What is left open is the noise
//! of the one set: this is what somebody who knows the truth would foretell, and nobody can expect to do better.

use nextrung_capacity::load::ln_threshold;
use nextrung_capacity::task::MOST_DEMANDS;
use nextrung_domain::ability::AbilityKind;

use crate::score::ScoreError;
use crate::score::ending::Endings;
use crate::simulate::noise::Noise;

/// One ability as the set began.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demanded {
    /// Its kind, which is the cause when it gives out first.
    pub kind: AbilityKind,
    /// The predictor with form, departures and fatigue, ln units.
    pub eta: f64,
    /// Scale of the set's noise, ln units.
    pub scale: f64,
}

/// Every ability that a set asked for, and the mass moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// The kind of noise.
    pub noise: Noise,
    /// Mass moved with load over mass moved without.
    pub mass_ratio: f64,
    demands: [Demanded; MOST_DEMANDS],
    count: usize,
}

/// Chances at one number of ln units: that each ability has them.
#[derive(Clone, Copy)]
struct Edge {
    ln_units: f64,
    has: [f64; MOST_DEMANDS],
}

/// Largest drop of an ability over which all are taken to fall along straight lines.
const STEP: f64 = 1.0 / 64.0;
/// Halvings after which an interval is taken as it is.
const HALVINGS: u8 = 48;
/// Scales below the lowest predictor where every ability is nearly sure to be there.
const FAR: f64 = 60.0;
/// Chance of more at which the table of a set without a target ends.
const RARE: f64 = 1e-4;

impl Standing {
    /// Nothing demanded yet.
    pub fn new(noise: Noise, mass_ratio: f64) -> Self {
        let blank = Demanded { kind: AbilityKind::Strength, eta: 0.0, scale: 1.0 };
        Self { noise, mass_ratio, demands: [blank; MOST_DEMANDS], count: 0 }
    }

    /// One ability more; more than the ladders allow are passed over.
    pub fn push(&mut self, demanded: Demanded) {
        if let Some(slot) = self.demands.get_mut(self.count) {
            *slot = demanded;
            self.count += 1;
        }
    }

    /// What was demanded.
    pub fn demands(&self) -> &[Demanded] {
        &self.demands[..self.count]
    }

    /// Chance of at least `units`.
    pub fn at_least(&self, units: f64) -> f64 {
        self.edge(units).all(self.count)
    }

    /// Chances of how a set ends: on each unit below `top` by strength, balance or line, or at `top`, which is the target.
    ///
    /// The drop at each unit is exact. It is shared by the causes as the true competing risks share it, cut into pieces in
    /// which no ability falls by more than 1/64 and each is taken to fall along a straight line: shares are right to 1e-4
    /// (held by a test against a fine sum).
    ///
    /// # Errors
    ///
    /// [`ScoreError`] when predictors or scales are no numbers.
    pub fn endings(&self, top: u16) -> Result<Endings<3>, ScoreError> {
        let mut failed = Vec::with_capacity(usize::from(top));
        let mut below = Edge { ln_units: f64::NEG_INFINITY, has: [1.0; MOST_DEMANDS] };
        for unit in 1..=top {
            let above = self.edge(f64::from(unit));
            let mut by_cause = [0.0; 3];
            match self.only_kind() {
                Some(kind) => {
                    let drop = below.all(self.count) - above.all(self.count);
                    by_cause[kind.index()] = drop.max(0.0);
                }
                None if above.ln_units > f64::NEG_INFINITY => self.share(&below, &above, &mut by_cause),
                None => {}
            }
            failed.push(by_cause);
            below = above;
        }
        Endings::new(failed, below.all(self.count))
    }

    /// Where the table of a set without a target ends: the fewest units above those `done` that are rarer than 1 in 10,000.
    pub fn open_top(&self, done: u16, most: u16) -> u16 {
        let mut top = done.saturating_add(1);
        while top < most && self.at_least(f64::from(top)) > RARE {
            top += 1;
        }
        top
    }

    /// The predictor of the weakest ability, ln units without load; infinite when none is asked for.
    pub fn least_eta(&self) -> f64 {
        self.demands().iter().fold(f64::INFINITY, |least, d| least.min(d.eta))
    }

    fn only_kind(&self) -> Option<AbilityKind> {
        let first = self.demands().first()?.kind;
        self.demands().iter().all(|d| d.kind == first).then_some(first)
    }

    fn edge(&self, units: f64) -> Edge {
        self.at(ln_threshold(units, self.mass_ratio))
    }

    fn at(&self, ln_units: f64) -> Edge {
        let mut has = [1.0; MOST_DEMANDS];
        if ln_units > f64::NEG_INFINITY {
            for (has, d) in has.iter_mut().zip(self.demands()) {
                *has = self.noise.survival(d.scale, ln_units - d.eta);
            }
        }
        Edge { ln_units, has }
    }

    /// Adds the chances that each kind of ability is the first to give out between two numbers of units.
    fn share(&self, below: &Edge, above: &Edge, by_cause: &mut [f64; 3]) {
        if below.ln_units > f64::NEG_INFINITY {
            self.split(below, above, HALVINGS, by_cause);
            return;
        }
        let scale = self.demands().iter().fold(0.0, |most, d| f64::max(most, d.scale));
        let low = self.at(above.ln_units.min(self.least_eta() - FAR * scale));
        self.add_straight(below, &low, by_cause);
        self.split(&low, above, HALVINGS, by_cause);
    }

    fn split(&self, below: &Edge, above: &Edge, halvings: u8, by_cause: &mut [f64; 3]) {
        let widest = below.has.iter().zip(above.has).fold(0.0, |most, (b, a)| f64::max(most, b - a));
        if widest <= STEP || halvings == 0 {
            self.add_straight(below, above, by_cause);
            return;
        }
        let middle = self.at(0.5 * (below.ln_units + above.ln_units));
        self.split(below, &middle, halvings - 1, by_cause);
        self.split(&middle, above, halvings - 1, by_cause);
    }

    /// Where each chance falls along a straight line, an ability's share is its fall times the mean of the product of the
    /// others; two Gauss points are exact for up to three others, so that the shares sum to the drop.
    fn add_straight(&self, below: &Edge, above: &Edge, by_cause: &mut [f64; 3]) {
        let half = 0.5 / 3.0_f64.sqrt();
        for (at, d) in self.demands().iter().enumerate() {
            let others = |t: f64| {
                let one = |o: usize| below.has[o] + t * (above.has[o] - below.has[o]);
                (0..self.count).filter(|o| *o != at).map(one).product::<f64>()
            };
            let mean = 0.5 * (others(0.5 - half) + others(0.5 + half));
            by_cause[d.kind.index()] += (below.has[at] - above.has[at]).max(0.0) * mean;
        }
    }
}

impl Edge {
    fn all(&self, count: usize) -> f64 {
        self.has[..count].iter().product()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::ending::Ending;

    fn three(noise: Noise) -> Standing {
        let mut standing = Standing::new(noise, 1.0);
        for (kind, eta, scale) in [
            (AbilityKind::Strength, 1.6, 0.04),
            (AbilityKind::Balance, 1.7, 0.16),
            (AbilityKind::Line, 1.5, 0.14),
            (AbilityKind::Strength, 1.55, 0.04),
        ] {
            standing.push(Demanded { kind, eta, scale });
        }
        standing
    }

    /// The share of a cause between two numbers of units by a sum of 20,000 thin slices.
    fn thin(standing: &Standing, (from, to): (f64, f64), kind: AbilityKind) -> f64 {
        let step = (to - from) / 20_000.0;
        let slice = |i: u32| {
            let edges = [0.0, 0.5, 1.0].map(|part| standing.at(from + step * (f64::from(i) + part)));
            let one = |(at, d): (usize, &Demanded)| {
                let others: f64 = (0..standing.count).filter(|o| *o != at).map(|o| edges[1].has[o]).product();
                if d.kind == kind { (edges[0].has[at] - edges[2].has[at]) * others } else { 0.0 }
            };
            standing.demands().iter().enumerate().map(one).sum::<f64>()
        };
        (0..20_000).map(slice).sum()
    }

    #[test]
    fn shares_agree_with_a_fine_sum() {
        for noise in Noise::ALL {
            let standing = three(noise);
            let endings = standing.endings(8).unwrap();
            for units in 0..8_u16 {
                let from = if units == 0 { -30.0 } else { libm::log(f64::from(units)) };
                for kind in AbilityKind::ALL {
                    let ending = Ending::Failed { units: usize::from(units), cause: kind.index() };
                    let (found, fine) = (
                        endings.of(ending).unwrap(),
                        thin(&standing, (from, libm::log(f64::from(units) + 1.0)), kind),
                    );
                    assert!(
                        (found - fine).abs() < 1e-4,
                        "{}, {units}, {kind:?}: {found} {fine}",
                        noise.name()
                    );
                }
            }
        }
    }

    #[test]
    fn endings_sum_to_one_whatever_the_load_and_the_odds() {
        for (eta, ratio) in [(-4.0, 1.0), (0.0, 1.0), (3.0, 1.3), (1.0, 0.7), (6.0, 1.0)] {
            for noise in Noise::ALL {
                let mut standing = Standing::new(noise, ratio);
                for kind in AbilityKind::ALL {
                    standing.push(Demanded { kind, eta, scale: 0.1 });
                }
                // Checked to 1e-9 as they are made.
                let endings = standing.endings(12).unwrap();
                let reached = endings.of(Ending::Reached { units: 12 }).unwrap();
                assert!((reached - standing.at_least(12.0)).abs() < 1e-12);
            }
        }
        let nobody = Standing::new(Noise::Logistic, 1.0);
        assert_eq!(nobody.endings(3).unwrap().of(Ending::Reached { units: 3 }), Ok(1.0));
    }

    #[test]
    fn an_open_set_is_told_apart_up_to_what_is_rare() {
        let standing = three(Noise::Logistic);
        let top = standing.open_top(4, 300);
        assert!(standing.at_least(f64::from(top)) <= RARE && standing.at_least(f64::from(top) - 1.0) > RARE);
        assert_eq!((standing.open_top(40, 300), standing.open_top(300, 300)), (41, 301));
    }
}
