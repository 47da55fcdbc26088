//! Watch: tells what athletes are to train on a day, and again each time something written changes it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_prescribe::influence::otherwise;
use nextrung_prescribe::prescription::Prescription;
use nextrung_store::store::Store;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::{RecvError, TryRecvError};

use crate::engine::Engine;
use crate::error::EngineError;
use crate::issued::Issued;
use crate::moves::Move;

/// How often a watcher of tomorrow looks whether it is another day.
const NEW_DAY: Duration = Duration::from_secs(60);

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
    due: BTreeSet<AthleteRef>,
    /// The day looked at last.
    day: CivilDate,
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
        for athlete in &athletes {
            let head = engine.head(athlete).await?;
            engine.check_day(day, &head.profile)?;
        }
        let due = athletes.iter().cloned().collect();
        Ok(Self { engine, athletes, date, moves, told: BTreeMap::new(), due, day })
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
            self.wait().await;
        }
    }

    /// What there is to tell about an athlete now, if anything.
    async fn look(&mut self, athlete: &AthleteRef) -> Result<Option<Told>, EngineError> {
        let issued = self.engine.preview(athlete, self.day).await?;
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

    /// Waits for a move, or for the time to look whether it is another day.
    async fn wait(&mut self) {
        match tokio::time::timeout(NEW_DAY, self.moves.recv()).await {
            Ok(Ok(moved)) => self.note(&moved),
            Ok(Err(RecvError::Lagged(_))) | Err(_) => self.due.extend(self.athletes.iter().cloned()),
            // The engine is held here, so that its moves do not end before this does.
            Ok(Err(RecvError::Closed)) => {}
        }
    }

    fn note(&mut self, moved: &Move) {
        self.due.extend(self.athletes.iter().filter(|athlete| moved.touches(athlete)).cloned());
    }
}
