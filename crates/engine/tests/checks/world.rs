//! World: the real ladders, a clock set by hand, and an engine over a log in a folder of its own.

use std::collections::BTreeSet;
use std::fmt::Debug;
use std::num::NonZeroUsize;
use std::path::Path;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, OnceLock};

use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::Choice;
use nextrung_domain::event::StoredEvent;
use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
use nextrung_domain::ladder::Ladder;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::profile::Clearance;
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft};
use nextrung_engine::clock::Clock;
use nextrung_engine::engine::Engine;
use nextrung_engine::fold::{Folded, Head};
use nextrung_engine::request::Request;
use nextrung_engine::set_log::SetLog;
use nextrung_prescribe::policy::Policy;
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use tempfile::TempDir;

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;
/// Days from day 0 to the today of a new world.
pub(crate) const TODAY: i32 = 800;

/// Day 0 is Monday 2024-01-01.
pub(crate) fn date(day: i32) -> CivilDate {
    CivilDate::from_parts(2024, 1, 1).expect("a date").plus_days(day)
}

/// Year, month and day as a draft has them.
pub(crate) fn parts(day: i32) -> (i64, i64, i64) {
    let (year, month, of_month) = date(day).parts();
    (year.into(), month.into(), of_month.into())
}

/// The ladders of `data/`, each file changed in some way.
pub(crate) fn catalog_with(change: impl Fn(String) -> String) -> Catalog {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    let read = |path: &Path| std::fs::read_to_string(path).expect("a readable data file");
    let abilities = read(&data.join("abilities.toml"));
    let mut ladders: Vec<(String, String)> = std::fs::read_dir(data.join("ladders"))
        .expect("data/ladders")
        .map(|entry| entry.expect("a directory entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| (path.display().to_string(), change(read(&path))))
        .collect();
    ladders.sort();
    let named: Vec<NamedText<'_>> = ladders.iter().map(|(name, text)| NamedText { name, text }).collect();
    load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &named).expect("sound ladders")
}

/// The real ladders with default parameters.
pub(crate) fn model() -> &'static Model {
    static MODEL: OnceLock<Model> = OnceLock::new();
    MODEL.get_or_init(|| Model::new(Arc::new(catalog_with(|text| text)), Parameters::default()))
}

/// A clock set by hand; every look at it is a millisecond later.
pub(crate) struct HandClock {
    day: AtomicI64,
    tick: AtomicI64,
}

impl HandClock {
    /// A clock that starts on that day.
    pub(crate) fn at(day: i32) -> Arc<Self> {
        Arc::new(Self { day: AtomicI64::new(day.into()), tick: AtomicI64::new(0) })
    }

    /// Makes it another day.
    pub(crate) fn set(&self, day: i32) {
        self.day.store(day.into(), Ordering::Relaxed);
    }
}

impl Clock for HandClock {
    fn now_ms(&self) -> i64 {
        let day = self.day.load(Ordering::Relaxed) + i64::from(date(0).day_number());
        day * DAY_MS + self.tick.fetch_add(1, Ordering::Relaxed) % DAY_MS
    }
}

/// A folder for a log, in memory where the machine has such a place: no test here is about the disk.
pub(crate) fn folder() -> TempDir {
    let memory = Path::new("/dev/shm");
    tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).expect("a folder")
}

/// Opens a world's log.
pub(crate) async fn open_store(folder: &Path) -> SqliteStore {
    SqliteStore::open(folder.join("log.sqlite"), SqliteOptions::default()).await.expect("a log")
}

/// A request; the same content gives the same fingerprint.
pub(crate) fn request(method: &'static str, id: &str, content: &impl Debug) -> Request {
    let text = format!("{method} {content:?}");
    let mut fingerprint = [0; 32];
    for (salt, part) in (0_u64..).zip(fingerprint.chunks_exact_mut(8)) {
        // FNV-1a, 64 bits (Fowler, Noll, Vo; public domain), from another start for each part.
        let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325 ^ salt, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        part.copy_from_slice(&hash.to_le_bytes());
    }
    Request { id: id.to_owned(), method, fingerprint }
}

/// The name of an athlete of the world's one roster.
pub(crate) fn named(athlete: &str) -> AthleteRef {
    let athlete = AthleteId::new(athlete).expect("a slug");
    AthleteRef { roster: RosterId::new("gym").expect("a slug"), athlete }
}

/// Everything that some rung or shading asks for.
fn equipment() -> Vec<String> {
    let of = |ladder: &Ladder| {
        let rungs = ladder.rungs.iter().flat_map(|rung| rung.equipment.clone());
        let shadings = ladder.shadings.iter().flat_map(|shading| shading.equipment.clone());
        rungs.chain(shadings).map(String::from).collect::<Vec<_>>()
    };
    let all: BTreeSet<String> = model().catalog.ladders().iter().flat_map(of).collect();
    all.into_iter().collect()
}

