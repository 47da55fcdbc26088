//! Summarise: figures from sums.

use nextrung_capacity::params::MODEL_VERSION;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::Purpose;

use crate::dice::Dice;
use crate::evaluate::entry::BLOCK_DAYS;
use crate::evaluate::exact::number;
use crate::evaluate::panel::Who;
use crate::evaluate::part::{AthletePart, Group, KNOWN, Note, Part};
use crate::evaluate::run::{Replay, ReplayError};
use crate::evaluate::set_score::LEVELS;
use crate::evaluate::summary::{
    AdviserFigures, CalibrationStep, Counts, DataHash, EdgeFigures, ForecasterFigures, GroupFigures,
    IntervalFigures, Manifest, RankFigures, Summary,
};
use crate::evaluate::tally::{CHANCE_STEPS, EdgeTally, Sums, Tally};
use crate::score::brier;
use crate::score::edge::Event;
use crate::score::isotonic::{Point, isotonic};
use crate::simulate::bootstrap::{Estimate, Statistic, intervals};

/// Days of a month on average.
const MONTH_DAYS: f64 = 30.44;
/// Stream of the dice that draw athletes.
const DRAWS_STREAM: u64 = 1;

impl Replay {
    /// The figures of a part that is the whole, of data with these hashes.
    ///
    /// # Errors
    ///
    /// [`ReplayError::Empty`] when no set was scored.
    pub fn summary(&self, part: &Part, athletes: u64, data: Vec<DataHash>) -> Result<Summary, ReplayError> {
        let counts = counts(part, athletes);
        if counts.sets_scored == 0 {
            return Err(ReplayError::Empty { why: why_empty(&counts) });
        }
        let drawn = self.drawn(part);
        let forecasters = self.forecasters(part, &drawn);
        let mut summary = Summary {
            manifest: self.manifest(data),
            counts,
            forecasters,
            gap_closed: drawn.gap_closed,
            groups: groups(&self.model.catalog, part),
            advisers: self.advisers(part),
            conclusions: Vec::new(),
        };
        summary.conclusions = super::conclusion::conclusions(&summary);
        Ok(summary)
    }

    /// What the replay is made from, with the hashes of what is read.
    pub fn manifest(&self, data: Vec<DataHash>) -> Manifest {
        let version = |version: &str| format!("{MODEL_VERSION}/{version}");
        Manifest {
            program: env!("CARGO_PKG_VERSION").to_owned(),
            model_version: version(&self.model.parameters.version),
            challenger_version: self.challenger.as_ref().map(|model| version(&model.parameters.version)),
            policy_version: self.policy.version.clone(),
            ladder_versions: self
                .model
                .catalog
                .ladders()
                .iter()
                .map(|l| (l.id.to_string(), l.version))
                .collect(),
            data,
            selection: self.selection.clone(),
            forecasters: self.who.iter().map(|who| who.word().to_owned()).collect(),
            advisers: self.advisers.names().map(ToOwned::to_owned).collect(),
            block_days: BLOCK_DAYS,
            seed: self.seed,
            interval_level: 0.99,
        }
    }

    /// Everything that athletes are drawn for, on the same draws.
    fn drawn(&self, part: &Part) -> Drawn {
        let rows: Vec<Vec<f64>> = scored(part).map(|athlete| row(&athlete.sums)).collect();
        let places = 0..self.who.len();
        let at = |who: Who| self.who.iter().position(|other| *other == who);
        let mut figures: Vec<Statistic<'_>> = Vec::new();
        for place in places.clone() {
            figures.push(Box::new(move |s| s[log_of(place)] / s[SETS]));
        }
        for place in places.clone() {
            figures.push(Box::new(move |s| (s[log_of(0)] - s[log_of(place)]) / s[SETS]));
        }
        for place in places.clone() {
            figures.push(Box::new(move |s| (s[ranked_of(0)] - s[ranked_of(place)]) / s[WHOLE]));
        }
        if let (Some(climatology), Some(oracle)) = (at(Who::Climatology), at(Who::Oracle)) {
            figures.push(Box::new(move |s| {
                let least = s[log_of(climatology)];
                (least - s[log_of(0)]) / (least - s[log_of(oracle)])
            }));
        }
        let mut found = intervals(&rows, &figures, &mut Dice::new(self.seed, DRAWS_STREAM)).into_iter();
        let mut next = |count: usize| -> Vec<Option<Estimate>> { found.by_ref().take(count).collect() };
        let (logs, differences, ranked) = (next(places.len()), next(places.len()), next(places.len()));
        Drawn { logs, differences, ranked, gap_closed: next(1).into_iter().next().flatten() }
    }

