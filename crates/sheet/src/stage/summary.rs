//! Summary: what an import comes to, before anything is kept.

use std::collections::BTreeMap;
use std::fmt;

use nextrung_domain::date::CivilDate;

use super::again::Again;
use crate::counted::counted;

/// Why a row was left out without being wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeftOut {
    /// It stands above the header.
    AboveHeader,
    /// It says the headers again.
    HeaderAgain,
    /// It is hidden, and the mapping leaves hidden rows out.
    Hidden,
    /// Its exercise is one that the mapping leaves out.
    Exercise,
    /// Nothing of its own stands in the columns that are read.
    Nothing,
    /// It says a day, a name or a note alone, of which no set can come.
    Heading,
    /// It names an exercise and nothing that was done, and the mapping leaves such rows out.
    Undone,
}

impl LeftOut {
    /// As told to people.
    pub fn words(self) -> &'static str {
        match self {
            Self::AboveHeader => "above the header",
            Self::HeaderAgain => "the header again",
            Self::Hidden => "hidden",
            Self::Exercise => "exercises that the mapping leaves out",
            Self::Nothing => "nothing in the columns that are read",
            Self::Heading => "a day, a name or a note alone",
            Self::Undone => "nothing done",
        }
    }
}

/// What was given to sets that did not say it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Given {
    /// The field.
    pub field: &'static str,
    /// The word that the mapping states.
    pub word: &'static str,
}

/// What an import comes to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Summary {
    /// Filled rows of the sheet but the header, those left out among them.
    pub rows: usize,
    /// True where days stand across: what is said of sound and of bad rows is then said of cells under a day.
    pub is_across: bool,
    /// Rows that give sets.
    pub sound_rows: usize,
    /// Rows with a problem.
    pub bad_rows: usize,
    /// Sets of sound rows.
    pub sets: usize,
    /// Sets of sound rows by athlete.
    pub athletes: BTreeMap<String, usize>,
    /// Sets of sound rows by rung.
    pub rungs: BTreeMap<String, usize>,
    /// The first and the last day of a set.
    pub days: Option<(CivilDate, CivilDate)>,
    /// Rows left out, by reason.
    pub left_out: BTreeMap<LeftOut, usize>,
    /// Hidden rows that were read.
    pub hidden_read: usize,
    /// Cells that took the value above, or that of their merged range.
    pub filled_down: usize,
    /// Sets that were given what the mapping states.
    pub given: BTreeMap<Given, usize>,
    /// Headers of columns that are not read.
    pub unread: Vec<String>,
    /// Sessions that hold a bad row, and the sound sets in them: left out whole where bad rows are set aside.
    pub torn_sessions: usize,
    /// See [`torn_sessions`](Self::torn_sessions).
    pub torn_sets: usize,
    /// Sound rows that say again what others said of the same session, as a block pasted twice does; their sets count like all
    /// others.
    pub again: Vec<Again>,
    /// How many such blocks there are beyond those in [`again`](Self::again).
    pub more_again: usize,
}

impl Summary {
    pub(crate) fn leave_out(&mut self, why: LeftOut) {
        *self.left_out.entry(why).or_default() += 1;
    }

    pub(crate) fn add_day(&mut self, day: CivilDate) {
        self.days = Some(self.days.map_or((day, day), |(first, last)| (first.min(day), last.max(day))));
    }

    /// Rows that say again what others said, a line each.
    pub fn told_again(&self) -> Vec<String> {
        let mut lines: Vec<String> = self
            .again
            .iter()
            .map(|again| format!("{again}; pasted twice? they count as further sets"))
            .collect();
        if self.more_again > 0 {
            lines.push(format!("and {} like that", counted(self.more_again, "more block")));
        }
        lines
    }
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{}: {} with {}, {} with problems",
            counted(self.rows, "row") + if self.is_across { ", of their cells under days" } else { "" },
            self.sound_rows,
            counted(self.sets, "set"),
            self.bad_rows
        )?;
        if let Some((first, last)) = self.days {
            writeln!(f, "days: {first} to {last}")?;
        }
        let list = |counts: &BTreeMap<String, usize>| {
            let all: Vec<String> = counts.iter().map(|(name, count)| format!("{name} {count}")).collect();
            all.join(", ")
        };
        if self.sets > 0 {
            writeln!(f, "athletes: {}", list(&self.athletes))?;
            writeln!(f, "rungs: {}", list(&self.rungs))?;
        }
        for (why, count) in &self.left_out {
            writeln!(f, "left out: {}, {}", counted(*count, "row"), why.words())?;
        }
        if self.hidden_read > 0 {
            writeln!(f, "read although hidden: {}", counted(self.hidden_read, "row"))?;
        }
        if self.filled_down > 0 {
            writeln!(f, "filled from above: {}", counted(self.filled_down, "cell"))?;
        }
        for (given, count) in &self.given {
            writeln!(f, "{} = {} from the mapping: {}", given.field, given.word, counted(*count, "set"))?;
        }
        if !self.unread.is_empty() {
            writeln!(f, "columns not read: {}", self.unread.join(", "))?;
        }
        if self.torn_sessions > 0 {
            writeln!(
                f,
                "sessions with a bad row: {}, with {}",
                self.torn_sessions,
                counted(self.torn_sets, "sound set")
            )?;
        }
        for line in self.told_again() {
            writeln!(f, "{line}")?;
        }
        Ok(())
    }
}
