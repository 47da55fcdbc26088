//! Operation lists: everything a client can do, in any order, against a plain model of what the log then holds.

use std::collections::BTreeMap;
use std::sync::Mutex;

use nextrung_domain::draft::{SetDraft, Setting};
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_domain::profile::Profile;
use nextrung_engine::error::EngineError;
use nextrung_engine::issued::Issued;
use nextrung_engine::record::{Recorded, SetQuery};
use nextrung_engine::request::Request;
use nextrung_engine::set_log::{LoggedSet, SetStatus};
use nextrung_engine::why::Why;
use nextrung_store::error::StoreError;
use nextrung_store::page::Page;
use nextrung_store::record::Days;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};

use crate::spec::{Spec, WHATS, key};
use crate::world::{World, date, model, named, people, request, staleness};

/// Operation lists.
const LISTS: u32 = 160;
/// Keys that the sets of a list have.
const KEYS: u16 = 10;

/// One thing a client does. Numbers that name an earlier request or prescription wrap around.
#[derive(Debug, Clone)]
pub(crate) enum Operation {
    /// Records a batch.
    Record(Vec<Spec>),
    /// Sends an earlier request again.
    Repeat(usize),
    /// Sends an earlier request again with other content.
    Reuse(usize),
    /// Records the batch of an earlier request again, as a new request.
    SameSets(usize),
    /// Replaces a set.
    Correct(Spec),
    /// Takes a set out.
    Withdraw(u16),
    /// Asks for a day's prescription.
    Prescribe(i32),
    /// Asks why.
    Why(usize),
    /// Starts the service anew.
    Restart,
    /// Lets another athlete's head push this one's out of the cache.
    Forget,
}

/// A write to the log.
#[derive(Debug, Clone)]
enum Write {
    Record(Vec<Spec>),
    Correct(Spec),
    Withdraw(u16),
}

/// How often something happened, over all lists: a list that does nothing proves nothing.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Tally {
    kept: usize,
    refused: usize,
    repeated: usize,
    reused: usize,
    explained: usize,
    restarted: usize,
}

impl Tally {
    fn add(&mut self, more: Self) {
        self.kept += more.kept;
        self.refused += more.refused;
        self.repeated += more.repeated;
        self.reused += more.reused;
        self.explained += more.explained;
        self.restarted += more.restarted;
    }
}

/// A request that was sent, and its answer when the log keeps it.
struct Sent {
    id: String,
    write: Write,
    answer: Option<Recorded>,
}

/// What a list of operations should come to.
struct Simulation {
    world: World,
    wren: AthleteRef,
    profile: Profile,
    sets: BTreeMap<u16, LoggedSet>,
    position: u64,
    sent: Vec<Sent>,
    issued: Vec<(Issued, Option<Why>)>,
    tally: Tally,
}

fn spec() -> impl Strategy<Value = Spec> {
    let days = prop_oneof![600..604_i32, 560..790_i32];
    (0..KEYS, days, 1..3_u8, 1..4_u8, 0..WHATS, 0..13_u8)
        .prop_map(|(key, day, session, number, what, done)| Spec { key, day, session, number, what, done })
}

fn operation() -> impl Strategy<Value = Operation> {
    prop_oneof![
        6 => prop::collection::vec(spec(), 1..5).prop_map(Operation::Record),
        2 => (0..99_usize).prop_map(Operation::Repeat),
        1 => (0..99_usize).prop_map(Operation::Reuse),
        1 => (0..99_usize).prop_map(Operation::SameSets),
        4 => spec().prop_map(Operation::Correct),
        2 => (0..KEYS).prop_map(Operation::Withdraw),
        2 => (590..830_i32).prop_map(Operation::Prescribe),
        2 => (0..99_usize).prop_map(Operation::Why),
        1 => Just(Operation::Restart),
        1 => Just(Operation::Forget),
    ]
}

fn same<T: std::fmt::Debug + PartialEq>(what: &str, found: &T, wanted: &T) -> Result<(), String> {
    if found == wanted { Ok(()) } else { Err(format!("{what}: found {found:#?}\nwanted {wanted:#?}")) }
}

/// What a write should answer: the sets and the position, or an error by what it says.
type Answer = Result<(Vec<LoggedSet>, u64), String>;

