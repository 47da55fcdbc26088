//! Report: the figures of the simulations as tables in Markdown.

mod forecasts;
mod refits;

pub use forecasts::forecast_table;
pub use refits::refit_table;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::Arc;

use nextrung_capacity::params::{MODEL_VERSION, Parameters};
use nextrung_domain::catalog::Catalog;
use nextrung_prescribe::limiter::Limiter;
use nextrung_prescribe::policy::Policy;

use crate::dice::Dice;
use crate::simulate::bootstrap::{Estimate, mean_interval};
use crate::simulate::chooser::Chooser;
use crate::simulate::coverage::{self, Key, LEVELS, Tally};
use crate::simulate::in_band::{self, Outcome, ratio};
use crate::simulate::limiters::{self, Case, Confusion};
use crate::simulate::noise::Noise;
use crate::simulate::scene::SimulationError;
use crate::simulate::trainee::Telling;
use crate::simulate::world::{self, World};

/// How large a run is, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Athletes in each experiment.
    pub athletes: u64,
    /// The master seed.
    pub seed: u64,
}

/// Versions, seed and count, in a line.
pub fn heading(size: Size) -> String {
    format!(
        "Seed {}, {} athletes an experiment; {MODEL_VERSION}, parameters {}, {}; generator ChaCha8.\n",
        size.seed,
        size.athletes,
        Parameters::default().version,
        Policy::default().version,
    )
}

