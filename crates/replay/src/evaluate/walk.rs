//! Walk: one athlete's log in the order of its arrival, each set foretold from what was known when it arrived.
//!
//! A set is foretold from the sets that had arrived before it and come before it in training order. The advice for a day is
//! made when the day's first set arrives, from what had arrived by then and was trained before the day. What is scored of a
//! set that was corrected later is its last content; what is learned from it at the time is what was told at the time.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use nextrung_domain::date::CivilDate;
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::ClientSetId;
use nextrung_domain::profile::Profile;
use nextrung_domain::set::SetEntry;
use nextrung_prescribe::policy::Policy;

use crate::advice::agreement;
use crate::advice::{Advised, Advisers, Moment};
use crate::athlete_log::AthleteLog;
use crate::dice::Dice;
use crate::evaluate::entry::{Entry, is_import};
use crate::evaluate::outcome::Outcome;
use crate::evaluate::panel::{Bench, Panel};
use crate::evaluate::part::{AthletePart, Group, Note, Part};
use crate::evaluate::selection::{Exclusion, Selection};
use crate::evaluate::set_score::{SetScore, score};
use crate::evaluate::tally::Sums;
use crate::evaluate::timeline::{Fold, Timeline};
use crate::forecaster::foretold::Foretold;
use crate::forecaster::oracle::Truths;
use crate::score::ScoreError;
use crate::score::ending::Endings;

/// What every walk of a replay shares.
#[derive(Debug, Clone)]
pub struct Course {
    /// Who foretells.
    pub bench: Bench,
    /// The rules by which bands are read.
    pub policy: Policy,
    /// Whose advice is held against the log; the history is kept only when there is one.
    pub advisers: Advisers,
    /// Which sets are scored.
    pub selection: Selection,
    /// Day of the first arrival of all, days since 1970-01-01.
    pub first_day: i64,
    /// Breaks ties of ranks.
    pub seed: u64,
}

/// One prediction, for whoever keeps them one by one.
pub struct Predicted<'a> {
    /// The athlete.
    pub athlete: &'a str,
    /// The set, as it stands in the end.
    pub entry: &'a Entry,
    /// The forecaster's place.
    pub forecaster: usize,
    /// What was foretold.
    pub endings: &'a Endings<3>,
    /// How good it was.
    pub score: &'a SetScore,
}

/// Whoever keeps predictions one by one.
pub type Keep<'k> = dyn FnMut(&Predicted<'_>) + 'k;

/// A prediction that cannot be scored: a fault of the forecaster.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{forecaster} foretold the set {set} of {athlete} wrongly: {source}")]
pub struct WalkError {
    /// The athlete.
    pub athlete: String,
    /// The set.
    pub set: ClientSetId,
    /// Who.
    pub forecaster: &'static str,
    /// What is wrong.
    #[source]
    pub source: ScoreError,
}

/// What is known at the end about each set.
struct Fates<'l> {
    last: BTreeMap<&'l ClientSetId, &'l SetEntry>,
    withdrawn: BTreeSet<&'l ClientSetId>,
}

impl<'l> Fates<'l> {
    fn of(log: &'l AthleteLog) -> Self {
        let mut fates = Self { last: BTreeMap::new(), withdrawn: BTreeSet::new() };
        for event in &log.events {
            match &event.body {
                EventBody::Corrected { set, .. } => drop(fates.last.insert(&set.client_set_id, set)),
                EventBody::Withdrawn { client_set_id, .. } => drop(fates.withdrawn.insert(client_set_id)),
                EventBody::Recorded { .. } | EventBody::Profiled { .. } => {}
            }
        }
        fates
    }
}

/// A walk under way.
struct Walk<'c, 'k> {
    course: &'c Course,
    athlete: &'c str,
    fates: Fates<'c>,
    timeline: Timeline<Panel>,
    profile: Option<&'c Profile>,
    advised: BTreeMap<CivilDate, Vec<Advised>>,
    sums: Vec<Sums>,
    lots: Dice,
    buffer: Foretold,
    known: u32,
    last_arrival: i64,
    is_asked_for: bool,
    keep: &'k mut Keep<'k>,
}

