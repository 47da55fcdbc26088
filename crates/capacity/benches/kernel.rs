//! Cost of the update functions. A set on a rung with three abilities is one interval and two cut from below.

use criterion::Criterion;
use nextrung_capacity::dynamics::Trend;
use nextrung_capacity::linear::{Sym, absorb, dot};
use nextrung_capacity::logistic::{Noise, Outlook, Pair, Report, observe, observe_report};
use nextrung_capacity::truncated::{self, Gaussian, Interval, Update};
use std::hint::black_box;

const NOISE: Noise = Noise::Logistic { scale: 0.1 };

fn belief(mean: f64) -> Gaussian {
    Gaussian { mean, variance: 0.04 }
}

/// Interval of units as an interval of their logarithms.
fn units(lower: f64, upper: f64) -> Interval {
    Interval::between(libm::log(lower), libm::log(upper))
}

fn at_least(units: f64) -> Interval {
    Interval::at_least(libm::log(units))
}

fn one_set(beliefs: [Gaussian; 3], ended: Interval, others: Interval) -> [Update; 3] {
    let [first, second, third] = beliefs;
    [observe(first, NOISE, ended), observe(second, NOISE, others), observe(third, NOISE, others)]
}

fn updates(criterion: &mut Criterion) {
    let cases = [
        ("interval at the belief", belief(1.5), units(4.0, 5.0)),
        ("interval far out", belief(2.4), units(4.0, 5.0)),
        ("narrow interval", belief(2.4), units(12.0, 13.0)),
        ("cut below the belief", belief(1.8), at_least(4.5)),
        ("cut above the belief", belief(1.4), at_least(4.5)),
    ];
    for (name, prior, interval) in cases {
        criterion.bench_function(name, |bencher| {
            bencher.iter(|| observe(black_box(prior), NOISE, black_box(interval)));
        });
    }
    let beliefs = [belief(1.5), belief(1.8), belief(2.2)];
    let (ended, others) = (units(4.0, 5.0), at_least(4.5));
    criterion.bench_function("normal noise, interval", |bencher| {
        bencher.iter(|| truncated::observe(black_box(belief(1.5)), 0.03, black_box(ended)));
    });
    criterion.bench_function("one set, three abilities", |bencher| {
        bencher.iter(|| one_set(black_box(beliefs), black_box(ended), black_box(others)));
    });
}

fn reports(criterion: &mut Criterion) {
    let prior = Pair { mean: [1.6, 0.1], covariance: [0.04, -0.005, 0.04] };
    let (ln_done, report) = (libm::log(5.0), Report { ln_units: libm::log(7.5), variance: 0.02 });
    criterion.bench_function("report of units left", |bencher| {
        bencher.iter(|| observe_report(black_box(&prior), NOISE, black_box(ln_done), black_box(report)));
    });
}

fn outlooks(criterion: &mut Criterion) {
    let limits = [1.0, 3.0, 6.0].map(libm::log);
    criterion.bench_function("three chances of one rung", |bencher| {
        bencher.iter(|| {
            let outlook = Outlook::new(black_box(belief(1.5)), NOISE);
            limits.map(|limit| outlook.survival(limit))
        });
    });
}

/// The size of a state with twelve abilities, each level, slope and day.
const DIM: usize = 36;

fn states(criterion: &mut Criterion) {
    let mut covariance = Sym::diagonal(&[0.04; DIM]);
    let mut mean = vec![1.5; DIM];
    let row = [(0, 1.0), (24, 1.0)];
    let mut along = vec![0.0; DIM];
    criterion.bench_function("one belief carried back, 36 coordinates", |bencher| {
        bencher.iter(|| {
            covariance.mul_sparse(&row, &mut along);
            let before = Gaussian { mean: dot(&row, &mean), variance: dot(&row, &along) };
            absorb(&mut mean, &mut covariance, &along, (before, black_box(before)));
        });
    });
    let trend = Trend { slope_days: 21.0, level_noise: 1e-4, slope_noise: 1e-6 };
    criterion.bench_function("transition over a gap", |bencher| {
        bencher.iter(|| trend.transition(black_box(3.0)));
    });
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    updates(&mut criterion);
    reports(&mut criterion);
    outlooks(&mut criterion);
    states(&mut criterion);
    criterion.final_summary();
}
