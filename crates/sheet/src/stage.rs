//! Stage: a sheet of other people's making read as a whole, checked row by row, and only then given out.
//!
//! [`Import::rehearse`] walks the sheet once and keeps nothing of it but sums: what it would come to ([`Summary`]), and what is
//! wrong with it, the same thing told once ([`Finding`]). [`Import::deliver`] walks it again and hands out the sets: all or
//! none, or the sound ones, with the other rows written to a sheet of their own under the same headers.
//!
//! Sets are counted in the order of the rows within the athlete's session, over all exercises, unless a column of
//! [set numbers](crate::mapping::Field::SetNumber) counts them; their keys come of that ([`crate::derived_set_id`]). The same file therefore gives the
//! same keys and the same content each time, and a service that knows them records nothing twice. Where bad rows are set
//! aside, the whole session of each goes with it: its other sets would else be counted without it, and counted anew when it
//! comes back mended.
//!
//! A bad row of which day or athlete cannot be read takes no session with it. Mended and imported by itself it would be
//! counted first in its session, and its key be one that the service knows with other content, which it refuses; such rows
//! are better mended in the sheet itself.
//!
//! ```
//! use std::ops::ControlFlow;
//! use nextrung_domain::measure::Unit;
//! use nextrung_domain::stop::{Purpose, Stop};
//! use nextrung_sheet::grid::{Encoding, Grid};
//! use nextrung_sheet::mapping::{KnownRung, Mapping};
//! use nextrung_sheet::stage::Import;
//!
//! let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
//! let sheet = "Date;Name;Exercise;Sets\n14.03.2026;wren;Pull-ups;5 5 4 f\n";
//! let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode)?;
//! let guess = Mapping::guess(&grid, None, &rungs)?;
//! assert_eq!(guess.questions.len(), 2, "purpose and stop are never guessed");
//! let mapping = Mapping { purpose: Some(Purpose::Working), stop: Some(Stop::Other), ..guess.mapping };
//!
//! let import = Import::new(&grid, &mapping, &rungs)?;
//! let staged = import.rehearse()?;
//! let mut keys = Vec::new();
//! import.deliver(&staged, None, &mut |set| {
//!     keys.push(set.draft.client_set_id);
//!     ControlFlow::Continue(())
//! })?;
//! assert_eq!(keys, ["wren:2026-03-14:1:1", "wren:2026-03-14:1:2", "wren:2026-03-14:1:3"]);
//! # Ok::<(), nextrung_sheet::stage::DeliveryError>(())
//! ```

use std::collections::BTreeSet;
use std::io::Write;
use std::ops::ControlFlow;

use nextrung_domain::draft::SetDraft;
use nextrung_domain::problem::Problem;

use crate::grid::{Fault, Grid, Refusal};
use crate::mapping::{Directory, Field, KnownRung, Mapping};

mod across;
mod again;
mod amount;
mod aside;
mod condition;
mod delivery;
mod finding;
mod judge;
mod refused;
mod row;
mod session;
mod spot;
mod summary;

pub use again::Again;
use again::Repeats;
use aside::Aside;
pub use condition::OWN_LOG;
use condition::lacks;
pub(crate) use condition::{OF_A_DAY, find_sheet};
pub use delivery::{Delivered, DeliveryError};
use finding::Findings;
pub use finding::{Finding, MAX_FINDINGS};
use judge::Seen;
pub use refused::Refused;
use row::RowSets;
pub(crate) use row::guess_of;
use session::{SessionKey, Sessions};
pub use spot::Spot;
pub use summary::{Given, LeftOut, Summary};

/// A further check of a set of an athlete, such as that of the domain: its problems, fields named as in the contract.
pub type CheckSet<'f> = dyn Fn(&str, &SetDraft) -> Vec<Problem> + 'f;

/// A sheet with the mapping that says how to read it.
pub struct Import<'i, 'b> {
    grid: &'i Grid<'b>,
    sheet: usize,
    mapping: &'i Mapping,
    rungs: &'i [KnownRung],
    athletes: Option<&'i Directory>,
    check: Option<&'i CheckSet<'i>>,
    refused: Option<&'i Refused>,
    may_be_empty: bool,
}

