//! CSV in and out: a sheet of sets, one a row, as drafts of the domain; and sheets of other people's making in.
//!
//! The sheet of sets is the format of exchange and is read strictly; it is told below. What coaches keep otherwise, in CSV or
//! in workbooks (xlsx, ods), comes in by [`grid`] (rows of cells), [`mapping`] (what they mean), [`notation`] (sets within a
//! cell) and [`stage`] (checked as a whole, then handed out).
//!
//! # The sheet of sets
//!
//! A sheet is a text in UTF-8 (with or without a byte order mark) of at most [`MAX_BYTES`] bytes. Its first row is the
//! header; the rows after it, at most [`MAX_ROWS`], hold one set each. Cells are separated by commas, or by semicolons
//! when the header is; rows end in a line feed, a carriage return or both. A cell that holds a separator, a quote or a
//! line break stands in quotes, quotes within it doubled (RFC 4180). Blank rows are skipped. Columns come in any order:
//!
//! | column | needed | what it holds |
//! |---|---|---|
//! | `athlete` | yes | the athlete, in whatever words the caller resolves |
//! | `training_date` | yes | the day, `2026-03-14` |
//! | `session` | | session of that day; 1 when empty |
//! | `set_number` | yes | place of the set in its session, over all rungs |
//! | `rung` | yes | `ladder/rung` |
//! | `purpose` | yes | working, attempt, practice, test or free |
//! | `shadings` | | ids of shadings, separated by spaces |
//! | `reps`, `hold_seconds`, `lowering_seconds` | one | clean units done: exactly one of the three is filled in each row |
//! | `planned_target` | | the target set before the set, in the same unit |
//! | `stop` | yes | target, strength, balance, line, failed, chosen, pain, interrupted or other |
//! | `reps_in_reserve` | | 0 to 10 |
//! | `rest_seconds` | | rest before the set |
//! | `load_kg`, `body_mass_kg` | | kilograms with a decimal point |
//! | `tempo` | | four signs such as `31X1` |
//! | `pain` | | 0 to 10 |
//! | `client_set_id` | | the set's own key; derived when empty, see [`derived_set_id`] |
//! | `note` | | free text, kept to the letter; other cells are trimmed |
//!
//! An empty cell means not given. A sheet is judged by its form alone (is this a number, a day, one of the words);
//! ranges, names and contradictions are the domain's to check. Every problem is reported, named `row[7].reps`: the row
//! as a spreadsheet shows it, the header being row 1, then the column.
//!
//! A text that a spreadsheet would take for a formula (a note that begins with `=`, `+`, `-`, `@`, a tab or a line break) is
//! written with an apostrophe before it, which reading takes off again: see [`guarded`].
//!
//! ```
//! let sheet = "athlete,training_date,set_number,rung,purpose,reps,planned_target,stop\n\
//!              wren,2026-03-14,1,pull/pull-up,working,5,5,target\n";
//! let rows = nextrung_sheet::read_sets(sheet.as_bytes()).unwrap();
//! assert_eq!(rows[0].athlete, "wren");
//! assert_eq!(rows[0].draft.client_set_id, "wren:2026-03-14:1:1");
//!
//! let wrong = sheet.replace("working,5,", "working,5.5,");
//! let problems = nextrung_sheet::read_sets(wrong.as_bytes()).unwrap_err();
//! assert_eq!(problems[0].to_string(), "row[2].reps: found `5.5`; expected a whole number");
//! ```

mod cell;
mod column;
mod counted;
pub mod grid;
mod guard;
mod header;
pub mod mapping;
pub mod notation;
mod record;
mod set_reader;
mod set_row;
mod set_sheet;
mod set_stream;
mod set_writer;
pub mod stage;

pub use column::Column;
pub use counted::counted;
pub use guard::{guarded, is_like_a_formula, unguarded};
pub use set_reader::{MAX_BYTES, MAX_ROWS, SetReader};
pub use set_row::{SheetRow, derived_set_id};
pub use set_sheet::{MAX_PROBLEMS, SheetRows, read_sets};
pub use set_stream::{MAX_ROW_BYTES, SetStream, StreamError};
pub use set_writer::{SetWriter, write_cells, write_sets};