/// An athlete who has everything at hand and every clearance.
pub(crate) fn profile(goals: &[&str]) -> ProfileDraft {
    let cleared = |clearance| ConfirmationDraft {
        clearance: Choice::Known(clearance),
        confirmed_date: Some(parts(0)),
        confirmed_by: "coach".to_owned(),
    };
    ProfileDraft {
        display_name: "Wren".to_owned(),
        body_mass_kg: Some(68.5),
        goals: goals.iter().map(|goal| ((*goal).to_owned(), None)).collect(),
        equipment: equipment(),
        clearances: Clearance::ALL.map(cleared).to_vec(),
        ..ProfileDraft::default()
    }
}

/// Creates the roster and athletes with two goals.
pub(crate) async fn people(engine: &Engine<impl Store>, names: &[&str]) -> Vec<AthleteRef> {
    let roster = named("a").roster;
    let asked = request("CreateRoster", "roster", &roster);
    engine.create_roster(roster, ("Gym".to_owned(), None), &asked).await.expect("a roster");
    let mut all = Vec::new();
    for name in names {
        let draft = profile(&["pull/one-arm-pull-up", "press/free-press"]);
        let asked = request("CreateAthlete", &format!("athlete-{name}"), &draft);
        let made = engine.create_athlete(named(name), &draft, &asked).await.expect("an athlete");
        all.push(made.id);
    }
    all
}

/// An engine over a log in a folder of its own.
pub(crate) struct World {
    pub(crate) engine: Arc<Engine<SqliteStore>>,
    pub(crate) clock: Arc<HandClock>,
    heads: NonZeroUsize,
    folder: TempDir,
}

impl World {
    /// A world with one athlete.
    pub(crate) async fn with_wren() -> (Self, AthleteRef) {
        let world = Self::caching(64).await;
        let wren = people(&world.engine, &["wren"]).await.remove(0);
        (world, wren)
    }

    /// A world without anybody, whose engine keeps so many heads.
    pub(crate) async fn caching(heads: usize) -> Self {
        let (folder, clock) = (folder(), HandClock::at(TODAY));
        let heads = NonZeroUsize::new(heads).expect("at least one head");
        let engine = engine(open_store(folder.path()).await, clock.clone(), heads);
        Self { engine, clock, heads, folder }
    }

    /// Where the log is.
    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// The same log under a new engine.
    pub(crate) async fn restarted(self) -> Self {
        let Self { engine, clock, heads, folder } = self;
        engine.store().close().await.expect("a closed log");
        drop(engine);
        let engine = self::engine(open_store(folder.path()).await, clock.clone(), heads);
        Self { engine, clock, heads, folder }
    }
}

/// An engine on the real ladders.
pub(crate) fn engine<S: Store>(store: S, clock: Arc<HandClock>, heads: NonZeroUsize) -> Arc<Engine<S>> {
    Arc::new(Engine::new(store, model().clone(), Policy::default(), clock).caching(heads))
}

/// An athlete's events.
pub(crate) async fn events(engine: &Engine<impl Store>, athlete: &AthleteRef) -> Vec<StoredEvent> {
    engine.store().events(athlete, 0, None, u32::MAX).await.expect("a log")
}

/// A log read event by event.
pub(crate) fn log_of(events: Vec<StoredEvent>) -> SetLog {
    let mut log = SetLog::default();
    events.into_iter().for_each(|event| log.apply(event));
    log
}

/// The head folded from the stored log, past any cache.
pub(crate) async fn fresh(engine: &Engine<impl Store>, athlete: &AthleteRef) -> Head {
    Head::of(engine.model(), &log_of(events(engine, athlete).await)).expect("a profile")
}

/// Every float of a fold, bit by bit.
fn bits(folded: &Folded) -> Vec<u64> {
    let (near, far) = folded.state.chosen_counts;
    let blocks = folded.state.blocks.iter().flat_map(|block| {
        let floats = block.mean.iter().chain(block.covariance.packed()).chain([&block.work]);
        floats.map(|float| float.to_bits()).collect::<Vec<_>>()
    });
    blocks.chain([near.to_bits(), far.to_bits()]).collect()
}

/// What differs between two folds: nothing, when every bit is the same but for the sequences of sets.
pub(crate) fn difference(found: &Folded, wanted: &Folded) -> Option<String> {
    let place = |folded: &Folded| folded.last.map(|key| key.place);
    let is_same = found.state == wanted.state
        && bits(found) == bits(wanted)
        && found.history == wanted.history
        && place(found) == place(wanted);
    (!is_same).then(|| format!("found {found:#?}\nwanted {wanted:#?}"))
}

/// What differs between the head an engine answers from and the stored log folded afresh.
pub(crate) async fn staleness(engine: &Engine<impl Store>, athlete: &AthleteRef) -> Option<String> {
    let found = engine.head(athlete).await.expect("a head");
    let wanted = fresh(engine, athlete).await;
    let is_behind = found.position != wanted.position
        || found.profile != wanted.profile
        || found.folded.last != wanted.folded.last;
    if is_behind {
        return Some(format!("at {} of {}", found.position, wanted.position));
    }
    difference(&found.folded, &wanted.folded)
}
