//! Thumb: rules of thumb that read the log and nothing else.
//!
//! Both start from the rung of the last session with working sets on a ladder and go up, stay or step back by one plain rung
//! of the same unit for which the athlete has the equipment. Of a ladder not trained in the last 28 days they say nothing.

use std::collections::BTreeMap;

use nextrung_capacity::model::Model;
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::profile::Profile;
use nextrung_domain::stop::Purpose;
use nextrung_prescribe::history::MEMORY_DAYS;
use nextrung_prescribe::prescription::Kind;

use crate::advice::{Advised, Moment, Step};
use crate::evaluate::entry::Entry;
use crate::simulate::rule::{goal, spare};

/// The rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thumb {
    /// Two or more reps over the goal in the last set of two sessions running: up (NSCA, from memory). Back when the best was
    /// under the band in two sessions running.
    TwoForTwo,
    /// Best of the session in the band: stay; above: up; below: down (common practice, no source).
    RepBand,
}

/// Working sets of one session on one ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Session {
    day: i32,
    rung: RungIx,
    best: u16,
    last: u16,
}

impl Thumb {
    /// Both.
    pub const ALL: [Self; 2] = [Self::TwoForTwo, Self::RepBand];

    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::TwoForTwo => "two-for-two",
            Self::RepBand => "rep-band",
        }
    }

    /// What the rule advises.
    pub fn advise(self, model: &Model, moment: &Moment<'_>) -> Advised {
        let catalog = &model.catalog;
        let day = moment.date.day_number();
        let mut steps = BTreeMap::new();
        for (ladder, sessions) in sessions(catalog, moment.past, day) {
            let Some(last) = sessions.first() else { continue };
            let by = self.step(moment.past, &sessions);
            let rung = moved(catalog, moment.profile, last.rung, by);
            steps.insert(ladder, Step { rung, shadings: Vec::new(), load_kg: 0.0 });
        }
        let kind = if steps.is_empty() { Kind::Rest } else { Kind::Training };
        Advised { kind, steps }
    }

    /// One up, none or one back, from the sessions on a ladder, the last first.
    fn step(self, past: &[Entry], sessions: &[Session]) -> i32 {
        let Some(last) = sessions.first() else { return 0 };
        let band_of = |rung| past.iter().rev().find(|entry| entry.task.rung == rung).map(|entry| entry.band);
        let Some(band) = band_of(last.rung) else { return 0 };
        match self {
            Self::RepBand => i32::from(last.best > band.high) - i32::from(last.best < band.low),
            Self::TwoForTwo => {
                let over = |s: &Session| s.rung == last.rung && s.last >= goal(band) + spare(band);
                let under = |s: &Session| s.rung == last.rung && s.best < band.low;
                let twice =
                    |is: &dyn Fn(&Session) -> bool| sessions.len() > 1 && sessions.iter().take(2).all(is);
                i32::from(twice(&over)) - i32::from(twice(&under))
            }
        }
    }
}

/// The last two sessions with plain working sets on each ladder, the last first, none further back than is remembered.
fn sessions(catalog: &Catalog, past: &[Entry], day: i32) -> BTreeMap<usize, Vec<Session>> {
    let mut found: BTreeMap<usize, Vec<Session>> = BTreeMap::new();
    let recent = past.iter().rev().take_while(|entry| day - entry.done.day <= MEMORY_DAYS);
    for entry in recent.filter(|entry| entry.set.purpose == Purpose::Working && !entry.set.is_eased()) {
        let of_ladder = found.entry(catalog.ladder_number(entry.task.rung)).or_default();
        let (rung, units, has_room) = (entry.task.rung, entry.done.units, of_ladder.len() < 2);
        match of_ladder.last_mut() {
            // Of two rungs on one day the one done last is the session's.
            Some(session) if session.day == entry.done.day && session.rung != rung => {}
            Some(session) if session.day == entry.done.day => session.best = session.best.max(units),
            _ if has_room => {
                of_ladder.push(Session { day: entry.done.day, rung, best: units, last: units });
            }
            _ => {}
        }
    }
    found
}

/// The plain rung of the same unit one up or down for which there is the equipment; the rung itself at the ladder's ends.
fn moved(catalog: &Catalog, profile: &Profile, rung: RungIx, by: i32) -> RungIx {
    let unit = catalog.rung(rung).unit;
    let fits = |ix: &RungIx| {
        let about = catalog.rung(*ix);
        about.unit == unit && about.equipment.iter().all(|e| profile.equipment.contains(e))
    };
    let ladder = &catalog.ladder_of(rung).id;
    let next = match by {
        1 => catalog.rungs_of(ladder).filter(|ix| *ix > rung).find(fits),
        -1 => catalog.rungs_of(ladder).filter(|ix| *ix < rung).filter(fits).last(),
        _ => None,
    };
    next.unwrap_or(rung)
}
