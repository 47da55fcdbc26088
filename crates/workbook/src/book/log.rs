//! Log: every set that counts, one a row, the newest day first.

use nextrung_domain::date::CivilDate;
use nextrung_sheet::stage::OWN_LOG;
use rust_xlsxwriter::{Format, Worksheet};

use super::BookError;
use super::page::{Page, Style, lines};

/// Rows of a sheet, as every spreadsheet program of today has them (published source: the
/// specifications and limits that the makers of these programs state).
const MOST_ROWS: usize = 1_048_576;

/// A set; what is not given is left empty.
#[derive(Debug, Clone)]
pub struct LoggedRow {
    /// The day it was trained.
    pub date: CivilDate,
    /// The session of the day.
    pub session: i32,
    /// Its place in the session.
    pub set_number: i32,
    /// The rung with all that was done to it, in words.
    pub work: String,
    /// The rung: `pull/pull-up`.
    pub rung: String,
    /// What it was for.
    pub purpose: String,
    /// Clean repetitions.
    pub reps: Option<i32>,
    /// Seconds held or lowered.
    pub seconds: Option<i32>,
    /// The target set before it.
    pub planned_target: Option<i32>,
    /// How it ended.
    pub stop: String,
    /// Units left by the athlete's own word.
    pub reps_in_reserve: Option<i32>,
    /// Rest before it, in seconds.
    pub rest_seconds: Option<i32>,
    /// Kilograms added; negative when taken off.
    pub load_kg: f64,
    /// Kilograms of the athlete.
    pub body_mass_kg: Option<f64>,
    /// Its tempo.
    pub tempo: String,
    /// Pain, 0 to 10.
    pub pain: Option<i32>,
    /// What else there was to say.
    pub note: String,
    /// Its key.
    pub id: String,
}

/// The heads and widths of the columns: the words by which sheets are read, with the unit where there are several. What only
/// programs read comes last.
const HEADS: [(&str, f64); 18] = [
    ("date", 11.0),
    (">session", 8.0),
    (">set", 5.0),
    (" in words", 44.0),
    (" purpose", 10.0),
    (">reps", 6.0),
    (">seconds", 9.0),
    (">target", 7.0),
    (" stop", 11.0),
    (">reserve", 9.0),
    (">rest (s)", 6.0),
    (">load (kg)", 6.0),
    (">body mass (kg)", 11.0),
    (" tempo", 8.0),
    (">pain", 6.0),
    (" note", 34.0),
    ("rung", 28.0),
    ("id", 26.0),
];
/// Rows above the sets: the title, the mark and the heads.
const ABOVE: usize = 3;
/// The last column that is printed.
const PRINTED: u16 = 15;

pub(super) fn draw(
    sheet: &mut Worksheet,
    who: &str,
    rows: &[LoggedRow],
    style: &Style,
) -> Result<(), BookError> {
    if rows.len() > MOST_ROWS - ABOVE {
        return Err(BookError::TooManyRows { rows: rows.len(), most: MOST_ROWS - ABOVE });
    }
    let mut page = Page::begin(sheet, "Log", &HEADS.map(|(_, width)| width))?;
    page.title(&format!("The log of {who}"), style)?;
    // Whoever takes sheets in knows by it that every set of this one is recorded already.
    page.line(OWN_LOG, &style.faint)?;
    let head = page.row;
    page.set_lines(2)?;
    page.heads(&HEADS.map(|(head, _)| head), style)?;
    let kilograms = style.number.clone().set_num_format("0.##");
    for one in newest_first(rows) {
        row(&mut page, one, style, &kilograms)?;
    }
    let last = page.row.saturating_sub(1).max(head + 1);
    let columns = u16::try_from(HEADS.len() - 1).unwrap_or(0);
    page.sheet.set_freeze_panes(head + 1, 0)?.set_repeat_rows(head, head)?;
    page.sheet.autofilter(head, 0, last, columns)?.set_print_area(0, 0, last, PRINTED)?;
    Ok(())
}

/// The newest day first, and the sets of a day as they were done.
fn newest_first(rows: &[LoggedRow]) -> Vec<&LoggedRow> {
    let mut rows: Vec<&LoggedRow> = rows.iter().collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.date));
    rows
}

fn row(page: &mut Page<'_>, one: &LoggedRow, style: &Style, kilograms: &Format) -> Result<(), BookError> {
    page.day(0, one.date, &style.day)?;
    for (column, text) in [(3, &one.work), (15, &one.note)] {
        page.put(column, text, &style.wrapped_apart)?;
    }
    for (column, text) in [(4, &one.purpose), (8, &one.stop), (13, &one.tempo)] {
        page.put(column, text, &style.cell)?;
    }
    for (column, text) in [(16, &one.rung), (17, &one.id)] {
        page.put(column, text, &style.text)?;
    }
    let numbers = [
        (1, Some(one.session)),
        (2, Some(one.set_number)),
        (5, one.reps),
        (6, one.seconds),
        (7, one.planned_target),
        (9, one.reps_in_reserve),
        (10, one.rest_seconds),
        (14, one.pain),
    ];
    for (column, number) in numbers {
        if let Some(number) = number {
            page.number(column, f64::from(number), &style.number)?;
        }
    }
    if one.load_kg != 0.0 {
        page.number(11, one.load_kg, kilograms)?;
    }
    if let Some(mass) = one.body_mass_kg {
        page.number(12, mass, kilograms)?;
    }
    // Words and notes stay as they are, unbroken: letters are narrower than the digits that widths are counted in.
    page.set_lines(lines(&one.work, 44).max(lines(&one.note, 34)))?;
    page.next();
    Ok(())
}
