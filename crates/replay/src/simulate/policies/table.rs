//! Table: the comparison of policies in Markdown.

use std::fmt::Write;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;

use crate::simulate::bootstrap::Estimate;
use crate::simulate::chooser::Chooser;
use crate::simulate::family::Family;
use crate::simulate::policies::{Arm, Comparison, Experiment, arms, run};
use crate::simulate::report::Size;
use crate::simulate::scene::SimulationError;
use crate::simulate::world::World;

const HEAD: &str = "\
| truth | world | chosen by | in band, % | more than the service's | regret, points | weeks to the goal | less the service's | reached, % | \
strength, in 100 sets | balance | line | pain |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|\n";

/// What a table is of.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Kinds of truth; those in which athletes choose for themselves are passed over, since that is one of the ways compared.
    pub families: Vec<Family>,
    /// Worlds.
    pub worlds: Vec<World>,
    /// Weeks of training.
    pub weeks: u16,
}

/// Every kind of truth in every world under every way of choosing.
///
/// # Errors
///
/// As [`run`].
pub fn policies_table(
    catalog: &Arc<Catalog>,
    size: Size,
    wanted: &Wanted,
) -> Result<String, SimulationError> {
    let mut text = format!("{} weeks.\n\n{HEAD}", wanted.weeks);
    for family in wanted.families.iter().filter(|family| family.chooser == Chooser::Service) {
        for world in &wanted.worlds {
            let experiment = Experiment {
                family: *family,
                world: *world,
                athletes: size.athletes,
                weeks: wanted.weeks,
                seed: size.seed,
            };
            rows(&mut text, &experiment, &run(catalog, &experiment, &arms())?);
        }
    }
    Ok(text)
}

/// The rows of one experiment.
pub fn rows(text: &mut String, experiment: &Experiment, comparisons: &[Comparison]) {
    let service = arms().first().map(|arm: &Arm| arm.name);
    for c in comparisons {
        let versus = |shown: String| if Some(c.arm) == service { "-".to_owned() } else { shown };
        // Writing to a text cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            experiment.family.name,
            experiment.world.name,
            c.arm,
            shown(c.in_band, 100.0),
            versus(shown(c.gain, 100.0)),
            shown(c.regret, 100.0),
            shown(c.weeks, 1.0),
            versus(shown(c.weeks_saved, 1.0)),
            shown(c.reached, 100.0),
            shown(c.failed[0], 1.0),
            shown(c.failed[1], 1.0),
            shown(c.failed[2], 1.0),
            shown(c.pain, 1.0),
        );
    }
}

fn shown(estimate: Option<Estimate>, times: f64) -> String {
    let one = |e: Estimate| format!("{:.1} ({:.1} to {:.1})", times * e.mean, times * e.low, times * e.high);
    estimate.map_or_else(|| "-".to_owned(), one)
}
