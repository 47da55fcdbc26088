//! Chances of a set's outcomes, by which rungs are chosen, against values of scipy and against quadrature.

#![expect(clippy::expect_used, reason = "a test that cannot build its ladder must fail")]

use std::sync::Arc;

use nextrung_capacity::logistic::{Noise, band_probability};
use nextrung_capacity::model::Model;
use nextrung_capacity::normal;
use nextrung_capacity::outlook::{Endings, Strain, TaskOutlook};
use nextrung_capacity::params::{KindParameters, Parameters};
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_capacity::truncated::{Gaussian, Interval};
use nextrung_domain::band::Band;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::measure::Unit;
use proptest::prelude::*;

const KINDS: [&str; 3] = ["strength", "balance", "line"];

/// What is expected on a rung that asks for one ability of each kind given, at difficulty 0, by somebody of whom only these
/// priors are known: mean and standard deviation of ln capacity.
fn outlook(priors: &[(f64, f64)], parameters: Parameters) -> TaskOutlook {
    let mut abilities = String::new();
    let mut ladder =
        "id = \"l\"\nname = \"L\"\nversion = 1\nside = \"bent-arm\"\nabout = \"One rung.\"\ncautions = []\n\
                      [[rung]]\nid = \"r\"\nname = \"R\"\nunit = \"reps\"\ncues = [\"go\"]\n"
            .to_owned();
    for ((mean, sd), kind) in priors.iter().zip(KINDS) {
        abilities += &format!(
            "[[ability]]\nid = \"{kind}\"\nname = \"{kind}\"\nkind = \"{kind}\"\nanchor = \"l/r\"\n\
             start_level = {mean}\nstart_sd = {sd}\nsource = \"given\"\n"
        );
        ladder += &format!(
            "[[rung.demand]]\nability = \"{kind}\"\ndifficulty = 0.0\nsd = 0.0\nbasis = \"anchor\"\nsource = \"given\"\n"
        );
    }
    let ladders = [NamedText { name: "l.toml", text: &ladder }];
    let catalog = load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &ladders);
    let model = Model::new(Arc::new(catalog.expect("a sound ladder")), parameters);
    let rung = model.catalog.find(&RungRef::parse("l/r").expect("a name")).expect("the rung");
    AthleteState::new(&model.parameters).outlook(&model, &Task::new(&model.catalog, rung, &[], 1.0))
}

/// Parameters under which all doubt is in the priors: with next to no noise of its own, a logistic outlook is normal.
fn no_noise() -> Parameters {
    let mut parameters = Parameters::default();
    for kind in &mut parameters.kinds {
        *kind = KindParameters { scale: 1e-9, day_sd: 0.0, offset_sd: 0.0, ..*kind };
    }
    parameters
}

/// Mean and variance of the predictor, and P(K = 0), P(1..2), P(3..5), P(6..) under normal noise of sd 0.28:
/// `tests/reference/r12_tests_meta.py.out`.
const CHOICES: [((f64, f64), [f64; 4]); 4] = [
    (
        (1.4452, 0.01),
        [
            5.847_577_136_952_609e-7,
            0.121_867_169_803_215_32,
            0.756_245_280_639_025_2,
            0.121_886_964_800_045_74,
        ],
    ),
    (
        (1.6, 0.25),
        [
            0.002_619_011_982_652_575,
            0.188_187_641_290_009_87,
            0.440_238_442_339_037_4,
            0.368_954_904_388_300_14,
        ],
    ),
    (
        (0.55, 0.04),
        [
            0.054_976_432_656_739_46,
            0.889_597_206_164_848,
            0.055_272_547_020_344_88,
            0.000_153_814_158_067_556,
        ],
    ),
    ((0.0, 0.04), [0.5, 0.499_295_441_663_547_33, 0.000_704_462_478_252_513_3, 9.585_820_014_777_62e-8]),
];
const NOISE_SD: f64 = 0.28;

/// The reference is a difference of distribution functions, so its own error is near 1e-16 absolute.
#[test]
fn bands_are_as_likely_as_in_scipy() {
    let ln = |units: f64| libm::log(units);
    let bands = [
        Interval::below(0.0),
        Interval::between(0.0, ln(3.0)),
        Interval::between(ln(3.0), ln(6.0)),
        Interval::at_least(ln(6.0)),
    ];
    for ((mean, variance), expected) in CHOICES {
        for (band, value) in bands.into_iter().zip(expected) {
            let found = band_probability(Gaussian { mean, variance }, Noise::Normal { sd: NOISE_SD }, band);
            assert!((found - value).abs() < 1e-15, "{mean} {variance} {band:?}: {found}, {value}");
        }
    }
}

/// The same chances as a prescription asks for them. The mixture's weights sum to 1 - 1e-15, hence the tolerance.
#[test]
fn outlooks_are_as_likely_as_in_scipy() {
    let band = |low, high| Band::new(Unit::Reps, low, high).expect("a band");
    for ((mean, variance), expected) in CHOICES {
        let seen = outlook(&[(mean, (variance + NOISE_SD * NOISE_SD).sqrt())], no_noise());
        let found = [
            seen.endings(1, Strain::NONE).failed[0],
            seen.in_and_above(band(1, 2), Strain::NONE).0,
            seen.in_and_above(band(3, 5), Strain::NONE).0,
            seen.in_and_above(band(3, 5), Strain::NONE).1,
        ];
        for (found, value) in found.into_iter().zip(expected) {
            assert!((found - value).abs() < 1e-14, "{mean} {variance}: {found}, {value}");
        }
    }
}

