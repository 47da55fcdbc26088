//! Cumulative incidence by cause against values of other software, and its laws.

use nextrung_capacity::incidence::{Row, incidence};
use nextrung_domain::stop::Stop;
use proptest::prelude::*;

/// `mgus2` of R `survival`, as time and event; source and licence in `tests/reference/README.md`.
const PATIENTS: &str = include_str!("../../../tests/reference/mgus2_cr.csv");

/// Whether two values agree to `tolerance`.
fn close(found: f64, expected: f64, tolerance: f64) -> bool {
    (found - expected).abs() <= tolerance
}

/// Event 1 is pcm, 2 is death, 0 the end of observation. Months count as units: an event in month t is a failure on unit t.
fn patients() -> Vec<(u16, u8)> {
    let read = |line: &str| {
        let mut cells = line.split(',');
        let month: u16 = cells.next()?.parse().ok()?;
        let event: u8 = cells.next()?.parse().ok()?;
        Some((if event == 0 { month } else { month.checked_sub(1)? }, event))
    };
    PATIENTS.lines().skip(1).map(read).collect::<Option<_>>().unwrap_or_default()
}

/// R `survival::survfit` and `cmprsk::cuminc` agree on these to the digits they print (`r08_competing.R.out`); the
/// 17 digits are of the sum by hand in `r08_competing.py.out`.
#[test]
fn patients_fail_by_cause_as_in_r() {
    let rows = incidence(&[1, 2], patients());
    assert_eq!(patients().len(), 1384);
    let expected = [
        (60, [0.034_103_712_974_349_02, 0.320_367_010_267_878_34], 0.645_529_276_757_773),
        (120, [0.063_722_168_013_112_92, 0.531_817_704_080_207_7], 0.404_460_127_906_678_85),
        (240, [0.099_813_715_935_469_16, 0.724_027_976_142_545_4], 0.176_158_307_921_985_56),
        (360, [0.134_041_644_326_081_8, 0.784_208_246_832_410_7], 0.081_750_108_841_507_78),
    ];
    for (month, by_cause, survival) in expected {
        let row = rows[month - 1];
        assert_eq!(usize::try_from(row.unit), Ok(month));
        assert!(close(row.survival, survival, 1e-13), "{month}: {row:?}");
        for (found, value) in row.incidence.into_iter().zip(by_cause) {
            assert!(close(found, value, 1e-13), "{month}: {row:?}");
        }
    }
}

/// Twelve invented sets, worked by hand in `r08_competing.py`: 6 rows of counts, survival and incidence.
#[test]
fn twelve_sets_fail_by_cause_as_by_hand() {
    let (strength, balance, line, chosen) = (Stop::Strength, Stop::Balance, Stop::Line, Stop::Chosen);
    let sets = [
        (0, strength),
        (1, balance),
        (2, strength),
        (2, chosen),
        (3, line),
        (3, strength),
        (4, chosen),
        (5, strength),
        (5, balance),
        (5, chosen),
        (6, strength),
        (8, chosen),
    ];
    let rows = incidence(&[strength, balance, line], sets);
    let counts: Vec<_> = rows.iter().map(|row| (row.unit, row.at_risk, row.drops)).collect();
    let expected = [
        (1, 12, [1, 0, 0]),
        (2, 11, [0, 1, 0]),
        (3, 9, [1, 0, 0]),
        (4, 8, [1, 0, 1]),
        (5, 5, [0, 0, 0]),
        (6, 4, [1, 1, 0]),
        (7, 2, [1, 0, 0]),
        (8, 1, [0, 0, 0]),
    ];
    assert_eq!(counts, expected);
    let seventh = rows[6];
    // 11/12 * 10/11 * 8/9 * 6/8 * 2/4 * 1/2 = 5/36, and the shares that go with it.
    assert!(close(seventh.survival, 5.0 / 36.0, 1e-15), "{seventh:?}");
    for (found, value) in seventh.incidence.into_iter().zip([59.0 / 108.0, 2.0 / 9.0, 5.0 / 54.0]) {
        assert!(close(found, value, 1e-15), "{seventh:?}");
    }
    assert_eq!(rows[7], Row { unit: 8, at_risk: 1, drops: [0; 3], ..seventh });
}

#[test]
fn sets_without_a_unit_tried_say_nothing() {
    assert_eq!(incidence(&[Stop::Strength], [(0, Stop::Chosen)]), []);
    let rows = incidence(&[Stop::Strength], [(0, Stop::Chosen), (0, Stop::Strength), (1, Stop::Target)]);
    assert_eq!(rows, [Row { unit: 1, at_risk: 2, drops: [1], survival: 0.5, incidence: [0.5] }]);
}

proptest! {
    #[test]
    fn chances_sum_to_one_whatever_the_order(
        sets in prop::collection::vec((0_u16..12, 0_u8..4), 0..40),
        turn in 0_usize..40,
    ) {
        let causes = [1, 2, 3];
        let rows = incidence(&causes, sets.iter().copied());
        let mut turned = sets.clone();
        turned.rotate_left(turn % sets.len().max(1));
        prop_assert_eq!(&rows, &incidence(&causes, turned));
        let mut before = 1.0;
        for row in &rows {
            let sum = row.survival + row.incidence.iter().sum::<f64>();
            prop_assert!((sum - 1.0).abs() < 1e-12, "{:?}", row);
            prop_assert!(row.survival <= before && row.at_risk >= 1);
            before = row.survival;
        }
    }

    /// With one cause and every set to the limit, survival is the share of sets that reached the unit.
    #[test]
    fn without_censoring_it_is_the_share_that_reached(done in prop::collection::vec(0_u16..12, 1..40)) {
        let rows = incidence(&[true], done.iter().map(|units| (*units, true)));
        for row in rows {
            let reached = done.iter().filter(|units| u32::from(**units) >= row.unit).count();
            let share = f64::from(u32::try_from(reached)?) / f64::from(u32::try_from(done.len())?);
            prop_assert!((row.survival - share).abs() < 1e-12, "{:?} {}", row, share);
        }
    }
}
