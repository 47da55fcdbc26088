//! Column: what stands in each column of the table of predictions, the same in CSV and Parquet.
//!
//! A row is one prediction of one set by one forecaster. A set is scored before anybody learns from it, in the order of
//! arrival. Scores are losses: smaller is better. Cells marked `?` may be empty (null in Parquet). Parquet holds text as
//! UTF-8 strings, whole numbers as INT32, numbers as DOUBLE; CSV writes numbers with as many digits as it takes to read the
//! same number back.
//!
//! | column | holds | unit and meaning |
//! |---|---|---|
//! | `athlete` | text | whose set |
//! | `set` | text | the set's own key, as the log has it |
//! | `training_date` | date | the day it was trained |
//! | `session` | whole | which session of that day, from 1 |
//! | `set_number` | whole | which set of that session, from 1 |
//! | `arrived_at` | moment | when the log took it in, UTC, to the millisecond |
//! | `rung` | text | `ladder/rung` |
//! | `unit` | text | what is counted: `reps`, `hold-seconds` or `lowering-seconds` |
//! | `purpose` | text | what the set was for |
//! | `target` | whole? | units planned; empty where none were |
//! | `done` | whole | clean units done |
//! | `stop` | text | how it ended |
//! | `forecaster` | text | who foretold it |
//! | `top` | whole | units up to which was foretold; counts from there on are told as one |
//! | `log_score` | number | minus the ln of the chance given to how it ended, cause included, nats |
//! | `log_score_of_count` | number | the same of the count alone, nats |
//! | `chance_strength` | number | chance given to a failure of strength before the top, 0 to 1 |
//! | `chance_balance` | number | the same of balance |
//! | `chance_line` | number | the same of line |
//! | `ranked_score` | number? | ranked probability score, units; this and all that follows only where the set went on to its target or a failure |
//! | `rank` | number? | place of the count in what was foretold, 0 to 1, ties broken by lot |
//! | `low_edge_chance` | number? | chance given to the low end of the working band or more, 0 to 1; empty where the top lies below it |
//! | `low_edge_came` | flag? | whether it was reached |
//! | `high_edge_chance` | number? | chance given to more than the high end of the working band, 0 to 1; empty where the top lies below that |
//! | `high_edge_came` | flag? | whether it was passed |
//! | `interval_50_chance` | number? | chance of the central 50 % interval; counts are whole, so it holds at least that |
//! | `interval_50_holds` | flag? | whether the count lay in it |
//! | `interval_80_chance` | number? | the same of 80 % |
//! | `interval_80_holds` | flag? | whether the count lay in it |
//! | `interval_95_chance` | number? | the same of 95 % |
//! | `interval_95_holds` | flag? | whether the count lay in it |
//! | `interval_80_low` | whole? | fewest units in the central 80 % interval |
//! | `interval_80_high` | whole? | most units in it; at the top it means that or more |

use crate::evaluate::row::Row;
use crate::evaluate::set_score::WholeScore;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// A civil date.
    Date,
    /// A moment, to the millisecond.
    Moment,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Yes or no.
    Flag,
}

/// What one cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cell<'r> {
    /// Nothing.
    Empty,
    /// Text.
    Text(&'r str),
    /// Days since 1970-01-01.
    Date(i32),
    /// Milliseconds since 1970-01-01 UTC.
    Moment(i64),
    /// A whole number.
    Whole(i32),
    /// A number.
    Number(f64),
    /// Yes or no.
    Flag(bool),
}

/// A prediction with the name of who made it, and texts of it that the row does not keep as such.
#[derive(Debug, Clone, Copy)]
pub struct Prediction<'r> {
    /// The prediction.
    pub row: &'r Row,
    /// The name of the forecaster.
    pub forecaster: &'r str,
}

/// A column.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Whether cells may be empty.
    pub is_optional: bool,
    /// Its cell of a prediction.
    pub cell: for<'r> fn(&Prediction<'r>) -> Cell<'r>,
}

