//! Load: clients that record, correct, withdraw and ask, and send again what was not answered.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_prescribe::dice::Dice;
use tokio::task::JoinSet;
use tonic::transport::Channel;

use crate::call::{self, athlete, is_passing};
use crate::ledger::{Answer, Ledger, Sent, Wish};
use crate::served::{Fleet, connect};

/// Longest wait for one more answer.
const PATIENCE: Duration = Duration::from_secs(120);
/// Wait before a service that is down is looked for again.
const PAUSE: Duration = Duration::from_millis(3);
/// The last day of training.
pub(crate) const LAST_DAY: v1::Date = v1::Date { year: 2026, month: 3, day: 10 };
/// Rungs that are counted in repetitions.
const RUNGS: [&str; 3] = ["foot-supported", "one-foot-supported", "pull-up"];

/// What clients do.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Load {
    pub(crate) clients: usize,
    pub(crate) athletes: usize,
    /// Chance that a request is about the first athlete.
    pub(crate) crowd: f64,
    /// Chance that a client does not send again what may or may not have been done.
    pub(crate) gives_up: f64,
    /// Longest that a client waits before it goes away; what it waits is drawn anew each time.
    pub(crate) patience: Option<Duration>,
    /// How often each request is sent at once, through services drawn for each.
    pub(crate) copies: usize,
    /// Chance that an old request is sent again after newer ones.
    pub(crate) echoes: f64,
    /// Further reasons of refusals after which a request is sent again.
    pub(crate) passing: &'static [&'static str],
    /// Nothing is corrected, withdrawn or asked for.
    pub(crate) only_records: bool,
}

impl Default for Load {
    fn default() -> Self {
        Self {
            clients: 16,
            athletes: 12,
            crowd: 0.4,
            gives_up: 0.1,
            patience: None,
            copies: 1,
            echoes: 0.0,
            passing: &[],
            only_records: false,
        }
    }
}

/// Clients at work.
pub(crate) struct Clients {
    run: Arc<Run>,
    tasks: JoinSet<Result<(), String>>,
}

struct Run {
    fleet: Arc<Fleet>,
    ledger: Arc<Ledger>,
    load: Load,
    /// No further requests; those sent are sent again until they are answered.
    is_over: AtomicBool,
    /// Nothing is sent again either.
    is_given_up: AtomicBool,
    cut: AtomicUsize,
    tries: AtomicUsize,
}

/// How often calls were made and cut short.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tries {
    pub(crate) made: usize,
    pub(crate) cut: usize,
}

impl Clients {
    /// Creates the athletes, and starts clients whose requests are named after `phase`.
    pub(crate) async fn start(fleet: &Arc<Fleet>, ledger: &Arc<Ledger>, load: Load, phase: &str) -> Self {
        call::create(fleet.channel(0).await, load.athletes).await.expect("roster and athletes");
        ledger.made();
        Self::go_on(fleet, ledger, load, phase)
    }

    /// Starts clients about athletes that are there.
    pub(crate) fn go_on(fleet: &Arc<Fleet>, ledger: &Arc<Ledger>, load: Load, phase: &str) -> Self {
        let run = Arc::new(Run {
            fleet: Arc::clone(fleet),
            ledger: Arc::clone(ledger),
            load,
            is_over: AtomicBool::new(false),
            is_given_up: AtomicBool::new(false),
            cut: AtomicUsize::new(0),
            tries: AtomicUsize::new(0),
        });
        let mut tasks = JoinSet::new();
        for number in 0..load.clients {
            tasks.spawn(Client::new(&run, number, phase).work());
        }
        Self { run, tasks }
    }

    /// Waits until `more` further requests are answered. Fails when a client found something wrong.
    pub(crate) async fn answered(&mut self, more: usize) {
        self.counted("answers", more, |run| run.ledger.count()).await;
    }

    /// Waits until clients have sent `more` further calls, whatever came of them.
    pub(crate) async fn tried(&mut self, more: usize) {
        self.counted("calls", more, |run| run.tries.load(Ordering::Relaxed)).await;
    }

    /// Waits until `more` further calls are cut short.
    pub(crate) async fn cut(&mut self, more: usize) {
        self.counted("calls cut short", more, |run| run.cut.load(Ordering::Relaxed)).await;
    }

