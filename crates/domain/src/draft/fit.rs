//! Fit: whether a stop agrees with the rest of its set.

use super::Findings;
use crate::measure::{Pain, Reserve, Unit};
use crate::stop::Stop;

/// How a set ended, with what must agree with it.
pub(super) struct Ending {
    pub(super) stop: Stop,
    pub(super) unit: Unit,
    pub(super) done: u16,
    pub(super) target: Option<u16>,
    pub(super) reserve: Option<Reserve>,
    pub(super) pain: Option<Pain>,
}

/// Reports each way in which the stop contradicts the set.
pub(super) fn check_stop(bad: &mut Findings, end: &Ending) {
    let word = end.stop.word();
    match (end.stop, end.target) {
        (Stop::Target, None) => {
            bad.add("planned_target", "nothing", "the target set before the set, since the stop is `target`");
        }
        (Stop::Target, Some(target)) if end.done < target => {
            let expected = format!("a stop other than `target`, or at least the planned target of {target}");
            bad.add("stop", format!("`target` at {} {}", end.done, end.unit.short()), expected);
        }
        (Stop::Chosen, Some(target)) if end.done >= target => {
            let expected = format!("`target`, since the planned target of {target} was reached");
            bad.add("stop", format!("`chosen` at {} {}", end.done, end.unit.short()), expected);
        }
        _ => {}
    }
    if end.stop.is_failure() && end.reserve.is_some_and(|r| r.get() > 0) {
        let expected = format!("0 or nothing, since the stop `{word}` says that the next unit failed");
        bad.add("reps_in_reserve", end.reserve.map_or(0, Reserve::get).to_string(), expected);
    }
    if end.stop == Stop::Pain && end.pain.is_some_and(|p| p.get() == 0) {
        bad.add("pain", "0", "1 to 10, or nothing, since the stop is `pain`");
    }
}