/// What a rehearsal found.
#[derive(Debug)]
pub struct Staged {
    /// What the sheet comes to.
    pub summary: Summary,
    /// What is wrong, by kind.
    pub findings: Vec<Finding>,
    /// Cells with problems of further kinds than are told.
    pub more: usize,
    torn: BTreeSet<SessionKey>,
}

impl Staged {
    /// True when every row is sound.
    pub fn is_sound(&self) -> bool {
        self.summary.bad_rows == 0
    }
}

impl<'i, 'b> Import<'i, 'b> {
    /// Looks for the sheet and judges the mapping. `rungs` are those that exercises may mean. Fails when the sheet is not
    /// there or not said, and when the mapping lacks what every set needs.
    pub fn new(grid: &'i Grid<'b>, mapping: &'i Mapping, rungs: &'i [KnownRung]) -> Result<Self, Refusal> {
        let sheet = find_sheet(grid, mapping.sheet.as_deref())?;
        lacks(mapping).map_err(|fault| fault.refuse(grid.file(), grid.sheet_name(sheet)))?;
        Ok(Self {
            grid,
            sheet,
            mapping,
            rungs,
            athletes: None,
            check: None,
            refused: None,
            may_be_empty: false,
        })
    }

    /// The same with a further check of each set.
    #[must_use]
    pub fn with_check(mut self, check: &'i CheckSet<'i>) -> Self {
        self.check = Some(check);
        self
    }

    /// The same for the athletes of a roster: what names none of them, or several, is a problem, and sets are theirs by id.
    #[must_use]
    pub fn with_athletes(mut self, athletes: &'i Directory) -> Self {
        self.athletes = Some(athletes);
        self
    }

    /// The same with what somebody else found wrong with sets that were handed out.
    #[must_use]
    pub fn with_refused(mut self, refused: &'i Refused) -> Self {
        self.refused = Some(refused);
        self
    }

    /// The same with a sheet that need not have a row of sets under its header yet.
    #[must_use]
    pub fn may_be_empty(mut self) -> Self {
        self.may_be_empty = true;
        self
    }

    /// The name of the sheet, if it has one.
    pub fn sheet_name(&self) -> Option<&str> {
        self.grid.sheet_name(self.sheet)
    }

    /// Reads and judges every row and keeps none. Fails when the sheet cannot be read, or is not one that the mapping speaks
    /// of.
    pub fn rehearse(&self) -> Result<Staged, Refusal> {
        let mut summary = Summary::default();
        let mut findings = Findings::new(self.grid.file(), self.grid.sheet_name(self.sheet));
        let (mut sessions, mut repeats) = (Sessions::default(), Repeats::default());
        let (mut last_row, mut last_header, mut by_athlete) = (0, None, Vec::new());
        self.walk(&mut sessions, &mut |row, reader, seen| {
            // Where days stand across, a row is seen once for each of them.
            let is_further = std::mem::replace(&mut last_row, row.number) == row.number;
            let is_read = !matches!(seen, Seen::LeftOut(_));
            match seen {
                Seen::LeftOut(_) if is_further => {}
                Seen::LeftOut(why) => summary.leave_out(why),
                Seen::Bad(problems) => {
                    summary.bad_rows += 1;
                    let titles = &reader.columns.titles;
                    problems.iter().for_each(|problem| findings.add(row.number, titles, problem.clone()));
                }
                Seen::Sets(sets, key) => {
                    // Where a column counts the sets, one that comes twice is refused.
                    if !self.mapping.has(Field::SetNumber) {
                        let block = self.is_across().then_some(reader.columns.row);
                        repeats.see(row.number, (key, block), &sets.sets);
                    }
                    count(&mut by_athlete, key, sets.sets.len());
                    add_sets(&mut summary, sets);
                }
            }
            if is_further {
                return ControlFlow::Continue(());
            }
            summary.rows += 1;
            // Where days stand across, further rows of headers may have others.
            if last_header.replace(reader.columns.row) != Some(reader.columns.row) {
                let unread = reader.columns.unread().into_iter();
                let new: Vec<String> = unread.filter(|title| !summary.unread.contains(title)).collect();
                summary.unread.extend(new);
            }
            summary.hidden_read += usize::from(row.is_hidden);
            summary.filled_down += if is_read { reader.filled.len() } else { 0 };
            ControlFlow::Continue(())
        })?;
        summary.hidden_read =
            summary.hidden_read.saturating_sub(summary.left_out.get(&LeftOut::Hidden).copied().unwrap_or(0));
        summary.is_across = self.is_across();
        summary.torn_sessions = sessions.torn().len();
        summary.torn_sets = sessions.torn_sets();
        let torn = sessions.torn().clone();
        (summary.again, summary.more_again) = repeats.closed();
        if summary.sound_rows + summary.bad_rows == 0 && !self.may_be_empty {
            let fault = Fault::new(
                "a sheet without rows of sets",
                "a header and rows under it; is it the right sheet?",
            );
            return Err(fault.refuse(self.grid.file(), self.grid.sheet_name(self.sheet)));
        }
        summary.athletes = sessions.into_athletes(&by_athlete);
        let (findings, more) = findings.closed();
        Ok(Staged { summary, findings, more, torn })
    }

