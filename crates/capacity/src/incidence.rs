//! Incidence: how often sets have failed at each unit, and by which cause, as counted and not as modelled.
//!
//! The estimate of cumulative incidence for competing causes on whole units (Aalen and Johansen 1978, from memory; checked
//! against R `survival` and `cmprsk` in `tests/reference_incidence.rs`). A set that ended otherwise says only that the
//! units done were reached: that is fair for targets set before the set, and too kind where athletes stop by choice just
//! short of failing.

/// What is known of one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row<const CAUSES: usize> {
    /// The unit, from 1.
    pub unit: u32,
    /// Sets in which it was tried.
    pub at_risk: u32,
    /// Sets that failed on it, by cause.
    pub drops: [u32; CAUSES],
    /// Chance that a set with no other end reaches it cleanly.
    pub survival: f64,
    /// Chance that such a set has failed by now, by cause; with `survival` they sum to one.
    pub incidence: [f64; CAUSES],
}

/// Sets by the last unit tried.
#[derive(Clone, Copy)]
struct Tally<const CAUSES: usize> {
    ended: u32,
    drops: [u32; CAUSES],
}

/// One row for each unit from the first to the last one tried.
///
/// Each set is its clean units and how it ended. An ending among `causes` is a failure on the unit after the last clean
/// one; any other leaves the question open from there on. Sets in which no unit was tried count for nothing, and a cause
/// named twice counts at its first place.
#[must_use]
pub fn incidence<Ending: PartialEq, const CAUSES: usize>(
    causes: &[Ending; CAUSES],
    sets: impl IntoIterator<Item = (u16, Ending)>,
) -> Vec<Row<CAUSES>> {
    let tallies = tally(causes, sets);
    let mut at_risk: u32 = tallies.iter().map(|t| t.ended).sum();
    let (mut survival, mut incidence) = (1.0, [0.0; CAUSES]);
    let row = |(tally, unit): (Tally<CAUSES>, u32)| {
        let share = |sets: u32| f64::from(sets) / f64::from(at_risk);
        for (sum, drops) in incidence.iter_mut().zip(tally.drops) {
            *sum += survival * share(drops);
        }
        survival *= share(at_risk - tally.drops.iter().sum::<u32>());
        let row = Row { unit, at_risk, drops: tally.drops, survival, incidence };
        at_risk -= tally.ended;
        row
    };
    tallies.into_iter().zip(1..).map(row).collect()
}

fn tally<Ending: PartialEq, const CAUSES: usize>(
    causes: &[Ending; CAUSES],
    sets: impl IntoIterator<Item = (u16, Ending)>,
) -> Vec<Tally<CAUSES>> {
    let mut tallies = Vec::new();
    for (units, ending) in sets {
        let cause = causes.iter().position(|cause| *cause == ending);
        let tried = usize::from(units) + usize::from(cause.is_some());
        let Some(last) = tried.checked_sub(1) else { continue };
        if last >= tallies.len() {
            tallies.resize(tried, Tally { ended: 0, drops: [0; CAUSES] });
        }
        tallies[last].ended += 1;
        if let Some(cause) = cause {
            tallies[last].drops[cause] += 1;
        }
    }
    tallies
}
