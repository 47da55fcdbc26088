//! Gym: the real ladders and an athlete with a log, for the tests, the example and the benchmark.

use std::path::Path;
use std::sync::Arc;

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft, Setting};
use nextrung_domain::ids::{EquipmentId, RungRef};
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::measure::{Grams, Unit};
use nextrung_domain::profile::{Clearance, Confirmation, Goal, Limits, Profile, Weekdays};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::explain::{Explanation, explain};
use nextrung_prescribe::history::History;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::Prescription;
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;

/// The ladders and abilities of `data/`.
pub(crate) fn catalog() -> Catalog {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    let read = |path: &Path| std::fs::read_to_string(path).expect("a readable data file");
    let abilities = read(&data.join("abilities.toml"));
    let mut ladders: Vec<(String, String)> = std::fs::read_dir(data.join("ladders"))
        .expect("data/ladders")
        .map(|entry| entry.expect("a directory entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| (path.display().to_string(), read(&path)))
        .collect();
    ladders.sort();
    let named: Vec<NamedText<'_>> = ladders.iter().map(|(name, text)| NamedText { name, text }).collect();
    load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &named).expect("sound ladders")
}

/// The model with default parameters on the real ladders.
pub(crate) fn model() -> Model {
    Model::new(Arc::new(catalog()), Parameters::default())
}

/// Day 0 is Monday 2026-01-05.
pub(crate) fn date(day: i32) -> CivilDate {
    CivilDate::from_parts(2026, 1, 5).expect("a date").plus_days(day)
}

/// A working set that met its target.
pub(crate) fn did(rung: &str, done: i64) -> SetDraft {
    SetDraft {
        rung: rung.to_owned(),
        purpose: Choice::Known(Purpose::Working),
        done: Some((Unit::Reps, done)),
        planned_target: Some(done),
        stop: Choice::Known(Stop::Target),
        ..SetDraft::default()
    }
}

/// A working set that failed for want of strength after `done` units of `target`.
pub(crate) fn missed(rung: &str, done: i64, target: i64) -> SetDraft {
    SetDraft { planned_target: Some(target), stop: Choice::Known(Stop::Strength), ..did(rung, done) }
}

/// A test set to the limit.
pub(crate) fn tested(rung: &str, done: i64) -> SetDraft {
    SetDraft {
        purpose: Choice::Known(Purpose::Test),
        planned_target: None,
        stop: Choice::Known(Stop::Strength),
        ..did(rung, done)
    }
}

/// An athlete with everything at hand and nothing logged.
#[derive(Clone)]
pub(crate) struct Athlete {
    pub(crate) model: Model,
    pub(crate) state: AthleteState,
    pub(crate) history: History,
    pub(crate) profile: Profile,
    pub(crate) policy: Policy,
    /// Every set logged, in order.
    pub(crate) entries: Vec<SetEntry>,
    scratch: Scratch,
}

impl Athlete {
    /// With these goals; 70 kg, all equipment, every clearance, every day.
    pub(crate) fn new(goals: &[&str]) -> Self {
        Self::on(model(), goals)
    }

    /// The same on a model made before.
    pub(crate) fn on(model: Model, goals: &[&str]) -> Self {
        let equipment = [
            "bar",
            "rings",
            "parallel-bars",
            "parallettes",
            "wall",
            "band",
            "box",
            "anchor-strap",
            "weight",
            "dip-belt",
            "low-bar",
            "pulley",
        ];
        let goal = |name: &&str| Goal { rung: RungRef::parse(name).expect("a rung"), by: None };
        let confirmed = |clearance| Confirmation { clearance, on: date(-365), by: "coach".to_owned() };
        let profile = Profile {
            display_name: "Wren".to_owned(),
            birth_date: None,
            body_mass: Grams::from_kg(70.0, 20.0, 300.0),
            goals: goals.iter().map(goal).collect(),
            equipment: equipment.iter().map(|e| EquipmentId::new(e).expect("a slug")).collect(),
            days: Weekdays::ALL,
            limits: Limits::default(),
            clearances: Clearance::ALL.map(confirmed).to_vec(),
            bands: None,
        };
        Self {
            state: AthleteState::new(&model.parameters),
            model,
            history: History::default(),
            profile,
            policy: Policy::default(),
            entries: Vec::new(),
            scratch: Scratch::default(),
        }
    }

    /// Logs a session; units are those of the rung, ids and set numbers are filled in.
    pub(crate) fn log(&mut self, day: i32, sets: impl IntoIterator<Item = SetDraft>) -> &mut Self {
        let (year, month, of_month) = date(day).parts();
        for (at, mut draft) in sets.into_iter().enumerate() {
            let rung = RungRef::parse(&draft.rung).expect("a rung");
            let ix = self.model.catalog.find(&rung).unwrap_or_else(|| panic!("{rung} is no rung"));
            draft.client_set_id = format!("set-{}", self.entries.len() + 1);
            draft.training_date = Some((year.into(), month.into(), of_month.into()));
            draft.set_number = i64::try_from(at).expect("few sets") + 1;
            draft.done = draft.done.map(|(_, done)| (self.model.catalog.rung(ix).unit, done));
            let setting = Setting { catalog: &self.model.catalog, profile: &self.profile, today: date(day) };
            let set = draft.check(&setting).unwrap_or_else(|bad| panic!("{draft:?}: {bad:?}"));
            let (task, done) = self.model.read(&set).expect("a known rung");
            self.state.observe(&self.model, &mut self.scratch, (&task, &done));
            self.history.observe(&self.model.catalog, &set);
            self.entries.push(set);
        }
        self
    }

    /// The same session on several days.
    pub(crate) fn log_on(&mut self, days: impl IntoIterator<Item = i32>, sets: &[SetDraft]) -> &mut Self {
        for day in days {
            self.log(day, sets.iter().cloned());
        }
        self
    }

    /// Something asked of the situation on a day.
    pub(crate) fn at<T>(&self, day: i32, ask: impl FnOnce(&Situation<'_>) -> T) -> T {
        let state = self.state.on(&self.model.parameters, date(day).day_number());
        ask(&Situation {
            model: &self.model,
            state: &state,
            history: &self.history,
            profile: &self.profile,
            policy: &self.policy,
            date: date(day),
        })
    }

    /// The prescription for a day.
    pub(crate) fn prescription(&self, day: i32) -> Prescription {
        self.at(day, prescribe)
    }

    /// The prescription for a day with what was considered.
    pub(crate) fn explanation(&self, day: i32) -> Explanation {
        self.at(day, explain)
    }
}