/// Walks through one athlete's log and adds what came of it to a part; `keep` is told every prediction.
///
/// # Errors
///
/// [`WalkError`] when a forecaster said what is no prediction; the part then holds a piece of the athlete and is worthless.
pub fn walk<'c, 'k>(
    course: &'c Course,
    log: &'c AthleteLog,
    truths: &Arc<Truths>,
    part: &mut Part,
    keep: &'k mut Keep<'k>,
) -> Result<(), WalkError> {
    let keeps_history = !course.advisers.is_empty();
    let mut walk = Walk {
        course,
        athlete: &log.athlete,
        fates: Fates::of(log),
        timeline: Timeline::new(Panel::new(&course.bench, truths, keeps_history)),
        profile: None,
        advised: BTreeMap::new(),
        sums: vec![Sums::default(); course.bench.who.len()],
        lots: Dice::new(course.seed, stream_of(&log.athlete)),
        buffer: Foretold::default(),
        known: 0,
        last_arrival: i64::MIN,
        is_asked_for: course.selection.has_athlete(&log.athlete),
        keep,
    };
    for event in &log.events {
        walk.event(event, part)?;
    }
    walk.close(part);
    Ok(())
}

/// A stream of dice for an athlete, by name alone (FNV-1a, from memory), so that it does not hang on who else is there.
fn stream_of(athlete: &str) -> u64 {
    athlete.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

impl<'c> Walk<'c, '_> {
    fn event(&mut self, event: &'c StoredEvent, part: &mut Part) -> Result<(), WalkError> {
        match &event.body {
            EventBody::Recorded { set } => self.arrive(set, (event.sequence, event.arrived_at_ms), part)?,
            EventBody::Corrected { set, .. } => {
                part.note(Note::Corrected);
                if let Some(before) = self.timeline.remove(&set.client_set_id) {
                    let at = (before.key.first_sequence, before.arrived_at_ms);
                    if let Some(entry) = self.entry(set, at) {
                        self.timeline.insert(entry);
                    }
                }
            }
            EventBody::Withdrawn { client_set_id, .. } => drop(self.timeline.remove(client_set_id)),
            EventBody::Profiled { profile } => self.profile = Some(profile),
        }
        Ok(())
    }

    fn entry(&self, set: &SetEntry, at: (u64, i64)) -> Option<Entry> {
        Entry::new(&self.course.bench.model, &self.course.policy, set.clone(), at)
    }

    fn arrive(&mut self, set: &SetEntry, at: (u64, i64), part: &mut Part) -> Result<(), WalkError> {
        part.sets += 1;
        let lot = self.lots.unit();
        if at.1 < self.last_arrival {
            part.note(Note::ClockBack);
        }
        self.last_arrival = at.1;
        let Some(entry) = self.entry(set, at) else {
            part.exclude(Exclusion::UnknownRung);
            return Ok(());
        };
        if at.1.div_euclid(86_400_000) < i64::from(entry.done.day) {
            part.note(Note::EarlyArrival);
        }
        if is_import(set, at.1) {
            part.note(Note::Imported);
        }
        if self.timeline.last().is_some_and(|last| entry.key < last) {
            part.note(Note::Late);
        }
        self.advise(entry.set.date);
        // What it became, when it was corrected later; nothing of it when that cannot be read.
        let became = self.fates.last.get(&set.client_set_id).map(|last| self.entry(last, at));
        let excluded = self.excludes(&entry, became.as_ref().map_or(Some(&entry), Option::as_ref));
        self.timeline.insert(entry);
        match excluded {
            None => self.foretell(became.flatten().as_ref(), lot, part)?,
            Some(why) => {
                part.exclude(why);
                self.timeline.step(|panel, entry| panel.take(entry));
            }
        }
        self.known += 1;
        Ok(())
    }

    fn excludes(&self, told: &Entry, last: Option<&Entry>) -> Option<Exclusion> {
        if !self.is_asked_for {
            return Some(Exclusion::OtherAthlete);
        }
        if self.fates.withdrawn.contains(&told.set.client_set_id) {
            return Some(Exclusion::Withdrawn);
        }
        match last {
            Some(last) if last.task.rung == told.task.rung => {
                self.course.selection.excludes(last, self.course.first_day)
            }
            _ => Some(Exclusion::Moved),
        }
    }

    /// Foretells the set that the timeline stands before and scores what was said; `became` is what was made of it later.
    fn foretell(&mut self, became: Option<&Entry>, lot: f64, part: &mut Part) -> Result<(), WalkError> {
        let last = became.or_else(|| self.timeline.next());
        let Some((outcome, ladder)) = last.and_then(|last| Some((Outcome::of(last)?, self.ladder(last))))
        else {
            part.exclude(Exclusion::NothingTried);
            self.timeline.step(|panel, entry| panel.take(entry));
            return Ok(());
        };
        if outcome.is_strange {
            part.note(Note::StrangeCause);
        }
        if !outcome.is_whole {
            part.note(Note::OpenEnd);
        }
        let (course, athlete, known) = (self.course, self.athlete, self.known);
        let (sums, keep, buffer) = (&mut self.sums, &mut *self.keep, &mut self.buffer);
        let mut foretell = |panel: &mut Panel, entry: &Entry| {
            let groups = Group::of(entry, ladder, known);
            let mut scoring = Scoring { course, athlete, entry, outcome, lot, groups, fault: None };
            panel
                .foretell(entry, buffer, |place, foretold| scoring.said(place, foretold, (sums, part, keep)));
            scoring.fault
        };
        let mut fault = None;
        match became {
            None => self.timeline.step(|panel, entry| fault = foretell(panel, entry)),
            Some(last) => {
                fault = foretell(&mut self.timeline.fold().clone(), last);
                self.timeline.step(|panel, entry| panel.take(entry));
            }
        }
        fault.map_or(Ok(()), Err)
    }

    fn ladder(&self, entry: &Entry) -> usize {
        self.course.bench.model.catalog.ladder_number(entry.task.rung)
    }

    /// The advice of a day, when this is its first set: from what had arrived by now and was trained before it.
    fn advise(&mut self, date: CivilDate) {
        let advisers = &self.course.advisers;
        let (Some(profile), false) = (self.profile, advisers.is_empty() || self.advised.contains_key(&date))
        else {
            return;
        };
        let before = self.timeline.before(|entry| entry.set.date < date);
        self.timeline.seek(before);
        let moment =
            Moment { panel: self.timeline.fold(), past: &self.timeline.entries()[..before], profile, date };
        self.advised.insert(date, advisers.advise(&self.course.bench.model, &moment));
    }

    fn close(self, part: &mut Part) {
        if self.known == 1 {
            part.note(Note::SingleSet);
        }
        if !self.is_asked_for {
            return;
        }
        let is_within = |date: &CivilDate| self.course.selection.has_date(*date);
        let advised = self.advised.iter().filter(|(date, _)| is_within(date));
        let catalog = &self.course.bench.model.catalog;
        let advice = agreement::counts(catalog, advised, self.timeline.entries(), part);
        if self.sums.iter().all(|sums| sums.sets == 0) {
            part.note(Note::NothingScored);
        }
        part.athletes.insert(self.athlete.to_owned(), AthletePart { sums: self.sums, advice });
    }
}

