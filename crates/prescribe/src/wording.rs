//! Wording: counts, times and names as a coach would write them.

use nextrung_domain::measure::Unit;

/// `today`, `yesterday` or `n days ago`.
pub(crate) fn ago(days: i32) -> String {
    match days {
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        n => format!("{n} days ago"),
    }
}

/// `rep`, `reps`, `second` or `seconds`.
pub(crate) fn unit_word(count: u16, unit: Unit) -> &'static str {
    match (unit, count) {
        (Unit::Reps, 1) => "rep",
        (Unit::Reps, _) => "reps",
        (Unit::HoldSeconds | Unit::LoweringSeconds, 1) => "second",
        (Unit::HoldSeconds | Unit::LoweringSeconds, _) => "seconds",
    }
}

/// `3 reps` or `1 second`.
pub(crate) fn amount(count: u16, unit: Unit) -> String {
    format!("{count} {}", unit_word(count, unit))
}

/// `3 clean reps` or `1 clean second`.
pub(crate) fn clean(count: u16, unit: Unit) -> String {
    format!("{count} clean {}", unit_word(count, unit))
}

/// Units as an estimate: `4.1`, and `12` from ten on.
pub(crate) fn decimal(units: f64) -> String {
    if units < 9.95 { format!("{units:.1}") } else { format!("{units:.0}") }
}

/// `3` or `3 to 5`.
pub(crate) fn range(low: u16, high: u16) -> String {
    if low == high { low.to_string() } else { format!("{low} to {high}") }
}

/// `3 min` or `90 s`.
pub(crate) fn minutes(seconds: u16) -> String {
    if seconds.is_multiple_of(60) { format!("{} min", seconds / 60) } else { format!("{seconds} s") }
}

/// `37 %`, and never a certainty: `over 99 %` or `under 1 %`.
pub(crate) fn percent(chance: f64) -> String {
    match 100.0 * chance {
        share if share >= 99.5 => "over 99 %".to_owned(),
        share if share < 0.5 => "under 1 %".to_owned(),
        share => format!("{share:.0} %"),
    }
}

/// What a person wrote, to stand inside a sentence.
pub(crate) fn plain(reason: &str) -> &str {
    reason.trim().trim_end_matches(['.', '!', ';', ',']).trim_end()
}

/// The text with its first letter raised.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The text with its first letter lowered, unless the first word is one that keeps it (`L-sit`, `V-sit`).
pub(crate) fn small(name: &str) -> String {
    let mut letters = name.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if second != '-' => {
            first.to_lowercase().chain([second]).chain(letters).collect()
        }
        _ => name.to_owned(),
    }
}
