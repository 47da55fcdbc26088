//! Log: every set that counts, one a row.

use nextrung_domain::date::CivilDate;
use rust_xlsxwriter::{Format, Worksheet};

use super::BookError;
use super::page::{Page, Style, lines};

/// Rows of a sheet, the header among them, as every spreadsheet program of today has them (published source: the
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

const HEADS: [(&str, f64); 18] = [
    ("date", 12.0),
    (">session", 9.0),
    (">set", 6.0),
    ("what", 42.0),
    ("rung", 28.0),
    ("purpose", 11.0),
    (">reps", 7.0),
    (">seconds", 10.0),
    (">target", 8.0),
    ("stop", 12.0),
    (">left", 7.0),
    (">rest s", 8.0),
    (">load kg", 9.0),
    (">mass kg", 9.0),
    ("tempo", 8.0),
    (">pain", 7.0),
    ("note", 44.0),
    ("id", 26.0),
];

pub(super) fn draw(sheet: &mut Worksheet, rows: &[LoggedRow], style: &Style) -> Result<(), BookError> {
    if rows.len() >= MOST_ROWS {
        return Err(BookError::TooManyRows { rows: rows.len(), most: MOST_ROWS - 1 });
    }
    let mut page = Page::begin(sheet, "Log", &HEADS.map(|(_, width)| width))?;
    page.heads(&HEADS.map(|(head, _)| head), style)?;
    let kilograms = style.number.clone().set_num_format("0.##");
    for one in rows {
        row(&mut page, one, style, &kilograms)?;
    }
    let last = page.row.saturating_sub(1).max(1);
    let columns = u16::try_from(HEADS.len() - 1).unwrap_or(0);
    page.sheet.set_freeze_panes(1, 0)?.set_repeat_rows(0, 0)?.autofilter(0, 0, last, columns)?;
    Ok(())
}

fn row(page: &mut Page<'_>, one: &LoggedRow, style: &Style, kilograms: &Format) -> Result<(), BookError> {
    page.day(0, one.date, &style.day)?;
    let texts =
        [(3, &one.work), (4, &one.rung), (5, &one.purpose), (9, &one.stop), (14, &one.tempo), (17, &one.id)];
    for (column, text) in texts {
        page.put(column, text, &style.cell)?;
    }
    page.put(16, &one.note, &style.wrapped)?;
    let numbers = [
        (1, Some(one.session)),
        (2, Some(one.set_number)),
        (6, one.reps),
        (7, one.seconds),
        (8, one.planned_target),
        (10, one.reps_in_reserve),
        (11, one.rest_seconds),
        (15, one.pain),
    ];
    for (column, number) in numbers {
        if let Some(number) = number {
            page.number(column, f64::from(number), &style.number)?;
        }
    }
    if one.load_kg != 0.0 {
        page.number(12, one.load_kg, kilograms)?;
    }
    if let Some(mass) = one.body_mass_kg {
        page.number(13, mass, kilograms)?;
    }
    page.set_lines(lines(&one.note, 40))?;
    page.next();
    Ok(())
}