impl Simulation {
    async fn new() -> Self {
        let world = World::caching(1).await;
        let wren = people(&world.engine, &["wren", "other"]).await.remove(0);
        let profile = world.engine.athlete(&wren).await.expect("an athlete").profile;
        Self {
            world,
            wren,
            profile,
            sets: BTreeMap::new(),
            position: 1,
            sent: Vec::new(),
            issued: Vec::new(),
            tally: Tally::default(),
        }
    }

    fn entry(&self, spec: Spec) -> nextrung_domain::set::SetEntry {
        let setting = Setting { catalog: &model().catalog, profile: &self.profile, today: date(800) };
        spec.draft().check(&setting).unwrap_or_else(|bad| panic!("{spec:?}: {bad:?}"))
    }

    /// The answer the model expects, and its sets changed accordingly.
    fn expect(&mut self, write: &Write) -> Answer {
        match write {
            Write::Record(specs) => self.expect_record(specs),
            Write::Correct(spec) => {
                let logged = self.changeable(spec.key)?;
                logged.status = SetStatus::Corrected { reason: "misread".to_owned() };
                let set = self.entry(*spec);
                let logged = self.changeable(spec.key)?;
                logged.set = set;
                let answer = vec![logged.clone()];
                self.position += 1;
                Ok((answer, self.position))
            }
            Write::Withdraw(key) => {
                let logged = self.changeable(*key)?;
                logged.status = SetStatus::Withdrawn { reason: "not mine".to_owned() };
                let answer = vec![logged.clone()];
                self.position += 1;
                Ok((answer, self.position))
            }
        }
    }

    fn changeable(&mut self, number: u16) -> Result<&mut LoggedSet, String> {
        let name = format!("{}/sets/{}", self.wren, key(number));
        match self.sets.get_mut(&number) {
            None => Err(EngineError::SetNotFound { name }.to_string()),
            Some(set) if !set.counts() => Err(EngineError::SetWithdrawn { name }.to_string()),
            Some(set) => Ok(set),
        }
    }

    fn expect_record(&mut self, specs: &[Spec]) -> Answer {
        let again = |at: usize| specs[..at].iter().any(|earlier| earlier.key == specs[at].key);
        let doubled = (0..specs.len()).filter(|at| again(*at)).count();
        if doubled > 0 {
            return Err(format!("bad {doubled}"));
        }
        let is_other = |spec: &&Spec| self.sets.get(&spec.key).is_some_and(|s| s.set != self.entry(**spec));
        let other: Vec<ClientSetId> = specs.iter().filter(is_other).map(|spec| id_of(spec.key)).collect();
        if !other.is_empty() {
            return Err(EngineError::SetReused { ids: other }.to_string());
        }
        for spec in specs {
            if !self.sets.contains_key(&spec.key) {
                self.position += 1;
                let set = self.entry(*spec);
                let first_sequence = self.position;
                let logged = LoggedSet { set, first_sequence, arrived_at_ms: 0, status: SetStatus::Active };
                self.sets.insert(spec.key, logged);
            }
        }
        Ok((specs.iter().map(|spec| self.sets[&spec.key].clone()).collect(), self.position))
    }

    async fn send(&self, id: &str, write: &Write) -> Result<Recorded, EngineError> {
        let (engine, wren) = (&self.world.engine, &self.wren);
        match write {
            Write::Record(specs) => {
                let drafts: Vec<SetDraft> = specs.iter().map(|spec| spec.draft()).collect();
                engine.record_sets(wren, &drafts, &request("RecordSets", id, write), false).await
            }
            Write::Correct(spec) => {
                let asked = request("CorrectSet", id, write);
                engine.correct_set(wren, &id_of(spec.key), (&spec.draft(), "misread"), &asked).await
            }
            Write::Withdraw(number) => {
                let asked = request("WithdrawSet", id, write);
                engine.withdraw_set(wren, &id_of(*number), "not mine", &asked).await
            }
        }
    }

