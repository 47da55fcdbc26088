//! Dose: whether a log says what the recommended number of sessions is worth to its athlete.
//!
//! The rule. The weeks of the log before the day of the forecast, counted back from it, are full with three or four sessions
//! on the ability that limits the rung, thin with one or two; other weeks, and the first four weeks on the ability, when it
//! is getting used to, are passed over. Weeks of one kind in a row make a stretch, because growth from week to week hangs
//! together. Each stretch has one growth a week, of the smoothed level (F-08). With at least three stretches of each kind
//! the growths are compared by Welch's contrast with the smaller count of freedom, and only a contrast whose 95 % interval
//! lies above zero is a gain. Smoothing draws neighbouring stretches together, so the contrast is rather too small.

use nextrung_capacity::done::Done;
use nextrung_capacity::smooth::{LOOK, Sweeps, smooth_at};
use nextrung_capacity::state::LEVEL;
use nextrung_capacity::task::Task;
use nextrung_domain::ability::AbilityIx;

use super::journey::WEEK;
use super::limiting;
use super::training::Training;
use crate::situation::Situation;

/// Sessions a week that are recommended; common practice, no source.
pub const RECOMMENDED: (i32, i32) = (3, 4);
/// Fewest stretches of each kind.
const FEWEST: usize = 3;
/// Days in which an ability is getting used to.
const FIRST_DAYS: i32 = 28;
/// The 0.975 quantiles of Student's t for 2 to 10 degrees of freedom (table, from memory); more count as 10.
const T_975: [f64; 9] = [4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228];

/// What the recommended dose adds to an ability's growth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// The ability.
    pub ability: AbilityIx,
    /// Growth of the level added a week, ln units.
    pub per_week: f64,
    /// Its standard error.
    pub error: f64,
}

/// Growth in stretches of full and of thin weeks, ln units a week.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Growths {
    /// Weeks with the recommended sessions.
    pub full: Vec<f64>,
    /// Weeks with fewer.
    pub thin: Vec<f64>,
}

/// What the log says of the recommended dose, or why it says nothing.
pub(super) fn recommended(
    at: &Situation<'_>,
    sets: &[(Task, Done)],
    (task, lately): (&Task, &Training),
) -> Result<Gain, String> {
    let Some(ability) = limiting(at, task) else { return Err("The rung asks for nothing.".to_owned()) };
    let weekly = lately.weekly(ability);
    let missing = missing(&weekly);
    if missing == 0.0 {
        return Err(
            "The last weeks had the three or four sessions a week that are recommended, or more.".to_owned()
        );
    }
    let (mean, error) = contrast(&growths(at, sets, ability))?;
    // What the other weeks gave already is in the first line.
    Ok(Gain { ability, per_week: missing * mean, error: missing * error })
}

/// Share of the weeks with fewer sessions than recommended; more than recommended lack nothing.
fn missing(weekly: &[i32]) -> f64 {
    let (mut fewer, mut all) = (0.0, 0.0);
    for sessions in weekly {
        all += 1.0;
        fewer += f64::from(u8::from(*sessions < RECOMMENDED.0));
    }
    if all > 0.0 { fewer / all } else { 0.0 }
}

/// Full less thin growth with its standard error, when its 95 % interval lies above zero; else why not.
pub fn contrast(growths: &Growths) -> Result<(f64, f64), String> {
    let Growths { full, thin } = growths;
    let fewest = full.len().min(thin.len());
    if fewest < FEWEST {
        return Err(format!(
            "The log has {} and {} with fewer; {FEWEST} of each are asked for before anything is said of the recommended dose.",
            stretches(full.len()),
            thin.len(),
        ));
    }
    let (full, thin) = (moments(full), moments(thin));
    let (mean, error) = (full.0 - thin.0, (full.1 + thin.1).sqrt());
    let half = T_975[(fewest - FEWEST).min(T_975.len() - 1)] * error;
    if mean - half > 0.0 {
        return Ok((mean, error));
    }
    let percent = |x: f64| format!("{:+.1} %", 100.0 * libm::expm1(x));
    Err(format!(
        "Weeks with three or four sessions differed from thinner ones by {} of growth (95 % interval {} to {}): not enough to tell what the recommended dose would change.",
        percent(mean),
        percent(mean - half),
        percent(mean + half)
    ))
}

