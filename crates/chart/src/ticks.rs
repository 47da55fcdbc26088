//! Ticks: where an axis is marked, and with which words.

use crate::day::Day;
use crate::lettering::Lettering;

/// A mark on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    /// Its place, in the numbers of the axis.
    pub(crate) at: f64,
    /// What stands there.
    pub(crate) label: String,
}

impl Tick {
    fn new(at: f64, label: impl Into<String>) -> Self {
        Self { at, label: label.into() }
    }
}

/// Steps within a power of ten, from the finest to the coarsest.
const STEPS: [&[f64]; 5] = [
    &[1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0],
    &[1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0],
    &[1.0, 2.0, 3.0, 5.0],
    &[1.0, 3.0],
    &[1.0],
];

/// Ticks of an axis in ln units between both ends, at most seven: as fine as that allows.
pub(crate) fn of_units(low: f64, high: f64) -> Vec<Tick> {
    let mut found = Vec::new();
    for steps in STEPS {
        found.clear();
        for power in -3..=5 {
            let ten = libm::pow(10.0, f64::from(power));
            for step in steps {
                let (units, at) = (step * ten, libm::log(step * ten));
                if (low..=high).contains(&at) {
                    found.push(Tick::new(at, plain(units)));
                }
            }
        }
        if found.len() <= 7 {
            break;
        }
    }
    found
}

/// A number of a scale without digits it does not need: `0.05`, `1.5`, `20`.
fn plain(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Ticks of an axis of days at whole weeks from the first day on, at most so many.
pub(crate) fn of_weeks(from: Day, to: Day, most: i32) -> Vec<Tick> {
    let weeks = (to.count - from.count) / 7 + 1;
    let step = (weeks + most - 1) / most;
    let days = (0..).map(|at| Day { count: from.count + 7 * step * at });
    days.take_while(|day| *day <= to).map(|day| Tick::new(day.place(), day.short())).collect()
}

/// Ticks of an axis of whole numbers from the first to the last, at most so many; the last is always one.
pub(crate) fn of_numbers(first: u32, last: u32, most: u32) -> Vec<Tick> {
    let step = (last - first + 1).div_ceil(most).max(1);
    let shown = (first..=last).filter(|number| (last - number).is_multiple_of(step));
    shown.map(|number| Tick::new(f64::from(number), number.to_string())).collect()
}

/// Ticks of an axis of shares, 0 to 1.
pub(crate) fn of_shares(parts: u32) -> Vec<Tick> {
    let at = |part: u32| f64::from(part) / f64::from(parts);
    (0..=parts).map(|part| Tick::new(at(part), format!("{:.0} %", 100.0 * at(part)))).collect()
}

/// Ticks of an axis of any numbers at round ones, at most so many, each with its unit behind it.
pub(crate) fn of_values(low: f64, high: f64, most: u32, unit: &str) -> Vec<Tick> {
    let least = (high - low) / f64::from(most.max(2) - 1);
    let ten = libm::pow(10.0, libm::floor(libm::log10(least)));
    let step = [1.0, 2.0, 5.0, 10.0].map(|of| of * ten).into_iter().find(|step| *step >= least);
    let step = step.unwrap_or(10.0 * ten);
    let first = libm::ceil(low / step);
    let places = (0..most).map(|at| (first + f64::from(at)) * step).take_while(|at| *at <= high);
    places.map(|at| Tick::new(at, format!("{}{unit}", signed(at)))).collect()
}

/// The same, as fine as its words allow on an axis of so many pixels.
pub(crate) fn fitting(low: f64, high: f64, pixels: u32, unit: &str) -> Vec<Tick> {
    let fits = |ticks: &[Tick]| {
        let [first, second, ..] = ticks else { return false };
        let apart = f64::from(pixels) * (second.at - first.at) / (high - low);
        ticks.iter().all(|tick| f64::from(Lettering::SMALL.width(&tick.label) + 8) <= apart)
    };
    let found = (3..=7).rev().map(|most| of_values(low, high, most, unit)).find(|ticks| fits(ticks));
    found.unwrap_or_else(|| of_values(low, high, 2, unit))
}

/// A number without digits it does not need, below zero with a true minus: `\u{2212}0.05`, `0`, `20`.
fn signed(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.replace('-', "\u{2212}") }
}

/// Ticks without words at the edges of so many cells.
pub(crate) fn of_edges(cells: u32) -> Vec<Tick> {
    (0..=cells).map(|at| Tick::new(f64::from(at), "")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64) -> Vec<String> {
        of_units(libm::log(low), libm::log(high)).into_iter().map(|tick| tick.label).collect()
    }

    #[test]
    fn scales_of_units_are_marked_at_round_numbers() {
        assert_eq!(labels(2.9, 10.5), ["3", "4", "6", "8", "10"]);
        assert_eq!(labels(4.5, 9.5), ["5", "6", "7", "8", "9"]);
        assert_eq!(labels(0.9, 22.0), ["1", "2", "3", "5", "10", "20"]);
        assert_eq!(labels(0.05, 9999.0), ["0.1", "1", "10", "100", "1000"]);
    }

    #[test]
    fn any_numbers_are_marked_at_round_ones() {
        let labels = |low: f64, high: f64, most: u32| -> Vec<String> {
            of_values(low, high, most, "").into_iter().map(|tick| tick.label).collect()
        };
        assert_eq!(labels(-0.52, 0.13, 5), ["\u{2212}0.4", "\u{2212}0.2", "0"]);
        assert_eq!(
            labels(-0.004, 0.001, 6),
            ["\u{2212}0.004", "\u{2212}0.003", "\u{2212}0.002", "\u{2212}0.001", "0", "0.001"]
        );
        assert_eq!(labels(55.0, 81.0, 4), ["60", "70", "80"]);
        assert_eq!(labels(-1e6, 1e6, 5), ["\u{2212}1000000", "\u{2212}500000", "0", "500000", "1000000"]);
        assert_eq!(of_values(0.0, 10.0, 3, " %")[1].label, "5 %");
        let fine = |pixels: u32| fitting(-0.75, 0.04, pixels, "").len();
        assert_eq!([600, 150, 60, 20].map(fine), [4, 4, 2, 1]);
    }

    #[test]
    fn weeks_are_thinned_until_they_fit() {
        let ticks = of_weeks(Day { count: 20_780 }, Day { count: 20_780 + 181 }, 9);
        assert_eq!(ticks.len(), 9);
        assert_eq!(ticks[1].label, "14 Dec");
        assert_eq!(of_weeks(Day { count: 0 }, Day { count: 0 }, 9).len(), 1);
    }

    #[test]
    fn shares_go_from_nothing_to_all() {
        let labels: Vec<String> = of_shares(2).into_iter().map(|tick| tick.label).collect();
        assert_eq!(labels, ["0 %", "50 %", "100 %"]);
    }
}
