//! Figures as pictures write them: as many digits as they deserve.

use crate::Ends;

/// Units: `0.35`, `4.1`, `23`; `<0.01` and `9999+` at the ends.
pub fn units(value: f64) -> String {
    if value < 0.005 {
        "<0.01".to_owned()
    } else if value < 0.995 {
        format!("{value:.2}")
    } else if value < 9.95 {
        format!("{value:.1}")
    } else if value < 9999.5 {
        format!("{value:.0}")
    } else {
        "9999+".to_owned()
    }
}

/// `3.8 to 4.4`.
pub(crate) fn units_range((low, high): Ends) -> String {
    format!("{} to {}", units(low), units(high))
}

/// A chance in percent; never 0 or 100, which no estimate says.
pub fn chance(probability: f64) -> String {
    let percent = 100.0 * probability;
    if percent < 0.5 {
        "<1 %".to_owned()
    } else if percent > 99.5 {
        ">99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

/// `48 % to >99 %`.
pub(crate) fn chance_range((low, high): Ends) -> String {
    format!("{} to {}", chance(low), chance(high))
}

/// A counted share in percent: it can be nothing or all.
pub(crate) fn share(value: f64) -> String {
    format!("{:.0} %", 100.0 * value.clamp(0.0, 1.0))
}

/// `12 to 25 %`.
pub(crate) fn share_range((low, high): Ends) -> String {
    format!("{:.0} to {:.0} %", 100.0 * low.clamp(0.0, 1.0), 100.0 * high.clamp(0.0, 1.0))
}

/// A difference with its sign, in four digits after the point at most: `\u{2212}0.0123`, `+1.25`.
pub fn difference(value: f64) -> String {
    let text = if value.abs() < 0.9995 {
        format!("{value:+.4}")
    } else if value.abs() < 9999.5 {
        format!("{value:+.2}")
    } else {
        format!("{}9999 or more", if value < 0.0 { '-' } else { '+' })
    };
    text.replace('-', "\u{2212}")
}

/// What a slope of log odds does to the odds in a week: `-7 %`.
pub(crate) fn odds_change(slope: f64) -> String {
    let percent = 100.0 * libm::expm1(slope);
    if percent > 999.0 {
        "+999 % or more".to_owned()
    } else {
        format!("{percent:+.0} %").replace('-', "\u{2212}")
    }
}

/// `every second week`, and nothing when every one is there.
pub(crate) fn every(step: usize, what: &str) -> Option<String> {
    match step {
        0 | 1 => None,
        2 => Some(format!("every second {what}")),
        3 => Some(format!("every third {what}")),
        _ => Some(format!("every {step}th {what}")),
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn and_list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_as_many_digits_as_they_deserve() {
        assert_eq!(
            [0.001, 0.354, 4.12, 9.96, 23.4, 1e9].map(units),
            ["<0.01", "0.35", "4.1", "10", "23", "9999+"]
        );
        assert_eq!([0.001, 0.716, 1.0].map(chance), ["<1 %", "72 %", ">99 %"]);
        assert_eq!([0.0, 0.716, 1.0].map(share), ["0 %", "72 %", "100 %"]);
        assert_eq!(units_range((3.2, 5.34)), "3.2 to 5.3");
        assert_eq!(
            [-0.01234, 0.0, 1.246, -1e9].map(difference),
            ["\u{2212}0.0123", "+0.0000", "+1.25", "\u{2212}9999 or more"]
        );
        assert_eq!(odds_change(0.0), "+0 %");
        assert_eq!([-0.1, 0.1, 50.0].map(odds_change), ["\u{2212}10 %", "+11 %", "+999 % or more"]);
    }

    #[test]
    fn steps_are_said_in_words() {
        assert_eq!(every(1, "week"), None);
        assert_eq!(every(2, "week").as_deref(), Some("every second week"));
        assert_eq!(every(4, "week").as_deref(), Some("every 4th week"));
    }

    #[test]
    fn lists_read_as_a_sentence() {
        let parts = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(and_list(&parts), "a, b and c");
        assert_eq!(and_list(&parts[..1]), "a");
        assert_eq!(and_list(&[]), "");
    }
}
