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

/// The ends of the central interval of a level among values that count alike; zeros of nothing.
pub(super) fn central(mut values: Vec<f64>, level: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let last = u16::try_from(values.len().saturating_sub(1)).unwrap_or(u16::MAX);
    let at = |p: f64| {
        let place = (0..=last).find(|i| f64::from(*i) + 0.5 >= p * (f64::from(last) + 1.0));
        place.and_then(|i| values.get(usize::from(i))).copied().unwrap_or(0.0)
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
        assert_eq!(central(values, 0.8), (10.0, 90.0));
        assert_eq!(central(vec![3.0], 0.8), (3.0, 3.0));
        assert_eq!(central(Vec::new(), 0.8), (0.0, 0.0));
    }
}
