//! Fit: whether a stop agrees with the rest of its set.

use super::Findings;
use crate::measure::{Pain, Reserve, Unit};
use crate::stop::Stop;

/// How a set ended, with what must agree with it.
pub(super) struct Ending {
    pub(super) stop: Stop,
    /// Units done; nothing when they were refused.
    pub(super) done: Option<(Unit, u16)>,
    /// True when a target was given, sound or not.
    pub(super) planned: bool,
    pub(super) target: Option<u16>,
    pub(super) reserve: Option<Reserve>,
    pub(super) pain: Option<Pain>,
}

/// Reports each way in which the stop contradicts the set.
pub(super) fn check_stop(bad: &mut Findings, end: &Ending) {
    let word = end.stop.word();
    if end.stop == Stop::Target && !end.planned {
        bad.add("planned_target", "nothing", "the target set before the set, since the stop is `target`");
    }
    if let (Some((unit, done)), Some(target)) = (end.done, end.target) {
        let found = format!("`{word}` at {done} {}", unit.short());
        if end.stop == Stop::Target && done < target {
            let expected = format!("a stop other than `target`, or at least the planned target of {target}");
            bad.add("stop", found, expected);
        } else if end.stop == Stop::Chosen && done >= target {
            bad.add("stop", found, format!("`target`, since the planned target of {target} was reached"));
        }
    }
    if end.stop.is_failure() && end.reserve.is_some_and(|r| r.get() > 0) {
        let expected = format!("0 or nothing, since the stop `{word}` says that the next unit failed");
        bad.add("reps_in_reserve", end.reserve.map_or(0, Reserve::get).to_string(), expected);
    }
    if end.stop == Stop::Pain && end.pain.is_some_and(|p| p.get() == 0) {
        bad.add("pain", "0", "1 to 10, or nothing, since the stop is `pain`");
    }
}
