//! Forecasts: the figures of their study as two tables.

use std::sync::Arc;

use nextrung_domain::catalog::Catalog;

use super::{Size, line};
use crate::simulate::forecast::{Experiment, Tally, run, tally};
use crate::simulate::scene::SimulationError;
use crate::simulate::world::{self, World};

/// The experiments on forecasts: every world, what became of the intervals, then of the chances.
pub fn forecast_table(catalog: &Arc<Catalog>, size: Size) -> Result<String, SimulationError> {
    let mut intervals = String::from(
        "| world | forecasts | set in its 80 % interval after 4 weeks | 8 | 12 | below, above after 12 | first week in its interval (stated) | in the central 80 % | beyond 12 weeks | sessions assumed, done |\n\
         |---|---|---|---|---|---|---|---|---|---|\n",
    );
    let mut chances = String::from(
        "\n| world | chance told | how often | mean told | came true |\n|---|---|---|---|---|\n",
    );
    for world in world::ALL {
        let experiment = Experiment { world, athletes: size.athletes, seed: size.seed };
        let found = tally(&run(catalog, &experiment)?);
        interval_row(&mut intervals, &world, &found);
        chance_rows(&mut chances, &world, &found);
    }
    Ok(intervals + &chances)
}

fn interval_row(text: &mut String, world: &World, found: &Tally) {
    let share = |count: u32| 100.0 * found.share(count);
    let [four, eight, twelve] = found.looks;
    line(
        text,
        format_args!(
            "| {} | {} | {:.1} % | {:.1} % | {:.1} % | {:.1} %, {:.1} % | {:.1} % ({:.1} %) | {:.1} % | {:.1} % | {:.1}, {:.1} |",
            world.name,
            found.athletes,
            share(four[1]),
            share(eight[1]),
            share(twelve[1]),
            share(twelve[0]),
            share(twelve[2]),
            share(found.inside),
            100.0 * found.mean_stated(),
            share(found.central),
            share(found.beyond),
            found.sessions.0 / f64::from(found.athletes.max(1)),
            found.share(found.sessions.1),
        ),
    );
}

fn chance_rows(text: &mut String, world: &World, found: &Tally) {
    let tenths = (0_u32..).step_by(10).zip(found.bins);
    for (from, (many, sum, came)) in tenths.filter(|(_, (many, ..))| *many > 0) {
        let of = |value: f64| 100.0 * value / f64::from(many);
        line(
            text,
            format_args!(
                "| {} | {from} to {} % | {many} | {:.1} % | {:.1} % |",
                world.name,
                from + 10,
                of(sum),
                of(f64::from(came)),
            ),
        );
    }
}