/// One set while its predictions are scored.
struct Scoring<'w> {
    course: &'w Course,
    athlete: &'w str,
    entry: &'w Entry,
    outcome: Outcome,
    lot: f64,
    groups: [Group; 4],
    fault: Option<WalkError>,
}

impl Scoring<'_> {
    fn said(
        &mut self,
        forecaster: usize,
        foretold: &mut Foretold,
        (sums, part, keep): (&mut [Sums], &mut Part, &mut Keep<'_>),
    ) {
        let scored = foretold.endings().and_then(|endings| {
            let score = score(&endings, self.entry, &self.outcome, self.lot)?;
            Ok((endings, score))
        });
        match scored {
            Ok((endings, score)) => {
                let own = Sums::of(&score);
                sums[forecaster].join(&own);
                part.add(forecaster, &self.groups, (&score, &own));
                let (athlete, entry) = (self.athlete, self.entry);
                keep(&Predicted { athlete, entry, forecaster, endings: &endings, score: &score });
                foretold.take_back(endings);
            }
            Err(source) => {
                let set = self.entry.set.client_set_id.clone();
                let forecaster = self.course.bench.who[forecaster].word();
                self.fault = Some(WalkError { athlete: self.athlete.to_owned(), set, forecaster, source });
            }
        }
    }
}