/// A band is likeliest for whoever stands at the middle of its ends in ln units: half of ln 18 for 3 to 5.
#[test]
fn a_band_is_likeliest_at_its_middle() {
    let working = Band::new(Unit::Reps, 3, 5).expect("a band");
    let chance = |mean: f64| outlook(&[(mean, 0.3)], no_noise()).in_and_above(working, Strain::NONE).0;
    let best = 1.445_185_878_948_082_3;
    for away in [0.05, 0.2, 0.6] {
        assert!(chance(best - away) < chance(best) && chance(best + away) < chance(best));
        assert!((chance(best - away) - chance(best + away)).abs() < 1e-14, "{away}");
    }
}

/// The three abilities of `tests/reference/cause_shares.py`: medians of 6, 8 and 9 units, sds 0.3, 0.4, 0.5.
const MEDIANS: [f64; 3] = [6.0, 8.0, 9.0];
const SDS: [f64; 3] = [0.3, 0.4, 0.5];
/// Units past which nobody gets: their chance is 1e-17.
const MOST: u16 = 39;

fn three_abilities() -> TaskOutlook {
    let priors: Vec<_> = MEDIANS.iter().zip(SDS).map(|(median, sd)| (libm::log(*median), sd)).collect();
    outlook(&priors, no_noise())
}

/// Chance that the ability `cause` is the smallest and lies between `exp(from)` and `exp(to)`: Simpson's rule on the
/// density of the one times the survival of the others.
fn exact_share(cause: usize, from: f64, to: f64) -> f64 {
    let standard = |k: usize, ln: f64| (ln - libm::log(MEDIANS[k])) / SDS[k];
    let height = |ln: f64| {
        let others = (0..3).filter(|k| *k != cause);
        let held: f64 = others.map(|k| normal::survival(standard(k, ln))).product();
        held * normal::density(standard(cause, ln)) / SDS[cause]
    };
    let pieces = 400;
    let step = (to - from) / f64::from(pieces);
    let sum: f64 = (0..=pieces)
        .map(|i| {
            let weight = if i == 0 || i == pieces { 1.0 } else { f64::from(2 + 2 * (i % 2)) };
            weight * height(from + f64::from(i) * step)
        })
        .sum();
    sum * step / 3.0
}

/// By unit and cause, against quadrature: no share is off by more than 3e-4.
#[test]
fn causes_share_a_failure_by_cumulative_hazard() {
    let seen = three_abilities();
    let endings = |target: u16| {
        if target == 0 {
            Endings { reached: 1.0, failed: [0.0; 3] }
        } else {
            seen.endings(target, Strain::NONE)
        }
    };
    let mut worst: f64 = 0.0;
    for unit in 1..=MOST {
        let (before, after) = (endings(unit - 1), endings(unit));
        let from = if unit == 1 { -3.0 } else { libm::log(f64::from(unit - 1)) };
        let mut drop = 0.0;
        for cause in 0..3 {
            let exact = exact_share(cause, from, libm::log(f64::from(unit)));
            worst = worst.max((after.failed[cause] - before.failed[cause] - exact).abs());
            drop += exact;
        }
        // The drop itself is no approximation.
        assert!((before.reached - after.reached - drop).abs() < 1e-9, "{unit}");
    }
    assert!(worst < 3e-4, "{worst}");
}

/// Over all units, against 4 million draws (`cause_shares.py.out`, standard error 2.5e-4) and against what the same script
/// computes for this way of sharing.
#[test]
fn causes_share_failures_as_drawn() {
    let Endings { reached, failed } = three_abilities().endings(MOST, Strain::NONE);
    assert!((reached + failed.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    for (cause, (drawn, shared)) in
        [(0.5780, 0.5784), (0.2279, 0.2281), (0.1941, 0.1935)].into_iter().enumerate()
    {
        assert!((failed[cause] - shared).abs() < 6e-5, "{failed:?}, printed to four digits as {shared}");
        assert!((failed[cause] - drawn).abs() < 1e-3, "{failed:?}, drawn {drawn}");
    }
}

proptest! {
    #[test]
    fn endings_sum_to_one(
        priors in prop::collection::vec((-1.0..3.5_f64, 0.1..1.5_f64), 1..=3),
        target in 1_u16..=30,
        (work, margin) in (0.0..6.0_f64, 0.0..0.5_f64),
    ) {
        let seen = outlook(&priors, Parameters::default());
        let strain = Strain { work, margin };
        let Endings { reached, failed } = seen.endings(target, strain);
        prop_assert!((reached + failed.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{} {:?}", reached, failed);
        prop_assert!(failed.iter().all(|share| *share >= 0.0));
        prop_assert!((reached - seen.at_least(f64::from(target), strain)).abs() < 1e-12);
    }
}