    /// Waits until a count has grown by `more`, as long as it grows at all.
    async fn counted(&mut self, what: &str, more: usize, count: impl Fn(&Run) -> usize) {
        let run = Arc::clone(&self.run);
        let (start, mut seen) = (count(&run), 0);
        while seen < more {
            let last = seen;
            self.until(&format!("there are more {what}"), || count(&run) > start + last).await;
            seen = count(&run) - start;
        }
    }

    /// Waits until something holds.
    pub(crate) async fn until(&mut self, what: &str, holds: impl Fn() -> bool) {
        let deadline = Instant::now() + PATIENCE;
        while !holds() {
            self.look();
            assert!(Instant::now() < deadline, "waited in vain until {what}\n{}", self.run.fleet.log(0));
            tokio::time::sleep(PAUSE).await;
        }
    }

    /// Fails when a client has ended: it found something wrong.
    fn look(&mut self) {
        if let Some(ended) = self.tasks.try_join_next() {
            panic!("a client ended: {:?}\n{}", ended.expect("a client"), self.run.fleet.log(0));
        }
    }

    /// Lets every client finish what it began, sent again as often as it takes.
    pub(crate) async fn finish(self) -> Tries {
        self.run.is_over.store(true, Ordering::Relaxed);
        self.join().await
    }

    /// Ends the clients; what was not answered stays open.
    pub(crate) async fn abandon(self) -> Tries {
        self.run.is_given_up.store(true, Ordering::Relaxed);
        self.run.is_over.store(true, Ordering::Relaxed);
        self.join().await
    }

    async fn join(mut self) -> Tries {
        while let Some(ended) = self.tasks.join_next().await {
            let said = ended.expect("a client");
            assert!(said.is_ok(), "{said:?}\n{}", self.run.fleet.log(0));
        }
        Tries { made: self.run.tries.load(Ordering::Relaxed), cut: self.run.cut.load(Ordering::Relaxed) }
    }
}

/// How one try ended.
enum Try {
    Answered(Answer),
    /// It may or may not have been done.
    Open,
}

struct Client {
    run: Arc<Run>,
    dice: Dice,
    name: String,
    count: usize,
    channels: BTreeMap<SocketAddr, Channel>,
    /// Sets of its own that count, by athlete.
    own: Vec<(String, v1::LoggedSet)>,
    /// Requests of its own that were answered.
    done: Vec<usize>,
}

impl Client {
    fn new(run: &Arc<Run>, number: usize, phase: &str) -> Self {
        let stream = phase.bytes().fold(u64::try_from(number).expect("few clients"), |hash, byte| {
            hash.wrapping_mul(131).wrapping_add(u64::from(byte))
        });
        let dice = Dice::new(crate::scale::seed(), stream);
        let (run, name) = (Arc::clone(run), format!("{phase}{number}"));
        Self { run, dice, name, count: 0, channels: BTreeMap::new(), own: Vec::new(), done: Vec::new() }
    }

    async fn work(mut self) -> Result<(), String> {
        while !self.run.is_over.load(Ordering::Relaxed) {
            self.count += 1;
            let (whose, wish) = self.wish();
            let request_id = format!("{}-{}", self.name, self.count);
            let number = self.run.ledger.begin(&whose, request_id, wish);
            self.insist(number).await?;
            if let Some(old) = self.dice.pick(&self.done).copied()
                && self.dice.chance(self.run.load.echoes)
            {
                self.insist(old).await?;
            }
        }
        Ok(())
    }

    /// Sends a request until it is answered, or given up.
    async fn insist(&mut self, number: usize) -> Result<(), String> {
        let sent = self.run.ledger.sent(number);
        let gives_up = sent.answered.is_none() && self.dice.chance(self.run.load.gives_up);
        loop {
            match self.attempt(&sent).await? {
                Try::Answered(answer) => {
                    if !self.run.ledger.answered(number, answer) {
                        return Err(format!("request {} was answered otherwise before", sent.request_id));
                    }
                    if sent.answered.is_none() {
                        self.remember(number, &sent);
                    }
                    return Ok(());
                }
                Try::Open if gives_up || self.run.is_given_up.load(Ordering::Relaxed) => return Ok(()),
                Try::Open => {}
            }
        }
    }

    fn remember(&mut self, number: usize, sent: &Sent) {
        self.done.push(number);
        match &sent.wish {
            Wish::Record(sets) => {
                self.own.extend(sets.iter().map(|set| (sent.athlete.clone(), set.clone())));
            }
            Wish::Correct(set) => self.own.push((sent.athlete.clone(), (**set).clone())),
            Wish::Withdraw(_) | Wish::Prescribe(_) => {}
        }
    }

