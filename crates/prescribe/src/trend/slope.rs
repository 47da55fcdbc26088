//! Slope: logistic regression of failures on time by maximum likelihood (F-11).

use super::failures::HALF_95;

/// Most steps of Newton's method; five or six are the rule.
const MOST_STEPS: u32 = 100;
/// A step this small ends the search.
const ENOUGH: f64 = 1e-12;

/// A line fitted to the log odds of failing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Log odds at time 0.
    pub intercept: f64,
    /// Change of the log odds for one unit of time.
    pub slope: f64,
    /// Standard error of the slope with each set for itself, from the information at the maximum.
    pub error: f64,
    /// The same with the sets of one time taken together, since they are alike.
    pub clustered_error: f64,
}

impl Slope {
    /// Wald's central interval with level 0.95 and the larger of the two errors: over few times the clustered one comes out
    /// too small, and sets of a time are never worth more than so many sets.
    pub fn interval(&self) -> (f64, f64) {
        let error = self.error.max(self.clustered_error);
        (self.slope - HALF_95 * error, self.slope + HALF_95 * error)
    }

    /// The chance of a failure at a time.
    pub fn chance(&self, time: f64) -> f64 {
        logistic(self.intercept + self.slope * time)
    }
}

fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + libm::exp(-x))
    } else {
        let e = libm::exp(x);
        e / (1.0 + e)
    }
}

/// Fits failures on time by Newton's method, times taken from their mean. Nothing where no maximum exists: all or none
/// failed, all at one time, or a time parts the failures from the rest.
pub fn logistic_slope(sets: &[(f64, bool)]) -> Option<Slope> {
    if is_parted(sets, true) || is_parted(sets, false) {
        return None;
    }
    let count: f64 = sets.iter().map(|_| 1.0).sum();
    let centre = sets.iter().map(|(time, _)| time).sum::<f64>() / count;
    let (mut at, mut step) = ((0.0, 0.0), f64::INFINITY);
    let mut likelihood = log_likelihood(sets, centre, at);
    for _ in 0..MOST_STEPS {
        let (gradient, [aa, ab, bb]) = derivatives(sets, centre, at);
        let determinant = aa * bb - ab * ab;
        if determinant <= 0.0 {
            return None;
        }
        if step < ENOUGH {
            let error = (aa / determinant).sqrt();
            let bread = (-ab / determinant, aa / determinant);
            let clustered_error = clustered_error(sets, (centre, at), bread);
            return Some(Slope { intercept: at.0 - at.1 * centre, slope: at.1, error, clustered_error });
        }
        let by = (
            (bb * gradient.0 - ab * gradient.1) / determinant,
            (aa * gradient.1 - ab * gradient.0) / determinant,
        );
        let mut share = 1.0;
        let mut next = (at.0 + by.0, at.1 + by.1);
        // A step too long is halved; at the maximum itself rounding may make a step look like a fall.
        while share > ENOUGH && log_likelihood(sets, centre, next) < likelihood - 1e-9 {
            share *= 0.5;
            next = (at.0 + share * by.0, at.1 + share * by.1);
        }
        step = share * (by.0.abs() + by.1.abs());
        at = next;
        likelihood = log_likelihood(sets, centre, at);
    }
    None
}

/// Standard error of the slope with times as clusters: the sandwich of the scores summed over each time, with the factor
/// G / (G - 1) (n - 1) / (n - 2) for few of them (Liang and Zeger 1986, from memory; as statsmodels has it). `bread` is the
/// slope's row of the inverse information.
fn clustered_error(sets: &[(f64, bool)], (centre, (a, b)): (f64, (f64, f64)), bread: (f64, f64)) -> f64 {
    let mut ordered: Vec<(f64, bool)> = sets.to_vec();
    ordered.sort_by(|x, y| x.0.total_cmp(&y.0));
    let (mut clusters, mut count, mut meat) = (0.0, 0.0, 0.0);
    for cluster in ordered.chunk_by(|x, y| x.0.total_cmp(&y.0).is_eq()) {
        let mut score = 0.0;
        for (time, failed) in cluster {
            let x = time - centre;
            let miss = f64::from(u8::from(*failed)) - logistic(a + b * x);
            score += miss * (bread.0 + bread.1 * x);
            count += 1.0;
        }
        clusters += 1.0;
        meat += score * score;
    }
    // A line is only fitted to three sets or more at two times or more.
    (meat * clusters / (clusters - 1.0) * (count - 1.0) / (count - 2.0)).sqrt()
}

/// True when no failure comes before a set that held (or after, when `later` is false), a shared time set aside: then the
/// line can be ever steeper. So it is too when all failed, none did, or all stand at one time.
fn is_parted(sets: &[(f64, bool)], later: bool) -> bool {
    let sign = if later { 1.0 } else { -1.0 };
    let times =
        |wanted: bool| sets.iter().filter(move |(_, failed)| *failed == wanted).map(|(t, _)| sign * t);
    let first_failure = times(true).fold(f64::INFINITY, f64::min);
    let last_held = times(false).fold(f64::NEG_INFINITY, f64::max);
    first_failure >= last_held
}

fn log_likelihood(sets: &[(f64, bool)], centre: f64, (a, b): (f64, f64)) -> f64 {
    let one = |(time, failed): &(f64, bool)| {
        let x = a + b * (time - centre);
        let against = if *failed { -x } else { x };
        // ln(1 + e^against), kept from overflowing.
        -(against.max(0.0) + libm::log1p(libm::exp(-against.abs())))
    };
    sets.iter().map(one).sum()
}

/// Gradient and information (intercept, both, slope).
fn derivatives(sets: &[(f64, bool)], centre: f64, (a, b): (f64, f64)) -> ((f64, f64), [f64; 3]) {
    let mut gradient = (0.0, 0.0);
    let mut information = [0.0; 3];
    for (time, failed) in sets {
        let x = time - centre;
        let p = logistic(a + b * x);
        let miss = if *failed { 1.0 - p } else { -p };
        gradient.0 += miss;
        gradient.1 += miss * x;
        let weight = p * (1.0 - p);
        information[0] += weight;
        information[1] += weight * x;
        information[2] += weight * x * x;
    }
    (gradient, information)
}