fn stretches(n: usize) -> String {
    format!("{n} stretch{} of weeks with three or four sessions", if n == 1 { "" } else { "es" })
}

/// Mean, and variance of the mean.
fn moments(values: &[f64]) -> (f64, f64) {
    let n: f64 = values.iter().map(|_| 1.0).sum();
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    (mean, squares / (n - 1.0) / n)
}

/// Growth of the smoothed level in each stretch of full and of thin weeks.
fn growths(at: &Situation<'_>, sets: &[(Task, Done)], ability: AbilityIx) -> Growths {
    let mut days: Vec<i32> = sets
        .iter()
        .filter(|(task, done)| done.is_effort() && task.demands().iter().any(|d| d.ability == ability))
        .map(|(_, done)| done.day)
        .collect();
    days.dedup();
    let mut growths = Growths::default();
    let Some(first) = days.first().map(|day| day + FIRST_DAYS) else { return growths };
    let weeks = (at.day() - first).div_euclid(WEEK);
    // Ends of the stretches, the earliest first, and whether the stretch up to each is full, thin or neither.
    let mut marks: Vec<(i32, Option<bool>)> = Vec::new();
    for week in (0..weeks).rev() {
        let end = at.day() - WEEK * week;
        let count = days.iter().filter(|day| (end - WEEK + 1..=end).contains(day)).map(|_| 1).sum::<i32>();
        let kind = match count {
            0 => None,
            n if n < RECOMMENDED.0 => Some(false),
            n if n <= RECOMMENDED.1 => Some(true),
            _ => None,
        };
        match marks.last_mut().filter(|(_, last)| *last == kind) {
            Some(last) => last.0 = end,
            None => marks.push((end, kind)),
        }
    }
    let count = |wanted: bool| marks.iter().filter(|(_, kind)| *kind == Some(wanted)).count();
    if count(true) < FEWEST || count(false) < FEWEST {
        // Too few to compare: the lengths are all that is told.
        growths.full.resize(count(true), 0.0);
        growths.thin.resize(count(false), 0.0);
        return growths;
    }
    let start = at.day() - WEEK * weeks;
    let looks: Vec<i32> = std::iter::once(start).chain(marks.iter().map(|(end, _)| *end)).collect();
    let levels = levels_on(at, sets, ability, &looks);
    let ends = looks.windows(2).zip(levels.windows(2)).zip(&marks);
    for ((days, levels), (_, kind)) in ends {
        let ([from, to], [before, after]) = (days, levels) else { continue };
        let growth = (after - before) * f64::from(WEEK) / f64::from(to - from);
        match kind {
            Some(true) => growths.full.push(growth),
            Some(false) => growths.thin.push(growth),
            None => {}
        }
    }
    growths
}

fn levels_on(at: &Situation<'_>, sets: &[(Task, Done)], ability: AbilityIx, looks: &[i32]) -> Vec<f64> {
    let smoothed = smooth_at(at.model, sets, Sweeps::default(), looks);
    let nodes = smoothed.ability(ability).map(|a| a.nodes.as_slice()).unwrap_or_default();
    nodes.iter().filter(|node| node.session == LOOK).map(|node| node.mean[LEVEL]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_weeks_with_fewer_sessions_lack_the_dose() {
        let cases = [
            (&[5, 5, 5, 2][..], 0.25),
            (&[3, 4, 5, 7], 0.0),
            (&[1, 2, 3, 4], 0.5),
            (&[0, 0, 0, 0], 1.0),
            (&[2, 6], 0.5),
        ];
        for (weekly, share) in cases {
            assert!((missing(weekly) - share).abs() < 1e-12, "{weekly:?}: {}", missing(weekly));
        }
    }
}