    fn forecasters(&self, part: &Part, drawn: &Drawn) -> Vec<ForecasterFigures> {
        let one = |(place, (who, tally)): (usize, (&Who, &Tally))| {
            let sums = &tally.sums;
            let of_other = |found: &[Option<Estimate>]| found[place].filter(|_| place > 0);
            ForecasterFigures {
                name: who.word().to_owned(),
                about: who.about().to_owned(),
                log_score: sums.log_ending.mean(sums.sets).unwrap_or(f64::NAN),
                log_score_interval: drawn.logs[place],
                difference: of_other(&drawn.differences),
                log_score_of_count: sums.log_count.mean(sums.sets).unwrap_or(f64::NAN),
                ranked: sums.ranked.mean(sums.whole),
                ranked_difference: of_other(&drawn.ranked),
                edges: edges(tally),
                intervals: held(tally),
                ranks: ranks(tally),
                no_chance: tally.no_chance,
            }
        };
        self.who.iter().zip(&part.tallies).enumerate().map(one).collect()
    }

    fn advisers(&self, part: &Part) -> Vec<AdviserFigures> {
        let one = |(place, (name, tally))| {
            let rows: Vec<Vec<f64>> = part.athletes.values().filter_map(|a| advice_row(a, place)).collect();
            let share = |a: usize, b: usize| -> Statistic<'_> { Box::new(move |s| s[a] / s[b]) };
            let monthly = |a: usize| -> Statistic<'_> { Box::new(move |s| s[a] * MONTH_DAYS / s[8]) };
            let figures = [share(1, 0), share(3, 2), share(5, 4), monthly(6), monthly(7)];
            let mut found = intervals(&rows, &figures, &mut Dice::new(self.seed, DRAWS_STREAM)).into_iter();
            let mut next = || found.next().flatten();
            AdviserFigures {
                agreement: next(),
                in_band: next(),
                in_band_as_advised: next(),
                switches_a_month: next(),
                log_switches_a_month: next(),
                ..AdviserFigures::of(name, tally)
            }
        };
        self.advisers.names().zip(&part.advice).enumerate().map(one).collect()
    }
}

/// Estimates made on the same draws of athletes, by forecaster.
struct Drawn {
    logs: Vec<Option<Estimate>>,
    differences: Vec<Option<Estimate>>,
    ranked: Vec<Option<Estimate>>,
    gap_closed: Option<Estimate>,
}

/// Columns of an athlete's row: sets, whole sets, then log and ranked score of each forecaster.
const SETS: usize = 0;
const WHOLE: usize = 1;

fn log_of(place: usize) -> usize {
    2 + 2 * place
}

fn ranked_of(place: usize) -> usize {
    3 + 2 * place
}

fn scored(part: &Part) -> impl Iterator<Item = &AthletePart> {
    part.athletes.values().filter(|athlete| athlete.sums.first().is_some_and(|sums| sums.sets > 0))
}

fn row(sums: &[Sums]) -> Vec<f64> {
    let first = sums.first().copied().unwrap_or_default();
    let sizes = [first.sets, first.whole].map(|n| number(i128::from(n)));
    let scores = sums.iter().flat_map(|sums| [sums.log_ending.value(), sums.ranked.value()]);
    sizes.into_iter().chain(scores).collect()
}

fn advice_row(athlete: &AthletePart, adviser: usize) -> Option<Vec<f64>> {
    let c = athlete.advice.get(adviser).filter(|c| c.ladder_days > 0)?;
    let counts = [
        c.ladder_days,
        c.same,
        c.sets,
        c.in_band,
        c.same_sets,
        c.same_in_band,
        c.switches,
        c.log_switches,
        c.span_days,
    ];
    Some(counts.map(|n| number(i128::from(n))).to_vec())
}

fn counts(part: &Part, athletes: u64) -> Counts {
    let sums = part.tallies.first().map(|tally| tally.sums).unwrap_or_default();
    Counts {
        athletes,
        athletes_scored: u64::try_from(scored(part).count()).unwrap_or(u64::MAX),
        sets: part.sets,
        sets_scored: sums.sets,
        sets_whole: sums.whole,
        excluded: part.excluded.iter().map(|(why, sets)| (why.words().to_owned(), *sets)).collect(),
        notes: part.notes.iter().map(|(note, times)| (note.words().to_owned(), *times)).collect(),
    }
}

fn why_empty(counts: &Counts) -> String {
    if counts.sets == 0 {
        return "the logs hold no sets; record some, or name other logs".to_owned();
    }
    let excluded: Vec<String> = counts.excluded.iter().map(|(why, sets)| format!("{sets} {why}")).collect();
    format!(
        "of {} sets read, {}; ask for other dates, ladders or athletes, or for a shorter warm-up",
        counts.sets,
        excluded.join(", ")
    )
}

fn edges(tally: &Tally) -> Vec<EdgeFigures> {
    let named = ["low", "high"].into_iter().zip(&tally.edges);
    named.filter_map(|(name, edge)| edge_figures(name, edge)).collect()
}