    /// Sends a write and holds its answer against the model's.
    async fn write(&mut self, id: String, write: Write) -> Result<(), String> {
        let before = self.position;
        let wanted = self.expect(&write);
        let found = self.send(&id, &write).await;
        match (&found, &wanted) {
            (Ok(found), Ok((sets, position))) => {
                same("position", &found.position, position)?;
                same("answered sets", &plain(&found.sets), &plain(sets))?;
            }
            (Err(EngineError::BadFields { problems }), Err(text)) => {
                same("problems", &format!("bad {}", problems.len()), text)?;
            }
            (Err(error), Err(text)) => same("error", &error.to_string(), text)?,
            (found, wanted) => return Err(format!("{write:?}: found {found:?}\nwanted {wanted:?}")),
        }
        self.tally.refused += usize::from(found.is_err());
        let answer = found.ok().filter(|_| self.position > before);
        self.tally.kept += usize::from(answer.is_some());
        self.sent.push(Sent { id, write, answer });
        Ok(())
    }

    async fn repeat(&mut self, number: usize) -> Result<(), String> {
        let Some(sent) = self.sent.get(number % self.sent.len().max(1)) else { return Ok(()) };
        let (id, write) = (sent.id.clone(), sent.write.clone());
        match &sent.answer {
            None => self.write(id, write).await,
            Some(answer) => {
                self.tally.repeated += 1;
                let found = self.send(&id, &write).await.map_err(|error| format!("repeat: {error}"))?;
                same("the repeat's answer", &found, answer)
            }
        }
    }

    async fn reuse(&mut self, number: usize) -> Result<(), String> {
        let Some(sent) = self.sent.get(number % self.sent.len().max(1)) else { return Ok(()) };
        if sent.answer.is_none() {
            return Ok(());
        }
        let other = match &sent.write {
            Write::Record(_) => {
                Write::Record(vec![Spec { key: 77, day: 700, session: 1, number: 1, what: 0, done: 1 }])
            }
            Write::Correct(spec) => Write::Correct(Spec { done: spec.done + 1, ..*spec }),
            Write::Withdraw(key) => Write::Withdraw(key + 1),
        };
        self.tally.reused += 1;
        let sent = &self.sent[number % self.sent.len()];
        match self.send(&sent.id, &other).await {
            Err(EngineError::Store(StoreError::RequestReused { request_id })) => {
                same("request id", &request_id, &sent.id)
            }
            found => Err(format!("{other:?} under a used request id: {found:?}")),
        }
    }

    async fn prescribe(&mut self, day: i32) -> Result<(), String> {
        let asked = request("Prescribe", &format!("p{}", self.issued.len()), &day);
        let engine = &self.world.engine;
        let made = async |asked: &Request| {
            engine
                .prescribe(&self.wren, date(day), asked)
                .await
                .map_err(|error| format!("prescribe: {error}"))
        };
        let issued = made(&asked).await?;
        same("the repeated prescription", &made(&asked).await?, &issued)?;
        same("log position", &issued.log_position, &self.position)?;
        if self.issued.iter().any(|(earlier, _)| earlier.id == issued.id) {
            return Err(format!("{:?} was issued twice", issued.id));
        }
        self.issued.push((issued, None));
        Ok(())
    }

    async fn why(&mut self, number: usize) -> Result<(), String> {
        let number = number % self.issued.len().max(1);
        let Some((issued, before)) = self.issued.get_mut(number) else { return Ok(()) };
        let id = issued.id.as_ref().expect("an id");
        let why = self.world.engine.why(&self.wren, id).await.map_err(|error| format!("why: {error}"))?;
        same("the prescription explained", &why.issued, issued)?;
        same("the prescription made again", &why.explanation.prescription, &issued.prescription)?;
        if let Some(before) = before {
            same("the explanation", &why.explanation, &before.explanation)?;
            same("what was known", &why.known, &before.known)?;
        }
        *before = Some(why);
        self.tally.explained += 1;
        Ok(())
    }

    async fn take(&mut self, operation: &Operation) -> Result<(), String> {
        let id = format!("r{}", self.sent.len());
        match operation {
            Operation::Record(specs) => self.write(id, Write::Record(specs.clone())).await,
            Operation::Repeat(number) => self.repeat(*number).await,
            Operation::Reuse(number) => self.reuse(*number).await,
            Operation::SameSets(number) => {
                let earlier = self.sent.get(number % self.sent.len().max(1)).map(|sent| sent.write.clone());
                match earlier {
                    Some(write @ Write::Record(_)) => self.write(id, write).await,
                    Some(Write::Correct(_) | Write::Withdraw(_)) | None => Ok(()),
                }
            }
            Operation::Correct(spec) => self.write(id, Write::Correct(*spec)).await,
            Operation::Withdraw(key) => self.write(id, Write::Withdraw(*key)).await,
            Operation::Prescribe(day) => self.prescribe(*day).await,
            Operation::Why(number) => self.why(*number).await,
            Operation::Restart | Operation::Forget => Ok(()),
        }
    }

