//! Figures as the report writes them: enough digits to be checked, and a dash where there is nothing to say.

use nextrung_chart::figure::difference;

use crate::simulate::bootstrap::Estimate;

/// Where there is nothing to say.
pub(crate) const NONE: &str = "\u{2013}";

/// A count with its thousands apart: `12\u{a0}345`.
pub(crate) fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push('\u{a0}');
        }
        out.push(digit);
    }
    out
}

/// `1 set`, `12 sets`.
pub(crate) fn counted(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(number), if number == 1 { one } else { many })
}

/// How many there are.
pub(crate) fn length<T>(of: &[T]) -> u64 {
    u64::try_from(of.len()).unwrap_or(u64::MAX)
}

/// A score in four digits after the point.
pub(crate) fn score(value: f64) -> String {
    format!("{value:.4}")
}

/// A share in percent with one digit after the point.
pub(crate) fn share(value: f64) -> String {
    format!("{:.1}\u{a0}%", 100.0 * value)
}

/// A difference.
pub(crate) fn change(found: Option<Estimate>) -> String {
    found.map_or(NONE.to_owned(), |e| difference(e.mean))
}

/// The interval of a difference.
pub(crate) fn change_range(found: Option<Estimate>) -> String {
    found.map_or(NONE.to_owned(), |e| format!("{} to {}", difference(e.low), difference(e.high)))
}

/// A figure, and its interval in brackets.
pub(crate) fn estimate(found: Option<Estimate>, words: fn(f64) -> String) -> String {
    found.map_or(NONE.to_owned(), |e| format!("{} ({} to {})", words(e.mean), words(e.low), words(e.high)))
}

/// A part of a whole; nothing of nothing.
pub(crate) fn part(of: u64, whole: u64) -> Option<f64> {
    (whole > 0).then(|| plain(of) / plain(whole))
}

/// A count as a number.
pub(crate) fn plain(count: u64) -> f64 {
    crate::evaluate::exact::number(i128::from(count))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_grouped() {
        assert_eq!([0, 999, 1000, 1_234_567].map(count), ["0", "999", "1\u{a0}000", "1\u{a0}234\u{a0}567"]);
        assert_eq!((counted(1, "set", "sets").as_str(), part(1, 0)), ("1 set", None));
    }

    #[test]
    fn estimates_have_their_intervals_with_them() {
        let found = Some(Estimate { mean: 0.5, low: 0.25, high: 0.75 });
        assert_eq!(estimate(found, share), "50.0\u{a0}% (25.0\u{a0}% to 75.0\u{a0}%)");
        assert_eq!(change_range(found), "+0.2500 to +0.7500");
        assert_eq!([estimate(None, score), change(None), change_range(None)], [NONE; 3]);
    }
}
