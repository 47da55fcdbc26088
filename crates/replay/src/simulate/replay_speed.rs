//! Replay speed: sets a second of one thread, and what each part of a replay costs, on one simulated roster.

use std::fmt::Write;
use std::sync::Arc;
use std::time::{Duration, Instant};

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::Catalog;

use crate::advice::Advisers;
use crate::athlete_log::standing;
use crate::evaluate::crew::Crew;
use crate::evaluate::panel::Who;
use crate::evaluate::run::{Replay, service_rules};
use crate::evaluate::selection::Selection;
use crate::evaluate::source::{Source, SourceError, Traced};
use crate::simulate::bootstrap::count;
use crate::simulate::crowd::{CrowdPlan, roster};
use crate::simulate::family;
use crate::simulate::world::World;

/// Readings of a short kind, of which the fastest counts: what else the machine does only ever slows one down.
const REPEATS: usize = 20;

/// A table in Markdown: on each world the sets a second of one thread for the filter alone, for foretelling and scoring by the
/// service, by everybody, and with advice. The seconds are those of the second reading.
///
/// # Errors
///
/// Whatever keeps a roster from being made or replayed.
pub fn table(
    catalog: &Arc<Catalog>,
    worlds: &[World],
    (athletes, weeks): (u64, i32),
    seed: u64,
) -> Result<String, SourceError> {
    let mut text = String::from("| world | sets | what | s | sets a second |\n|---|---|---|---|---|\n");
    for world in worlds {
        let plan = CrowdPlan {
            families: family::named("own-choice").into_iter().collect(),
            worlds: vec![*world],
            athletes,
            weeks,
            seed,
        };
        let made = roster(catalog, plan)?;
        let logs: Vec<Traced> = made.logs()?.collect::<Result<_, _>>()?;
        let sets: usize = logs.iter().map(|t| standing(&t.log.events).len()).sum();
        let mut row = |what: &str, took: Duration| {
            let seconds = took.as_secs_f64();
            // Writing to a text cannot fail.
            let _ = writeln!(
                text,
                "| {} | {sets} | {what} | {seconds:.2} | {:.0} |",
                world.name,
                count(sets) / seconds
            );
        };
        row("filter alone (floor)", (0..REPEATS).map(|_| filtered(catalog, &logs)).min().unwrap_or_default());
        for (what, who, advises, readings) in [
            ("service foretells, scored", vec![Who::Service], false, REPEATS),
            ("everybody foretells", Who::usual(), false, 1),
            ("service foretells and three advise", vec![Who::Service], true, 1),
        ] {
            row(what, replayed(catalog, &logs, (who, advises), readings)?);
        }
    }
    Ok(text)
}

/// The filter over every log, nothing asked.
fn filtered(catalog: &Arc<Catalog>, logs: &[Traced]) -> Duration {
    let (model, _) = service_rules(Arc::clone(catalog));
    let mut scratch = Scratch::default();
    let began = Instant::now();
    for traced in logs {
        let mut state = AthleteState::new(&model.parameters);
        for set in standing(&traced.log.events) {
            if let Some((task, done)) = model.read(set) {
                state.observe(&model, &mut scratch, (&task, &done));
            }
        }
    }
    began.elapsed()
}

/// The second reading of a replay on one thread, the fastest of as many.
fn replayed(
    catalog: &Arc<Catalog>,
    logs: &[Traced],
    (who, advises): (Vec<Who>, bool),
    readings: usize,
) -> Result<Duration, SourceError> {
    let (model, policy) = service_rules(Arc::clone(catalog));
    let advisers = if advises { Advisers::new(&policy, Vec::new()) } else { Advisers::default() };
    let replay = Replay {
        model: Arc::new(model),
        challenger: None,
        policy,
        advisers,
        who,
        selection: Selection::default(),
        seed: 1,
        crew: Crew::of(1),
    };
    let learned = replay.learn(logs, &mut |_| true)?;
    let mut least = Duration::MAX;
    for _ in 0..readings {
        let began = Instant::now();
        replay.score(&learned, logs, None, &mut |_| true)?;
        least = least.min(began.elapsed());
    }
    Ok(least)
}
