//! Nodes: fixed points that stand for draws from independent normals.
//!
//! An additive recurrence spreads points evenly over the unit cube (Roberts 2018, from memory: steps are the inverse powers
//! of the root of x^(d+1) = x + 1); pairs of coordinates become normals as Box and Muller (1958, from memory) have it.
//! There is no chance in it: the same review gives the same bits.

use std::f64::consts::PI;

/// Normals a node has.
pub(super) const DIMENSIONS: usize = 8;
/// How many nodes there are.
pub(super) const COUNT: u16 = 512;

/// One node: standard normals.
pub(super) type Node = [f64; DIMENSIONS];

/// Every node.
pub(super) fn nodes() -> Vec<Node> {
    let steps = steps();
    (0..COUNT).map(|n| node(&steps, f64::from(n) + 1.0)).collect()
}

fn node(steps: &Node, n: f64) -> Node {
    let unit = steps.map(|step| {
        let x = 0.5 + n * step;
        // Kept off zero, whose logarithm is asked for.
        (x - libm::floor(x)).max(1e-9)
    });
    let mut node = [0.0; DIMENSIONS];
    for (pair, uniform) in node.chunks_exact_mut(2).zip(unit.chunks_exact(2)) {
        let radius = (-2.0 * libm::log(uniform[0])).sqrt();
        pair[0] = radius * libm::cos(2.0 * PI * uniform[1]);
        pair[1] = radius * libm::sin(2.0 * PI * uniform[1]);
    }
    node
}

fn steps() -> Node {
    let power = 1.0 / 9.0;
    let root = (0..60).fold(2.0, |x: f64, _| libm::pow(1.0 + x, power));
    let mut step = 1.0;
    [(); DIMENSIONS].map(|()| {
        step /= root;
        step
    })
}

/// The ends of the central interval of a level among values that count alike, between the two nearest of them; zeros of
/// nothing.
pub(super) fn central(mut values: Vec<f64>, level: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let n = u32::try_from(values.len()).map_or(0.0, f64::from);
    // Each value stands for the middle of its share.
    let at = |p: f64| {
        let mut before = (0.0, values.first().copied().unwrap_or(0.0));
        for (value, number) in values.iter().zip(0_u32..) {
            let place = (f64::from(number) + 0.5) / n;
            if place >= p {
                let share = if place > before.0 { (p - before.0) / (place - before.0) } else { 1.0 };
                return before.1 + share * (value - before.1);
            }
            before = (place, *value);
        }
        before.1
    };
    (at(0.5 - 0.5 * level), at(0.5 + 0.5 * level))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_have_the_moments_of_independent_normals() {
        let all = nodes();
        let n = f64::from(COUNT);
        for a in 0..DIMENSIONS {
            let mean = all.iter().map(|x| x[a]).sum::<f64>() / n;
            assert!(mean.abs() < 0.05, "mean {mean} of {a}");
            for b in 0..=a {
                let product = all.iter().map(|x| x[a] * x[b]).sum::<f64>() / n;
                let expected = if a == b { 1.0 } else { 0.0 };
                assert!((product - expected).abs() < 0.12, "{product} of {a} and {b}");
            }
        }
    }

    #[test]
    fn intervals_leave_a_tenth_at_either_end() {
        let values: Vec<f64> = (1..=100).rev().map(f64::from).collect();
        let (low, high) = central(values, 0.8);
        assert!((low - 10.5).abs() < 1e-9 && (high - 90.5).abs() < 1e-9, "{low} {high}");
        assert_eq!(central(vec![3.0], 0.8), (3.0, 3.0));
        assert_eq!(central(Vec::new(), 0.8), (0.0, 0.0));
    }
}
