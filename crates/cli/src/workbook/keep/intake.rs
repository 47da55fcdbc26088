//! Intake: the rows of a workbook, checked and sent.

use std::collections::BTreeSet;
use std::io;
use std::ops::ControlFlow;
use std::path::Path;

use nextrung_sheet::SheetRow;
use nextrung_sheet::grid::{Grid, Refusal};
use nextrung_sheet::mapping::{Field, Mapping};
use nextrung_sheet::stage::{DeliveryError, Import, Staged};
use nextrung_workbook::own_sheet::is_own_name;

use super::outcome::problems_of;
use super::roll::Roll;
use crate::connection::Connection;
use crate::sheet::Sheet;

/// Findings told one by one.
const MOST_TOLD: usize = 20;

/// What the rows of a workbook came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Taken {
    /// The athletes of the workbook, by id.
    pub(super) athletes: BTreeSet<String>,
    /// Sets that are with the service now.
    pub(super) sets: usize,
    /// What is wrong; the rows it is about and their sessions were not sent.
    pub(super) problems: Vec<String>,
}

/// Reads the rows of a workbook and sends those of sound sessions. What is wrong is told in the answer.
pub(super) async fn take_in(
    service: &Connection,
    roll: &Roll,
    path: &Path,
    bytes: &[u8],
    mapping: &Mapping,
) -> Taken {
    let label = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let mut mapping = mapping.clone();
    if mapping.athlete.is_none() && !mapping.has(Field::Athlete) {
        mapping.athlete = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    }
    let mapping = roll.laid_under(&mapping);
    let mut taken = Taken::default();
    taken.athletes.extend(mapping.athlete.clone().filter(|id| roll.athletes.contains_key(id)));
    let rows = match read(&label, bytes, mapping, roll) {
        Ok((rows, problems)) => {
            taken.problems = problems;
            rows
        }
        Err(error) => {
            taken.problems = vec![error.to_string()];
            return taken;
        }
    };
    let rows = known_athletes(rows, roll, &mut taken);
    match send(service, &label, rows, roll).await {
        Ok(sets) => taken.sets = sets,
        Err(problems) => taken.problems.extend(problems),
    }
    taken
}

/// The sets of sound sessions, and what is wrong with the others.
fn read(
    label: &str,
    bytes: &[u8],
    mut mapping: Mapping,
    roll: &Roll,
) -> Result<(Vec<SheetRow>, Vec<String>), DeliveryError> {
    let grid = Grid::open(label, bytes, mapping.encoding)?;
    mapping.sheet = mapping.sheet.or(the_other_sheet(&grid));
    let import = Import::new(&grid, &mapping, &roll.rungs)?;
    let staged = match import.rehearse() {
        Err(refusal) if is_empty(&refusal) => return Ok((Vec::new(), Vec::new())),
        other => other?,
    };
    let mut rows = Vec::new();
    import.deliver(&staged, Some(&mut io::sink()), &mut |set| {
        rows.push(SheetRow {
            row: usize::try_from(set.row).unwrap_or(usize::MAX),
            athlete: set.athlete.to_owned(),
            draft: set.draft,
        });
        ControlFlow::Continue(())
    })?;
    Ok((rows, told(&staged)))
}

/// The only visible sheet besides ours, which a mapping without a name means.
fn the_other_sheet(grid: &Grid<'_>) -> Option<String> {
    let mut visible = grid.sheets().iter().filter(|sheet| !sheet.is_hidden && !is_own_name(&sheet.name));
    match (visible.next(), visible.next()) {
        (Some(one), None) => Some(one.name.clone()),
        _ => None,
    }
}

/// A sheet that has a header and no rows yet is no fault here.
fn is_empty(refusal: &Refusal) -> bool {
    refusal.found == "a sheet without rows of sets"
}

fn told(staged: &Staged) -> Vec<String> {
    let mut told: Vec<String> = staged.findings.iter().take(MOST_TOLD).map(ToString::to_string).collect();
    let more = staged.findings.len().saturating_sub(MOST_TOLD);
    if more > 0 {
        told.push(format!("{more} further kinds of problems"));
    }
    if !staged.is_sound() {
        told.push(format!(
            "{} rows have problems; their sessions were not sent, all others were",
            staged.summary.bad_rows
        ));
    }
    told
}

/// Leaves out rows of athletes who are not in the roster.
fn known_athletes(rows: Vec<SheetRow>, roll: &Roll, taken: &mut Taken) -> Vec<SheetRow> {
    let mut strangers = BTreeSet::new();
    let mut known = Vec::new();
    for row in rows {
        match roll.athletes.contains_key(&row.athlete) {
            true => {
                taken.athletes.insert(row.athlete.clone());
                known.push(row);
            }
            false => {
                strangers.insert(row.athlete);
            }
        }
    }
    taken.problems.extend(strangers.iter().map(|word| {
        format!(
            "`{word}` is no athlete of the roster, by id or name; say who under [athletes] in the mapping, or add the \
             athlete to the roster"
        )
    }));
    known
}

/// Has the service check all sets, then record them.
async fn send(
    service: &Connection,
    label: &str,
    rows: Vec<SheetRow>,
    roll: &Roll,
) -> Result<usize, Vec<String>> {
    let sheet = Sheet::of_rows(label, rows, Some(&roll.roster)).map_err(|failure| problems_of(&failure))?;
    sheet.check(service).await.map_err(|failure| problems_of(&failure))?;
    sheet.send(service).await.map_err(|failure| problems_of(&failure))?;
    Ok(sheet.len())
}
