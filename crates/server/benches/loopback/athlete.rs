//! Athlete: one of the demo's invented athletes with half a year of sets, written to a database before it is served.

use std::path::Path;
use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_engine::clock::FixedClock;
use nextrung_engine::engine::Engine;
use nextrung_engine::request::Request;
use nextrung_prescribe::policy::Policy;
use nextrung_server::ladders::embedded;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;

use crate::Outcome;

const SETS: &[u8] = include_bytes!("../../../../data/demo/sets.csv");
/// The athlete, as in `data/demo/athletes.toml`, but with the one goal: a ladder of 15 rungs.
const NAME: &str = "dipper";
const GOALS: [&str; 1] = ["pull/one-arm-pull-up"];
const EQUIPMENT: [&str; 8] =
    ["bar", "rings", "box", "band", "low-bar", "wall", "parallettes", "parallel-bars"];

/// Name of the athlete.
pub(crate) const ATHLETE: &str = "rosters/hall/athletes/dipper";

/// Writes the athlete's log; gives the number of sets and the day after the last one.
pub(crate) async fn write(database: &Path) -> Outcome<(usize, CivilDate)> {
    let rows = nextrung_sheet::read_sets(SETS).map_err(|problems| format!("{problems:?}"))?;
    let drafts: Vec<SetDraft> = rows.into_iter().filter(|r| r.athlete == NAME).map(|r| r.draft).collect();
    let dates = drafts.iter().filter_map(|d| d.training_date);
    let (y, m, d) = dates.max().ok_or("no sets")?;
    let today = CivilDate::from_parts(y, m, d)?;
    let store = SqliteStore::open(database, SqliteOptions::default()).await?;
    let model = Model::new(Arc::new(embedded()?), Parameters::default());
    let engine = Engine::new(store, model, Policy::default(), Arc::new(FixedClock { today }));
    let request = |id: &str| Request { id: id.to_owned(), method: "bench", fingerprint: [0; 32] };
    let roster = RosterId::new("hall")?;
    engine.create_roster(roster.clone(), ("Hall".to_owned(), None), &request("roster")).await?;
    let athlete = AthleteRef { roster, athlete: AthleteId::new(NAME)? };
    let profile = ProfileDraft {
        display_name: "Dipper".to_owned(),
        birth_date: Some((1990, 8, 2)),
        body_mass_kg: Some(72.0),
        goals: GOALS.map(|goal| (goal.to_owned(), None)).to_vec(),
        equipment: EQUIPMENT.map(str::to_owned).to_vec(),
        available_weekdays: (0..7).collect(),
        ..ProfileDraft::default()
    };
    engine.create_athlete(athlete.clone(), &profile, &request("athlete")).await?;
    engine.record_sets(&athlete, &drafts, &request("sets"), false).await?;
    engine.store().close().await?;
    Ok((drafts.len(), today))
}
