//! Watch: tells what athletes are to train on a day, and again each time something written changes it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{AthleteRef, RosterId};
use nextrung_prescribe::influence::otherwise;
use nextrung_prescribe::prescription::Prescription;
use nextrung_store::error::StoreError;
use nextrung_store::record::RosterRecord;
use nextrung_store::store::Store;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::{RecvError, TryRecvError};
use tokio::time::Instant;

use crate::engine::Engine;
use crate::error::EngineError;
use crate::issued::Issued;
use crate::moves::Move;

/// How often a watcher of tomorrow looks whether it is another day.
const NEW_DAY: Duration = Duration::from_secs(60);
/// How often a watcher asks the store whether others who share it have written; they are heard that much later at most.
const OTHERS: Duration = Duration::from_secs(1);

/// Told to a watcher.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// What the athlete is to train; it is not kept.
    pub issued: Issued,
    /// What it asks for that the one told before did not, in a sentence; nothing the first time.
    pub change: Option<String>,
}

/// Somebody who watches what athletes are to train.
pub struct Watch<S> {
    engine: Arc<Engine<S>>,
    athletes: Vec<AthleteRef>,
    date: Option<CivilDate>,
    moves: Receiver<Move>,
    told: BTreeMap<AthleteRef, Prescription>,
    /// By which each athlete is told from another one of that name.
    origins: BTreeMap<AthleteRef, u64>,
    due: BTreeSet<AthleteRef>,
    /// The day looked at last.
    day: CivilDate,
    seen: Seen,
    asked: Instant,
}

/// What answers rested on when the store was asked last.
#[derive(Debug, Default, PartialEq)]
struct Seen {
    /// Where each athlete's log ended, in the order of the watch.
    positions: Vec<u64>,
    rosters: BTreeMap<RosterId, RosterRecord>,
}

impl<S: Store> Watch<S> {
    /// Watches athletes on a day, or always on the day after the engine's date. Fails when there is no such athlete, or on a
    /// day that nobody can be prescribed for.
    pub async fn begin(
        engine: Arc<Engine<S>>,
        athletes: Vec<AthleteRef>,
        date: Option<CivilDate>,
    ) -> Result<Self, EngineError> {
        let moves = engine.moves.watch();
        let day = date.unwrap_or_else(|| engine.today().plus_days(1));
        let mut origins = BTreeMap::new();
        for athlete in &athletes {
            let head = engine.head(athlete).await?;
            engine.check_day(day, &head.profile)?;
            origins.insert(athlete.clone(), head.origin);
        }
        let due = athletes.iter().cloned().collect();
        let (told, seen, asked) = (BTreeMap::new(), Seen::default(), Instant::now());
        let mut watch = Self { engine, athletes, date, moves, told, origins, due, day, seen, asked };
        watch.ask().await?;
        Ok(watch)
    }

    /// Takes note of a new day, whatever woke the watcher: then everybody is due.
    fn turn_day(&mut self) {
        let day = self.date.unwrap_or_else(|| self.engine.today().plus_days(1));
        if day != self.day {
            self.day = day;
            self.due.extend(self.athletes.iter().cloned());
        }
    }

    /// Waits for the next thing to tell: every athlete once, then whenever a prescription asks for something else. Whoever
    /// asks late is told how things stand by then, and not every step.
    pub async fn next(&mut self) -> Result<Told, EngineError> {
        loop {
            self.gather();
            self.turn_day();
            while let Some(athlete) = self.due.pop_first() {
                if let Some(told) = self.look(&athlete).await? {
                    return Ok(told);
                }
            }
            self.wait().await?;
        }
    }

    /// What there is to tell about an athlete now, if anything. Fails when the athlete was erased, even if another one has
    /// the name by now.
    async fn look(&mut self, athlete: &AthleteRef) -> Result<Option<Told>, EngineError> {
        let head = self.engine.head(athlete).await?;
        if self.origins.get(athlete) != Some(&head.origin) {
            return Err(StoreError::NotFound { what: "athlete", name: athlete.to_string() }.into());
        }
        let issued = self.engine.preview_from(athlete, &head, self.day).await?;
        let made = issued.prescription.clone();
        let change = match self.told.insert(athlete.clone(), made) {
            None => None,
            Some(before) => {
                let made = &issued.prescription;
                let moved = (before.date != made.date).then(|| format!("for {}", made.date));
                match otherwise(self.engine.catalog(), &before, made).or(moved) {
                    None => return Ok(None),
                    Some(change) => Some(format!("Now {change}.")),
                }
            }
        };
        Ok(Some(Told { issued, change }))
    }

    /// Takes in every move there is without waiting.
    fn gather(&mut self) {
        loop {
            match self.moves.try_recv() {
                Ok(moved) => self.note(&moved),
                Err(TryRecvError::Lagged(_)) => self.due.extend(self.athletes.iter().cloned()),
                Err(TryRecvError::Empty | TryRecvError::Closed) => return,
            }
        }
    }

    /// Waits for a move, or for the time to look whether it is another day or others have written.
    async fn wait(&mut self) -> Result<(), EngineError> {
        let is_shared = self.engine.store.is_shared();
        let patience = if is_shared { OTHERS.saturating_sub(self.asked.elapsed()) } else { NEW_DAY };
        if patience.is_zero() {
            // However much is written here, others are asked after.
            return self.ask().await;
        }
        match tokio::time::timeout(patience, self.moves.recv()).await {
            Ok(Ok(moved)) => self.note(&moved),
            Err(_) if is_shared => self.ask().await?,
            Ok(Err(RecvError::Lagged(_))) | Err(_) => self.due.extend(self.athletes.iter().cloned()),
            // The engine is held here, so that its moves do not end before this does.
            Ok(Err(RecvError::Closed)) => {}
        }
        Ok(())
    }

    /// Asks the store what others who share it have written since it was asked last; what it touches is due.
    async fn ask(&mut self) -> Result<(), EngineError> {
        if !self.engine.store.is_shared() {
            return Ok(());
        }
        self.asked = Instant::now();
        let positions = self.engine.store.positions(&self.athletes).await?;
        let mut rosters = BTreeMap::new();
        for athlete in &self.athletes {
            if !rosters.contains_key(&athlete.roster) {
                let record = self.engine.store.roster(&athlete.roster).await?;
                rosters.insert(record.id.clone(), record);
            }
        }
        for (at, athlete) in self.athletes.iter().enumerate() {
            let is_same = self.seen.positions.get(at) == positions.get(at)
                && self.seen.rosters.get(&athlete.roster) == rosters.get(&athlete.roster);
            if !is_same {
                self.due.insert(athlete.clone());
            }
        }
        self.seen = Seen { positions, rosters };
        Ok(())
    }

    fn note(&mut self, moved: &Move) {
        self.due.extend(self.athletes.iter().filter(|athlete| moved.touches(athlete)).cloned());
    }
}
