//! Message: what the sets after a point of the history say about the state there (F-08).
//!
//! It is kept relative to the filter's belief at that point, with mean m and covariance P: all sets together give
//! mean `m + P pull` and covariance `P - P hold P`. Going back over a set or a gap costs the square of the dimension,
//! and no covariance is inverted. Source: the adjoint recursions of de Jong 1989 and Durbin and Koopman 2012, section
//! 4.4 (from memory); checked against the backward step of `linear` in `tests/smoothing.rs`.

use crate::linear::{Moments, Sym};
use crate::logistic::Pair;
use crate::smooth::site::{Site, damped, joined, times};
use crate::state::{DAY, Entry, LEVEL, SLOPE};

/// What the future says. At the end of the history it says nothing: all zero.
#[derive(Debug, Clone)]
pub(super) struct Message {
    pull: Vec<f64>,
    hold: Sym,
}

/// Stands where no belief was read yet.
pub(super) const NO_PAIR: Pair = Pair { mean: [0.0; 2], covariance: [0.0; 3] };

/// The filter's belief just before a set, as far as the set is concerned.
#[derive(Debug, Clone)]
pub(super) struct Passage {
    /// Covariance of the state with the set's form, and with the reporting bias when the set speaks of it.
    pub(super) along: [Vec<f64>; 2],
    /// Belief about the two.
    pub(super) before: Pair,
}

impl Passage {
    pub(super) const BLANK: Self = Self { along: [const { Vec::new() }; 2], before: NO_PAIR };

    /// Reads the belief about a form, and about the coordinate `second` when the set speaks of it.
    pub(super) fn look(&mut self, state: &Moments, row: &[(usize, f64)], second: Option<usize>) {
        let [first_along, second_along] = &mut self.along;
        first_along.resize(state.mean.len(), 0.0);
        state.covariance.mul_sparse(row, first_along);
        let value = |along: &[f64]| crate::linear::dot(row, along);
        self.before = Pair {
            mean: [crate::linear::dot(row, &state.mean), 0.0],
            covariance: [value(first_along), 0.0, 0.0],
        };
        second_along.clear();
        if let Some(at) = second {
            second_along.resize(state.mean.len(), 0.0);
            state.covariance.mul_sparse(&[(at, 1.0)], second_along);
            self.before.mean[1] = state.mean[at];
            self.before.covariance = [self.before.covariance[0], value(second_along), second_along[at]];
        }
    }

    /// Takes a site into the state this passage was read from.
    pub(super) fn take_in(&self, state: &mut Moments, site: &Site) {
        let gain = site.gain(&self.before);
        for (along, push) in self.along.iter().zip(gain.push) {
            add_scaled(&mut state.mean, along, push);
        }
        lessen(&mut state.covariance, &self.along, gain.inner);
    }
}

impl Message {
    pub(super) fn silent(dimension: usize) -> Self {
        Self { pull: vec![0.0; dimension], hold: Sym::zeros(dimension) }
    }

    /// Goes back over a set: from after it to before it, without what it says itself. Returns the belief about its pair
    /// that all other sets give, and how the state hangs on that pair.
    pub(super) fn leave_out(
        &mut self,
        passage: &Passage,
        site: &Site,
        (row, second): (&[(usize, f64)], Option<usize>),
    ) -> (Pair, [Vec<f64>; 2]) {
        let Passage { along, before } = passage;
        let gain = site.gain(before);
        let image = [0, 1].map(|k| image(&self.hold, &along[k]));
        let known = [(0, 0), (0, 1), (1, 1)].map(|(k, l)| product(&along[k], &image[l]));
        let told = [product(&along[0], &self.pull), product(&along[1], &self.pull)];

        let excess = joined(gain.inner, known);
        let answer = times(gain.inner, told);
        let push = damped(gain.inner, known, [gain.push[0] - answer[0], gain.push[1] - answer[1]]);
        for (column, push) in image.iter().zip(push) {
            add_scaled(&mut self.pull, column, push);
        }
        lessen(&mut self.hold, &image, excess);

        let moved = times(known, push);
        let shrunk = joined(known, gain.inner);
        let cavity = Pair {
            mean: [0, 1].map(|k| before.mean[k] + told[k] + moved[k]),
            covariance: [0, 1, 2].map(|k| before.covariance[k] - shrunk[k]),
        };
        (cavity, hanging(image, damped_columns(gain.inner, known), (row, second)))
    }