const fn needed(name: &'static str, kind: Kind, cell: for<'r> fn(&Prediction<'r>) -> Cell<'r>) -> Column {
    Column { name, kind, is_optional: false, cell }
}

const fn optional(name: &'static str, kind: Kind, cell: for<'r> fn(&Prediction<'r>) -> Cell<'r>) -> Column {
    Column { name, kind, is_optional: true, cell }
}

/// Every column, in order.
pub const COLUMNS: [Column; 33] = [
    needed("athlete", Kind::Text, |p| Cell::Text(&p.row.athlete)),
    needed("set", Kind::Text, |p| Cell::Text(&p.row.set)),
    needed("training_date", Kind::Date, |p| Cell::Date(p.row.date.day_number())),
    needed("session", Kind::Whole, |p| Cell::Whole(p.row.session.into())),
    needed("set_number", Kind::Whole, |p| Cell::Whole(p.row.number.into())),
    needed("arrived_at", Kind::Moment, |p| Cell::Moment(p.row.arrived_at_ms)),
    needed("rung", Kind::Text, |p| Cell::Text(&p.row.rung)),
    needed("unit", Kind::Text, |p| Cell::Text(p.row.unit.word())),
    needed("purpose", Kind::Text, |p| Cell::Text(p.row.purpose.word())),
    optional("target", Kind::Whole, |p| p.row.target.map_or(Cell::Empty, |units| Cell::Whole(units.into()))),
    needed("done", Kind::Whole, |p| Cell::Whole(p.row.done.into())),
    needed("stop", Kind::Text, |p| Cell::Text(p.row.stop.word())),
    needed("forecaster", Kind::Text, |p| Cell::Text(p.forecaster)),
    needed("top", Kind::Whole, |p| Cell::Whole(p.row.top.into())),
    needed("log_score", Kind::Number, |p| Cell::Number(p.row.log_ending)),
    needed("log_score_of_count", Kind::Number, |p| Cell::Number(p.row.log_count)),
    needed("chance_strength", Kind::Number, |p| Cell::Number(p.row.failed[0])),
    needed("chance_balance", Kind::Number, |p| Cell::Number(p.row.failed[1])),
    needed("chance_line", Kind::Number, |p| Cell::Number(p.row.failed[2])),
    optional("ranked_score", Kind::Number, |p| whole(p, |w| Cell::Number(w.ranked))),
    optional("rank", Kind::Number, |p| whole(p, |w| Cell::Number(w.rank))),
    optional("low_edge_chance", Kind::Number, |p| edge(p, 0, |(chance, _)| Cell::Number(chance))),
    optional("low_edge_came", Kind::Flag, |p| edge(p, 0, |(_, came)| Cell::Flag(came))),
    optional("high_edge_chance", Kind::Number, |p| edge(p, 1, |(chance, _)| Cell::Number(chance))),
    optional("high_edge_came", Kind::Flag, |p| edge(p, 1, |(_, came)| Cell::Flag(came))),
    optional("interval_50_chance", Kind::Number, |p| whole(p, |w| Cell::Number(w.intervals[0].0))),
    optional("interval_50_holds", Kind::Flag, |p| whole(p, |w| Cell::Flag(w.intervals[0].1))),
    optional("interval_80_chance", Kind::Number, |p| whole(p, |w| Cell::Number(w.intervals[1].0))),
    optional("interval_80_holds", Kind::Flag, |p| whole(p, |w| Cell::Flag(w.intervals[1].1))),
    optional("interval_95_chance", Kind::Number, |p| whole(p, |w| Cell::Number(w.intervals[2].0))),
    optional("interval_95_holds", Kind::Flag, |p| whole(p, |w| Cell::Flag(w.intervals[2].1))),
    optional("interval_80_low", Kind::Whole, |p| whole(p, |w| units(w.middle.0))),
    optional("interval_80_high", Kind::Whole, |p| whole(p, |w| units(w.middle.1))),
];

fn whole<'r>(prediction: &Prediction<'r>, cell: impl FnOnce(&WholeScore) -> Cell<'r>) -> Cell<'r> {
    prediction.row.whole.as_ref().map_or(Cell::Empty, cell)
}

fn edge<'r>(
    prediction: &Prediction<'r>,
    which: usize,
    cell: impl FnOnce((f64, bool)) -> Cell<'r>,
) -> Cell<'r> {
    prediction.row.whole.and_then(|whole| whole.edges[which]).map_or(Cell::Empty, cell)
}

/// Tops of predictions are sixteen bits wide, and intervals end there.
fn units(count: usize) -> Cell<'static> {
    Cell::Whole(i32::try_from(count).unwrap_or(i32::MAX))
}
