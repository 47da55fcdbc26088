//! Load: what added or removed kilograms do to the units a person can do (F-10).

use std::sync::LazyLock;

/// Change of the one-repetition share per rep. O'Conner's relation, `1RM = w (1 + 0.025 r)`: of the simple rules it fits
/// the open data of Mitter et al. 2024 best (computed from the file; `tests/open_data.rs`).
const PER_REP: f64 = 0.025;

/// Reps without load that are as hard as `units` reps when the mass moved is `mass_ratio` times as large.
///
/// Both in reps; the result may be zero or less, which means that anybody who moves at all does them.
pub fn unloaded_units(units: f64, mass_ratio: f64) -> f64 {
    (mass_ratio * (1.0 + PER_REP * units) - 1.0) / PER_REP
}

/// Reps under load of a person who does `units` without: the inverse of [`unloaded_units`].
pub fn loaded_units(units: f64, mass_ratio: f64) -> f64 {
    ((1.0 + PER_REP * units) / mass_ratio - 1.0) / PER_REP
}

/// Mass ratio under which a person who does `units` without load does `loaded`: [`loaded_units`] solved for the ratio.
pub fn ratio_between(units: f64, loaded: f64) -> f64 {
    (1.0 + PER_REP * units) / (1.0 + PER_REP * loaded)
}

/// Logarithm of the unloaded units that stand for `units` under load; minus infinity when everybody has them.
pub fn ln_threshold(units: f64, mass_ratio: f64) -> f64 {
    let unloaded =
        if (mass_ratio - 1.0).abs() < f64::EPSILON { units } else { unloaded_units(units, mass_ratio) };
    if unloaded > 0.0 { libm::log(unloaded) } else { f64::NEG_INFINITY }
}

/// Whole units whose logarithms are kept.
const KEPT: usize = 64;

/// [`ln_threshold`] of whole units, to the same bits; the usual ones, without load, are looked up.
pub fn ln_threshold_whole(units: u16, mass_ratio: f64) -> f64 {
    static LOGARITHMS: LazyLock<[f64; KEPT]> = LazyLock::new(|| {
        let mut units = -1.0;
        [(); KEPT].map(|()| {
            units += 1.0;
            ln_threshold(units, 1.0)
        })
    });
    match LOGARITHMS.get(usize::from(units)) {
        Some(kept) if mass_ratio == 1.0 => *kept,
        _ => ln_threshold(f64::from(units), mass_ratio),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_what_would_be_found() {
        for units in 0..200 {
            for ratio in [0.7, 1.0, 1.3] {
                let found = ln_threshold(f64::from(units), ratio);
                assert_eq!(ln_threshold_whole(units, ratio), found);
            }
        }
        assert_eq!(ln_threshold_whole(0, 1.0), f64::NEG_INFINITY);
        assert_eq!(ln_threshold_whole(1, 1.0), 0.0);
    }

    #[test]
    fn load_and_unload_are_inverse() {
        for units in [0.5, 4.0, 12.0] {
            for ratio in [0.7, 1.0, 1.3] {
                assert!((loaded_units(unloaded_units(units, ratio), ratio) - units).abs() < 1e-12);
                assert!((ratio_between(units, loaded_units(units, ratio)) - ratio).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_tenth_more_mass_costs_a_known_number_of_reps() {
        // 10 reps at w: 1RM = 1.25 w; at 1.1 w the same 1RM allows (1.25 / 1.1 - 1) / 0.025 = 5.4545 reps.
        assert!((loaded_units(10.0, 1.1) - 5.454_545_454_545_455).abs() < 1e-12);
    }

    #[test]
    fn enough_help_makes_a_threshold_say_nothing() {
        assert_eq!(ln_threshold(1.0, 0.5), f64::NEG_INFINITY);
        assert!((ln_threshold(4.0, 1.0) - libm::log(4.0)).abs() < 1e-15);
    }
}