    /// Hands out the sets of a sheet that was rehearsed, until `on_set` breaks. With `set_aside`, rows that are bad and the
    /// sessions they belong to are written there as CSV with the same headers, to be mended and imported by the same mapping;
    /// without it nothing is handed out when any row is bad. Says how many rows were set aside.
    pub fn deliver(
        &self,
        staged: &Staged,
        set_aside: Option<&mut dyn Write>,
        on_set: &mut dyn FnMut(Delivered<'_>) -> ControlFlow<()>,
    ) -> Result<usize, DeliveryError> {
        if set_aside.is_none() && !staged.is_sound() {
            return Err(DeliveryError::BadRows { bad_rows: staged.summary.bad_rows });
        }
        let mut aside = set_aside.map(|out| Aside::new(out, self.grid.separator(), self.mapping));
        let mut sessions = Sessions::default();
        self.walk(&mut sessions, &mut |row, reader, seen| match seen {
            Seen::LeftOut(_) => ControlFlow::Continue(()),
            Seen::Sets(sets, key) if !staged.torn.contains(&key) => {
                sets.sets.into_iter().try_for_each(|draft| {
                    on_set(Delivered { spot: reader.spot(row), athlete: &sets.athlete, draft })
                })
            }
            Seen::Sets(..) | Seen::Bad(..) => match &mut aside {
                Some(aside) if reader.is_untrusted => {
                    aside.put_untrusted(row, &reader.columns.titles, &reader.filled_places())
                }
                Some(aside) => aside.put(row, &reader.columns.titles, &reader.filled),
                None => ControlFlow::Continue(()),
            },
        })?;
        match aside {
            Some(aside) => aside.finish().map_err(|source| DeliveryError::Unwritable { source }),
            None => Ok(0),
        }
    }
}

fn add_sets(summary: &mut Summary, sets: RowSets) {
    summary.sound_rows += 1;
    summary.sets += sets.sets.len();
    summary.add_day(sets.day);
    for draft in &sets.sets {
        if let Some(count) = summary.rungs.get_mut(&draft.rung) {
            *count += 1;
        } else {
            summary.rungs.insert(draft.rung.clone(), 1);
        }
    }
    for given in sets.given {
        *summary.given.entry(given).or_default() += 1;
    }
}

/// Counts sets for an athlete, by number.
fn count(by_athlete: &mut Vec<usize>, (athlete, ..): SessionKey, sets: usize) {
    let Ok(athlete) = usize::try_from(athlete) else { return };
    if by_athlete.len() <= athlete {
        by_athlete.resize(athlete + 1, 0);
    }
    by_athlete[athlete] += sets;
}