    /// Adds what a set says, from the belief and the hanging that [`Message::leave_out`] gave.
    pub(super) fn put_in(&mut self, site: &Site, (cavity, hanging): (&Pair, &[Vec<f64>; 2])) {
        let gain = site.gain(cavity);
        for (column, push) in hanging.iter().zip(gain.push) {
            add_scaled(&mut self.pull, column, push);
        }
        lessen(&mut self.hold, hanging, gain.inner.map(|value| -value));
    }

    /// Goes back over the entry into a session.
    pub(super) fn leave(&mut self, entry: &Entry) {
        self.pull[DAY] = 0.0;
        self.hold.renew(DAY, 0.0);
        let Some(crossing) = &entry.crossing else { return };
        let (gain, decay) = (crossing.transition.gain, crossing.transition.decay);
        self.pull[SLOPE] = gain * self.pull[LEVEL] + decay * self.pull[SLOPE];
        let [ll, lv, vv] = [(LEVEL, LEVEL), (LEVEL, SLOPE), (SLOPE, SLOPE)].map(|(i, j)| self.hold.get(i, j));
        for j in (0..self.pull.len()).filter(|&j| j != LEVEL && j != SLOPE) {
            let slope = gain * self.hold.get(LEVEL, j) + decay * self.hold.get(SLOPE, j);
            self.hold.set(SLOPE, j, slope);
        }
        let crossed = gain * ll + decay * lv;
        self.hold.set(LEVEL, SLOPE, crossed);
        self.hold.set(SLOPE, SLOPE, gain * (crossed + decay * lv) + decay * decay * vv);
    }

    /// The belief all sets together give, where the filter had `before`.
    pub(super) fn hindsight(&self, before: &Moments) -> Moments {
        let mut after = before.clone();
        for (value, push) in after.mean.iter_mut().zip(image(&before.covariance, &self.pull)) {
            *value += push;
        }
        let dimension = before.mean.len();
        let rows: Vec<Vec<f64>> =
            (0..dimension).map(|i| (0..dimension).map(|j| before.covariance.get(i, j)).collect()).collect();
        for (j, column) in rows.iter().enumerate() {
            let held = image(&self.hold, column);
            for (i, row) in rows.iter().enumerate().skip(j) {
                after.covariance.add(i, j, -product(row, &held));
            }
        }
        after
    }
}

/// `H' - image damping`: how the state hangs on the pair, seen through the message.
fn hanging(
    image: [Vec<f64>; 2],
    damping: [[f64; 2]; 2],
    (row, second): (&[(usize, f64)], Option<usize>),
) -> [Vec<f64>; 2] {
    let [first, other] = image;
    let column = |k: usize| -> Vec<f64> {
        let mut column: Vec<f64> = first.iter().map(|value| -damping[k][0] * value).collect();
        add_scaled(&mut column, &other, -damping[k][1]);
        column
    };
    let mut hanging = [column(0), Vec::new()];
    for &(at, weight) in row {
        hanging[0][at] += weight;
    }
    if let Some(at) = second {
        hanging[1] = column(1);
        hanging[1][at] += 1.0;
    }
    hanging
}

/// Columns of `(I + A B)^-1`.
fn damped_columns(a: [f64; 3], b: [f64; 3]) -> [[f64; 2]; 2] {
    [damped(a, b, [1.0, 0.0]), damped(a, b, [0.0, 1.0])]
}

/// `matrix * v`; empty when `v` is.
fn image(matrix: &Sym, v: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; v.len()];
    let mut rest = matrix.packed();
    for i in 0..v.len() {
        let (row, later) = rest.split_at(i + 1);
        rest = later;
        let mut sum = 0.0;
        for ((element, other), value) in row[..i].iter().zip(v).zip(&mut out) {
            sum += element * other;
            *value += element * v[i];
        }
        out[i] += sum + row[i] * v[i];
    }
    out
}

fn product(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn add_scaled(to: &mut [f64], column: &[f64], by: f64) {
    for (value, element) in to.iter_mut().zip(column) {
        *value += by * element;
    }
}

/// `matrix -= columns * inner * columns'`; the second column may be empty.
fn lessen(matrix: &mut Sym, columns: &[Vec<f64>; 2], inner: [f64; 3]) {
    let [first, second] = columns;
    let [aa, ab, bb] = inner;
    if second.is_empty() {
        return matrix.downdate(first, aa);
    }
    if aa == 0.0 {
        return matrix.downdate(second, bb);
    }
    let share = ab / aa;
    let both: Vec<f64> = first.iter().zip(second).map(|(a, b)| a + share * b).collect();
    matrix.downdate(&both, aa);
    matrix.downdate(second, bb - share * ab);
}
