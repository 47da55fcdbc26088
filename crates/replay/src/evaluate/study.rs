//! Study: replays of simulated rosters, kind of truth by kind of truth, as a table in Markdown.

use std::fmt::Write;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;

use crate::advice::Advisers;
use crate::evaluate::crew::Crew;
use crate::evaluate::panel::Who;
use crate::evaluate::run::{Replay, ReplayError, service_rules};
use crate::evaluate::selection::Selection;
use crate::evaluate::summary::{ForecasterFigures, Summary};
use crate::simulate::bootstrap::Estimate;
use crate::simulate::crowd::{CrowdError, CrowdPlan, roster};
use crate::simulate::family::Family;
use crate::simulate::world::World;

/// What is studied.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    /// Kinds of truth, each by itself and then all together.
    pub families: Vec<Family>,
    /// Worlds, taken in turn.
    pub worlds: Vec<World>,
    /// Athletes of each kind.
    pub athletes: u64,
    /// Weeks of training.
    pub weeks: i32,
    /// Days in which forecasters only learn.
    pub warm_up_days: u16,
    /// The master seed.
    pub seed: u64,
}

/// Why a study came to no end.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// The roster could not be made.
    #[error(transparent)]
    Crowd {
        /// Why.
        #[from]
        source: CrowdError,
    },
    /// The replay came to no end.
    #[error(transparent)]
    Replay {
        /// Why.
        #[from]
        source: ReplayError,
    },
}

/// Everybody who foretells, the oracle last.
fn everybody() -> Vec<Who> {
    Who::usual().into_iter().chain([Who::Oracle]).collect()
}

impl Study {
    /// The figures of some kinds of truth, `athletes` of each.
    ///
    /// # Errors
    ///
    /// [`StudyError`]: the ladders lack what a world needs, or a fault of the simulation or of a forecaster.
    pub fn summary(&self, catalog: &Arc<Catalog>, families: &[Family]) -> Result<Summary, StudyError> {
        let kinds = u64::try_from(families.len()).unwrap_or(1);
        let plan = CrowdPlan {
            families: families.to_vec(),
            worlds: self.worlds.clone(),
            athletes: self.athletes * kinds,
            weeks: self.weeks,
            seed: self.seed,
        };
        let roster = roster(catalog, plan)?;
        let (model, policy) = service_rules(Arc::clone(catalog));
        let replay = Replay {
            model: Arc::new(model),
            challenger: None,
            policy,
            advisers: Advisers::default(),
            who: everybody(),
            selection: Selection { warm_up_days: self.warm_up_days, ..Selection::default() },
            seed: self.seed,
            crew: Crew::default(),
        };
        let learned = replay.learn(&roster, &mut |_| true)?;
        let part = replay.score(&learned, &roster, None, &mut |_| true)?;
        Ok(replay.summary(&part, learned.athletes, Vec::new())?)
    }

    /// The table: log scores of everybody by kind of truth, differences with their intervals, and the gap that is closed.
    ///
    /// # Errors
    ///
    /// As [`Study::summary`].
    pub fn table(&self, catalog: &Arc<Catalog>) -> Result<String, StudyError> {
        let mut text = String::from("| truth | sets | service |");
        everybody().iter().skip(1).for_each(|who| text += &format!(" {} |", who.word()));
        text += " gap closed, % |\n|---|---|---|";
        text += &"---|".repeat(everybody().len());
        text.push('\n');
        for family in &self.families {
            row(&mut text, family.name, &self.summary(catalog, std::slice::from_ref(family))?);
        }
        if self.families.len() > 1 {
            row(&mut text, "all together", &self.summary(catalog, &self.families)?);
        }
        Ok(text)
    }
}

fn row(text: &mut String, name: &str, summary: &Summary) {
    let Some((service, others)) = summary.forecasters.split_first() else { return };
    // Writing to a text cannot fail.
    let _ = write!(text, "| {name} | {} | {:.4} |", summary.counts.sets_scored, service.log_score);
    others.iter().for_each(|other| text.push_str(&cell(other)));
    let closed = summary.gap_closed.map_or_else(String::new, |e| scaled(e, 100.0, 0));
    let _ = writeln!(text, " {closed} |");
}

/// The service less the other, in thousandths of a nat.
fn cell(other: &ForecasterFigures) -> String {
    format!(" {} |", other.difference.map_or_else(String::new, |d| scaled(d, 1000.0, 0)))
}

fn scaled(e: Estimate, by: f64, digits: usize) -> String {
    let [mean, low, high] = [e.mean, e.low, e.high].map(|value| format!("{:.digits$}", by * value));
    format!("{mean} ({low} to {high})")
}
