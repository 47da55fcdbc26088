//! Row: one line of a CSV log.

use nextrung_domain::date::CivilDate;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::hall::HallError;

/// The columns, in order.
pub const COLUMNS: [&str; 20] = [
    "athlete",
    "training_date",
    "session",
    "set_number",
    "rung",
    "purpose",
    "shadings",
    "reps",
    "hold_seconds",
    "lowering_seconds",
    "planned_target",
    "stop",
    "reps_in_reserve",
    "rest_seconds",
    "load_kg",
    "body_mass_kg",
    "tempo",
    "pain",
    "client_set_id",
    "note",
];

/// One set as it was logged.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The athlete's id.
    pub athlete: &'static str,
    /// The day.
    pub date: CivilDate,
    /// Set of the session.
    pub number: u16,
    /// `ladder/rung`.
    pub rung: String,
    /// What for.
    pub purpose: Purpose,
    /// A change to the rung.
    pub shading: Option<String>,
    /// The rung's unit.
    pub unit: Unit,
    /// Clean units.
    pub done: u16,
    /// Target set before.
    pub target: Option<u16>,
    /// How it ended.
    pub stop: Stop,
    /// Reps in reserve.
    pub reserve: Option<u16>,
    /// Rest before, seconds.
    pub rest: Option<u16>,
    /// Kilograms added.
    pub load_kg: Option<f64>,
    /// Body mass of the day.
    pub body_mass_kg: Option<f64>,
    /// Tempo.
    pub tempo: &'static str,
    /// Pain of 10.
    pub pain: Option<u8>,
    /// Note.
    pub note: String,
}

impl Row {
    /// The client's key: athlete, day and number.
    pub fn id(&self) -> String {
        format!("{}-{}-{:02}", self.athlete, self.date, self.number)
    }

    /// The fields in the order of [`COLUMNS`].
    pub fn fields(&self) -> [String; 20] {
        let in_unit = |unit: Unit| if self.unit == unit { self.done.to_string() } else { String::new() };
        [
            self.athlete.to_owned(),
            self.date.to_string(),
            "1".to_owned(),
            self.number.to_string(),
            self.rung.clone(),
            self.purpose.word().to_owned(),
            self.shading.clone().unwrap_or_default(),
            in_unit(Unit::Reps),
            in_unit(Unit::HoldSeconds),
            in_unit(Unit::LoweringSeconds),
            text(self.target),
            self.stop.word().to_owned(),
            text(self.reserve),
            text(self.rest),
            text(self.load_kg),
            text(self.body_mass_kg),
            self.tempo.to_owned(),
            text(self.pain),
            self.id(),
            self.note.clone(),
        ]
    }
}

fn text<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |v| v.to_string())
}

/// The rows as CSV with a heading; lines end in a line feed.
pub fn csv(rows: &[Row]) -> Result<String, HallError> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for row in rows {
        writer.write_record(row.fields())?;
    }
    let bytes = writer.into_inner().map_err(|e| HallError::Unfinished { why: e.to_string() })?;
    String::from_utf8(bytes).map_err(|e| HallError::Unfinished { why: e.to_string() })
}