/// The experiments on coverage: every world and noise, and mixed telling under matched noise.
pub fn coverage_table(catalog: &Arc<Catalog>, size: Size) -> Result<String, SimulationError> {
    let mut text = String::from(
        "| world | noise | told | rung | kind | sets | athletes | 50 % | 80 % | 95 % | outside the 99.9 % band | KS (limit at 0.1 %) | error, mean and sd |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    let told = [(Telling::PLAIN, "plain"), (Telling::MIXED, "mixed")];
    for world in world::ALL {
        for noise in Noise::ALL {
            for (telling, name) in
                told.iter().filter(|(t, _)| *t == Telling::PLAIN || noise == Noise::Logistic)
            {
                let experiment = coverage::Experiment {
                    world,
                    noise,
                    telling: *telling,
                    athletes: size.athletes,
                    seed: size.seed,
                };
                let tallies = coverage::run(catalog, &experiment)?;
                coverage_rows(&mut text, &format!("{} | {} | {name}", world.name, noise.name()), &tallies);
            }
        }
    }
    Ok(text)
}

fn coverage_rows(text: &mut String, start: &str, tallies: &BTreeMap<Key, Tally>) {
    for ((sets, kind, whose), tally) in tallies {
        let outside: Vec<String> = (0..LEVELS.len())
            .filter(|level| !tally.is_in_band(*level))
            .map(|level| format!("{:.0} %", 100.0 * LEVELS[level].0))
            .collect();
        let outside = if outside.is_empty() { "none".to_owned() } else { outside.join(", ") };
        let (mean, sd) = tally.error_moments();
        line(
            text,
            format_args!(
                "| {start} | {} | {} | {sets} | {} | {:.3} | {:.3} | {:.3} | {outside} | {:.3} ({:.3}) | {mean:.3}, {sd:.3} |",
                whose.name(),
                kind.word(),
                tally.athletes(),
                tally.share(0),
                tally.share(1),
                tally.share(2),
                tally.ks_distance(),
                tally.ks_limit(),
            ),
        );
    }
}

/// The experiments on working sets in band: every world, every chooser, every noise.
pub fn in_band_table(catalog: &Arc<Catalog>, size: Size) -> Result<String, SimulationError> {
    let mut text = String::from(
        "| world | noise | chosen by | in band (99 % interval) | weeks 5-12 | too hard | too easy | less the service's | working sets an athlete | test sets | with a shading or load | in another unit | sessions with a change |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for world in world::ALL {
        for noise in Noise::ALL {
            in_band_rows(&mut text, catalog, (world, noise), size)?;
        }
    }
    Ok(text)
}

fn in_band_rows(
    text: &mut String,
    catalog: &Arc<Catalog>,
    (world, noise): (World, Noise),
    size: Size,
) -> Result<(), SimulationError> {
    let experiment = in_band::Experiment { world, noise, athletes: size.athletes, seed: size.seed };
    let mut service = Vec::new();
    for chooser in Chooser::ALL {
        let outcomes = in_band::run(catalog, &experiment, chooser)?;
        if chooser == Chooser::Service {
            service.clone_from(&outcomes);
        }
        let shares: Vec<f64> = outcomes.iter().filter_map(Outcome::share).collect();
        let mut dice = Dice::new(size.seed, u64::MAX);
        let all = mean_interval(&shares, &mut dice);
        let versus = gain(&outcomes, &service, &mut dice);
        let total = |part: fn(&Outcome) -> u32| outcomes.iter().map(part).sum::<u32>();
        let sets = total(Outcome::all);
        let percent = |part: u32| 100.0 * ratio(part, sets).unwrap_or(0.0);
        let per_athlete = |part: u32| ratio(part, u32::try_from(outcomes.len()).unwrap_or(1)).unwrap_or(0.0);
        let late: Vec<f64> = outcomes.iter().filter_map(Outcome::late_share).collect();
        let hard = percent(total(|o| o.too_hard));
        let inside = percent(total(|o| o.in_band[0] + o.in_band[1]));
        line(
            text,
            format_args!(
                "| {} | {} | {} | {} | {:.1} % | {hard:.1} % | {:.1} % | {} | {:.0} | {:.1} | {:.1} % | {:.1} % | {:.0} % |",
                world.name,
                noise.name(),
                chooser.name(),
                percents(all),
                100.0 * mean_interval(&late, &mut dice).mean,
                100.0 - inside - hard,
                if chooser == Chooser::Service { "-".to_owned() } else { percents(versus) },
                per_athlete(sets),
                per_athlete(total(|o| o.tests)),
                percent(total(|o| o.shaded)),
                percent(total(|o| o.other_unit)),
                100.0 * ratio(total(|o| o.changes), total(|o| o.sessions)).unwrap_or(0.0),
            ),
        );
    }
    Ok(())
}

/// How much more of each athlete's working sets were in band than under the other chooser, over the athletes who had
/// working sets under both.
pub fn gain(outcomes: &[Outcome], others: &[Outcome], dice: &mut Dice) -> Estimate {
    let pairs = outcomes.iter().zip(others);
    let gains: Vec<f64> = pairs.filter_map(|(a, b)| a.share().zip(b.share())).map(|(a, b)| a - b).collect();
    mean_interval(&gains, dice)
}

/// The experiment on limiters: what was said of athletes whose limiter is known.
pub fn limiters_table(catalog: &Arc<Catalog>, size: Size) -> Result<String, SimulationError> {
    let experiment = limiters::Experiment { athletes: size.athletes, seed: size.seed };
    let cases = limiters::run(catalog, &experiment)?;
    let confusion = Confusion::of(&cases);
    let mut text = format!("| true limiter | {} | cannot tell |\n|---|---|---|---|---|---|---|\n", {
        let names: Vec<&str> = Limiter::ALL.iter().map(|l| l.words()).collect();
        names.join(" | ")
    });
    for (limiter, row) in Limiter::ALL.iter().zip(confusion.counts) {
        let counts: Vec<String> = row.iter().map(u32::to_string).collect();
        line(&mut text, format_args!("| {} | {} |", limiter.words(), counts.join(" | ")));
    }
    let percent = |part: u32| 100.0 * ratio(part, confusion.all()).unwrap_or(0.0);
    line(
        &mut text,
        format_args!(
            "\nRight first: {:.1} %; cannot tell: {:.1} %; wrong: {:.1} % of {} athletes.",
            percent(confusion.right()),
            percent(confusion.untold()),
            percent(confusion.wrong()),
            confusion.all()
        ),
    );
    margin_rows(&mut text, &cases);
    Ok(text)
}

/// The abilities alone, by how far the limiting one was below the others.
fn margin_rows(text: &mut String, cases: &[Case]) {
    let heading =
        "\n| below the others by, ln units | athletes | right | cannot tell | wrong |\n|---|---|---|---|---|";
    line(text, format_args!("{heading}"));
    for (low, high) in [(0.0, 0.75), (0.75, 1.0), (1.0, 1.25), (1.25, f64::INFINITY)] {
        let inside = |case: &&Case| case.margin().is_some_and(|m| (low..high).contains(&m));
        let part: Vec<Case> = cases.iter().filter(inside).cloned().collect();
        let c = Confusion::of(&part);
        let range = if high.is_finite() { format!("{low} to {high}") } else { format!("over {low}") };
        line(
            text,
            format_args!("| {range} | {} | {} | {} | {} |", c.all(), c.right(), c.untold(), c.wrong()),
        );
    }
}

fn percents(e: Estimate) -> String {
    format!("{:.1} % ({:.1} to {:.1})", 100.0 * e.mean, 100.0 * e.low, 100.0 * e.high)
}

fn line(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    // Writing to a text cannot fail.
    let _ = writeln!(text, "{arguments}");
}
