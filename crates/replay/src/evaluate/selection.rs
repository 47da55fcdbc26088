//! Selection: which sets of a replay are scored, and why others are not.

use std::collections::BTreeSet;

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;
use serde::{Deserialize, Serialize};

use crate::evaluate::entry::Entry;

/// Which sets are scored. All others are learned from all the same.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Selection {
    /// First training date, if any.
    pub from: Option<CivilDate>,
    /// Last training date, if any.
    pub to: Option<CivilDate>,
    /// Ladders; every one when empty.
    pub ladders: BTreeSet<LadderId>,
    /// Athletes; every one when empty.
    pub athletes: BTreeSet<String>,
    /// Days after the first set of all on which nothing is scored: forecasters that learn from all athletes have nothing to
    /// go by yet.
    pub warm_up_days: u16,
}

/// Why a set is not scored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Exclusion {
    /// Its athlete was not asked for; others learn from it.
    OtherAthlete,
    /// It was trained before or after the dates asked for.
    OtherDate,
    /// Its ladder was not asked for.
    OtherLadder,
    /// It arrived in the first days, on which forecasters only learn.
    WarmUp,
    /// Its rung stands on no ladder, or has changed its unit; nothing is learned from it.
    UnknownRung,
    /// It was withdrawn in the end; it is learned from until then.
    Withdrawn,
    /// It was corrected to another rung or unit in the end.
    Moved,
    /// No unit was done or tried: it says nothing.
    NothingTried,
    /// Its row could not be read or contradicts itself; nothing is learned from it.
    BadRow,
}

impl Exclusion {
    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Self::OtherAthlete => "of an athlete not asked for",
            Self::OtherDate => "trained outside the dates asked for",
            Self::OtherLadder => "on a ladder not asked for",
            Self::WarmUp => "arrived in the warm-up, learned from only",
            Self::UnknownRung => "on a rung that is on no ladder or counts in another unit",
            Self::Withdrawn => "withdrawn later",
            Self::Moved => "corrected to another rung or unit later",
            Self::NothingTried => "ended before a unit was done or tried",
            Self::BadRow => "in rows that could not be read or contradict themselves",
        }
    }
}

impl Selection {
    /// True when the athlete is asked for.
    pub fn has_athlete(&self, athlete: &str) -> bool {
        self.athletes.is_empty() || self.athletes.contains(athlete)
    }

    /// True when the date is asked for.
    pub fn has_date(&self, date: CivilDate) -> bool {
        self.from.is_none_or(|from| date >= from) && self.to.is_none_or(|to| date <= to)
    }

    /// Why a set of an athlete asked for is not scored; `first_day` is that of the first arrival of all.
    pub fn excludes(&self, entry: &Entry, first_day: i64) -> Option<Exclusion> {
        let date = entry.set.date;
        let day = entry.arrived_at_ms.div_euclid(86_400_000);
        if !self.has_date(date) {
            return Some(Exclusion::OtherDate);
        }
        if !self.ladders.is_empty() && !self.ladders.contains(&entry.set.rung.ladder) {
            return Some(Exclusion::OtherLadder);
        }
        if day - first_day < i64::from(self.warm_up_days) {
            return Some(Exclusion::WarmUp);
        }
        (!entry.done.is_effort()).then_some(Exclusion::NothingTried)
    }
}