    /// Holds what is listed and what is cached against the model and the log.
    async fn check(&self) -> Result<(), String> {
        let mut wanted: Vec<LoggedSet> = self.sets.values().cloned().collect();
        wanted.sort_by_key(LoggedSet::order_key);
        let mut query = SetQuery { from: None, to: None, with_withdrawn: true, after: None, size: 3 };
        let mut found = Vec::new();
        loop {
            let page = self.world.engine.list_sets(&self.wren, &query).await;
            let (sets, next, position) = page.map_err(|error| format!("list: {error}"))?;
            same("listed position", &position, &self.position)?;
            found.extend(sets);
            query.after = next;
            if next.is_none() {
                break;
            }
        }
        same("listed sets", &plain(&found), &plain(&wanted))?;
        staleness(&self.world.engine, &self.wren).await.map_or(Ok(()), Err)
    }

    async fn check_issued(&self) -> Result<(), String> {
        let page = Page::first(1000);
        let kept = self.world.engine.prescriptions(&self.wren, Days::default(), &page).await;
        let mut kept = kept.map_err(|error| format!("prescriptions: {error}"))?.items;
        let mut wanted: Vec<Issued> = self.issued.iter().map(|(issued, _)| issued.clone()).collect();
        let by_id = |a: &Issued, b: &Issued| a.id.cmp(&b.id);
        kept.sort_by(by_id);
        wanted.sort_by(by_id);
        same("kept prescriptions", &kept, &wanted)
    }
}

fn id_of(number: u16) -> ClientSetId {
    ClientSetId::new(&key(number)).expect("a key")
}

/// Sets without their arrival, which the model does not know.
fn plain(sets: &[LoggedSet]) -> Vec<LoggedSet> {
    sets.iter().map(|set| LoggedSet { arrived_at_ms: 0, ..set.clone() }).collect()
}

/// Does the operations one after another. Fails at the first thing that differs from the model.
pub(crate) async fn simulate(operations: &[Operation]) -> Result<Tally, String> {
    let mut simulation = Simulation::new().await;
    for (number, operation) in operations.iter().enumerate() {
        match operation {
            Operation::Restart => {
                simulation.world = simulation.world.restarted().await;
                simulation.tally.restarted += 1;
            }
            Operation::Forget => drop(simulation.world.engine.head(&named("other")).await.expect("a head")),
            Operation::Record(_)
            | Operation::Repeat(_)
            | Operation::Reuse(_)
            | Operation::SameSets(_)
            | Operation::Correct(_)
            | Operation::Withdraw(_)
            | Operation::Prescribe(_)
            | Operation::Why(_) => {}
        }
        let place = |problem: String| format!("operation {number}, {operation:?}: {problem}");
        simulation.take(operation).await.map_err(place)?;
        simulation.check().await.map_err(place)?;
    }
    for number in 0..simulation.issued.len() {
        simulation.why(number).await?;
    }
    simulation.check_issued().await?;
    Ok(simulation.tally)
}

#[test]
fn any_list_of_operations_comes_to_what_the_plain_model_says() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build();
    let runtime = runtime.expect("a runtime");
    let config = Config { cases: LISTS, failure_persistence: None, ..Config::default() };
    let lists = prop::collection::vec(operation(), 1..30);
    let mut runner = TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha));
    let all = Mutex::new(Tally::default());
    let run = |list: Vec<Operation>| {
        let tally = runtime.block_on(simulate(&list)).map_err(TestCaseError::fail)?;
        all.lock().expect("no panic before").add(tally);
        Ok(())
    };
    if let Err(failure) = runner.run(&lists, run) {
        panic!("{failure}");
    }
    let Tally { kept, refused, repeated, reused, explained, restarted } =
        *all.lock().expect("no panic before");
    let counts = [kept, refused, repeated, reused, explained, restarted];
    assert!(counts.iter().all(|count| *count >= 25), "{counts:?}");
}