/// Chances are kept in steps; the Brier score is that of the chances as they were, and the little that the steps make of it
/// counts as miscalibration.
fn edge_figures(name: &str, edge: &EdgeTally) -> Option<EdgeFigures> {
    let brier = edge.brier.mean(edge.events)?;
    let chance = |step: u16| f64::from(step) / f64::from(CHANCE_STEPS);
    let events: Vec<Event> = edge
        .cells()
        .flat_map(|(step, [events, came])| {
            [(came, true), (events - came, false)].map(|(n, came)| (step, n, came))
        })
        .filter(|(_, n, _)| *n > 0)
        .map(|(step, n, came)| Event { chance: chance(step), came, weight: number(i128::from(n)) })
        .collect();
    let parts = brier::parts(&events).ok()?;
    let points: Vec<Point> = events
        .iter()
        .map(|e| Point { at: e.chance, value: if e.came { 1.0 } else { 0.0 }, weight: e.weight })
        .collect();
    let step = |s: &crate::score::isotonic::Step| CalibrationStep {
        from: s.from,
        to: s.to,
        came: s.value(),
        sets: whole(s.weight),
    };
    Some(EdgeFigures {
        edge: name.to_owned(),
        events: edge.events,
        brier,
        miscalibration: brier + parts.discrimination - parts.uncertainty,
        discrimination: parts.discrimination,
        uncertainty: parts.uncertainty,
        steps: isotonic(&points).ok()?.iter().map(step).collect(),
    })
}

/// A sum of whole weights as a whole number.
fn whole(weight: f64) -> u64 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a sum of counts of sets")]
    let whole = libm::round(weight) as u64;
    whole
}

fn held(tally: &Tally) -> Vec<IntervalFigures> {
    let sets = tally.sums.whole;
    let one = |(level, held): (f64, &crate::evaluate::tally::Held)| {
        Some(IntervalFigures {
            level,
            expected: held.expected.mean(sets)?,
            found: number(i128::from(held.inside)) / number(i128::from(sets)),
        })
    };
    LEVELS.into_iter().zip(&tally.held).filter_map(one).collect()
}

fn ranks(tally: &Tally) -> RankFigures {
    let bins = tally.ranks.len();
    let total = number(i128::from(tally.ranks.iter().sum::<u64>()));
    let mut sum = 0;
    let mut distance = 0.0_f64;
    for (at, count) in (1_u32..).zip(&tally.ranks) {
        sum += count;
        let upto = f64::from(at) / number(i128::try_from(bins).unwrap_or(1));
        distance = distance.max((number(i128::from(sum)) / total - upto).abs());
    }
    RankFigures {
        counts: tally.ranks.chunks(bins.div_ceil(20).max(1)).map(|c| c.iter().sum()).collect(),
        distance,
    }
}

fn groups(catalog: &Catalog, part: &Part) -> Vec<GroupFigures> {
    let mean = |sums: &Sums| sums.log_ending.mean(sums.sets).unwrap_or(f64::NAN);
    let one = |(group, sums): &(Group, Vec<Sums>)| {
        let (by, group) = group_words(catalog, *group);
        let sets = sums.first().map_or(0, |sums| sums.sets);
        GroupFigures { by: by.to_owned(), group, sets, log_scores: sums.iter().map(mean).collect() }
    };
    part.groups.iter().map(one).collect()
}

fn group_words(catalog: &Catalog, group: Group) -> (&'static str, String) {
    match group {
        Group::Unit(at) => ("unit", Unit::ALL.get(usize::from(at)).map_or("", |unit| unit.word()).to_owned()),
        Group::Purpose(at) => {
            ("purpose", Purpose::ALL.get(usize::from(at)).map_or("", |p| p.word()).to_owned())
        }
        Group::Known(at) => {
            let at = usize::from(at);
            let from = KNOWN.get(at).copied().unwrap_or(0);
            let words =
                KNOWN.get(at + 1).map_or(format!("{from} or more"), |next| format!("{from} to {}", next - 1));
            ("sets known before", words)
        }
        Group::Ladder(at) => (
            "ladder",
            catalog.ladders().get(usize::from(at)).map_or(String::new(), |ladder| ladder.id.to_string()),
        ),
    }
}

impl Note {
    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Late => "sets arrived after a set trained later",
            Self::Imported => {
                "sets arrived over four weeks after their day, as in an import: taken as known from that day on"
            }
            Self::Corrected => "corrections of sets",
            Self::ClockBack => {
                "sets whose arrival lies before that of the set recorded before them; the log's order was kept"
            }
            Self::EarlyArrival => "sets that arrived before the day they are said to have been trained on",
            Self::StrangeCause => "failures for a cause the rung does not know, scored without it",
            Self::OpenEnd => "sets ended by choice, for pain or from outside: scored by the log score alone",
            Self::SingleSet => "athletes with a single set",
            Self::NothingScored => "athletes without a set that was scored",
        }
    }
}