    /// Sends a request, once through each of as many services as it wants copies.
    async fn attempt(&mut self, sent: &Sent) -> Result<Try, String> {
        let mut calls = JoinSet::new();
        for _ in 0..self.run.load.copies {
            let service = self.dice.below(self.run.fleet.size());
            if let Some(channel) = self.channel(service).await {
                let sent = sent.clone();
                self.run.tries.fetch_add(1, Ordering::Relaxed);
                calls.spawn(async move { call::send(channel, &sent).await });
            }
        }
        if calls.is_empty() {
            tokio::time::sleep(PAUSE).await;
            return Ok(Try::Open);
        }
        let patience = self.run.load.patience.map(|most| most.mul_f64(self.dice.unit()));
        let joined = calls.join_all();
        let Ok(ended) = tokio::time::timeout(patience.unwrap_or(PATIENCE), joined).await else {
            self.run.cut.fetch_add(1, Ordering::Relaxed);
            // Half of those who go away take their connection with them.
            if self.dice.chance(0.5) {
                self.channels.clear();
            }
            return Ok(Try::Open);
        };
        let mut answer = None;
        for one in ended {
            match one {
                Ok(one) if answer.as_ref().is_some_and(|first| *first != one) => {
                    return Err(format!("request {} got two answers at once", sent.request_id));
                }
                Ok(one) => answer = Some(one),
                Err(status) if is_passing(&status, self.run.load.passing) => {}
                Err(status) => return Err(format!("{sent:?} was refused: {status:?}")),
            }
        }
        if answer.is_none() {
            tokio::time::sleep(PAUSE).await;
        }
        Ok(answer.map_or(Try::Open, Try::Answered))
    }

    /// A connection to a service; nothing while it is down.
    async fn channel(&mut self, service: usize) -> Option<Channel> {
        let address = self.run.fleet.address(service)?;
        Some(match self.channels.entry(address) {
            Entry::Occupied(open) => open.get().clone(),
            Entry::Vacant(place) => place.insert(connect(address).await.ok()?).clone(),
        })
    }

    /// What to ask for next, and about whom.
    fn wish(&mut self) -> (String, Wish) {
        let others = self.run.load.athletes - 1;
        let is_first = others == 0 || self.dice.chance(self.run.load.crowd);
        let whose = athlete(if is_first { 0 } else { 1 + self.dice.below(others) });
        let what = if self.run.load.only_records { 20 } else { self.dice.below(20) };
        if what == 0 {
            return (whose, Wish::Prescribe(LAST_DAY));
        }
        if what < 4 && !self.own.is_empty() {
            let place = self.dice.below(self.own.len());
            let (whose, before) = self.own.swap_remove(place);
            if what == 1 {
                return (whose, Wish::Withdraw(before.client_set_id));
            }
            return (whose, Wish::Correct(Box::new(set(&mut self.dice, before.client_set_id))));
        }
        let ids = (0..=self.dice.below(3)).map(|place| format!("{}-{}-{place}", self.name, self.count));
        let sets = ids.map(|id| set(&mut self.dice, id)).collect();
        (whose, Wish::Record(sets))
    }
}

/// A set of any content, trained within the ten days up to [`LAST_DAY`].
fn set(dice: &mut Dice, id: String) -> v1::LoggedSet {
    let rung = *dice.pick(&RUNGS).expect("a rung");
    let mut small = |most: usize| i32::try_from(dice.below(most)).expect("a small number");
    v1::LoggedSet {
        client_set_id: id,
        training_date: Some(v1::Date { day: LAST_DAY.day - small(9), ..LAST_DAY }),
        set_number: 1 + small(20),
        rung: format!("ladders/pull/rungs/{rung}"),
        purpose: v1::Purpose::Working.into(),
        done: Some(Done::Reps(small(8))),
        stop: v1::Stop::Strength.into(),
        note: small(1_000_000).to_string(),
        ..v1::LoggedSet::default()
    }
}

/// A request for one set of any of the first athletes, outside of any ledger.
pub(crate) fn record(dice: &mut Dice, number: usize, athletes: usize) -> Sent {
    Sent {
        athlete: athlete(dice.below(athletes)),
        request_id: format!("r{number}"),
        wish: Wish::Record(vec![set(dice, format!("s{number}"))]),
        begun: 0,
        answered: None,
    }
}
