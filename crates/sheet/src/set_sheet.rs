//! Set sheet: a whole sheet read at once, with every problem it has.

use nextrung_domain::problem::Problem;

use crate::cell::shown;
use crate::set_reader::SetReader;
use crate::set_row::{SheetRow, place};

/// Most problems reported one by one; a last one says how many more there are.
pub const MAX_PROBLEMS: usize = 200;

/// The sets of a sheet, in its order.
pub type SheetRows = Vec<SheetRow>;

/// Reads a whole sheet. Fails with every problem found, up to [`MAX_PROBLEMS`] and one more that counts the rest; a sheet
/// without rows and a key used twice for one athlete are problems too.
pub fn read_sets(bytes: &[u8]) -> Result<SheetRows, Vec<Problem>> {
    let mut rows = Vec::new();
    let mut found = Found::default();
    for read in SetReader::open(bytes)? {
        match read {
            Ok(row) => rows.push(row),
            Err(problems) => problems.into_iter().for_each(|p| found.add(p)),
        }
    }
    if rows.is_empty() && found.problems.is_empty() {
        found.add(Problem::new("file", "a header without rows", "a row for each set"));
    }
    report_repeated_keys(&rows, &mut found);
    if found.problems.is_empty() { Ok(rows) } else { Err(found.closed()) }
}

/// Problems kept, and how many more there were.
#[derive(Default)]
struct Found {
    problems: Vec<Problem>,
    more: usize,
}

impl Found {
    fn add(&mut self, problem: Problem) {
        if self.problems.len() < MAX_PROBLEMS { self.problems.push(problem) } else { self.more += 1 }
    }

    fn closed(mut self) -> Vec<Problem> {
        if self.more > 0 {
            let found = format!("{} more problems", self.more);
            self.problems.push(Problem::new("file", found, "the problems above mended first"));
        }
        self.problems
    }
}

fn report_repeated_keys(rows: &[SheetRow], found: &mut Found) {
    let mut keys: Vec<(&str, &str, usize)> =
        rows.iter().map(|r| (r.athlete.as_str(), r.draft.client_set_id.as_str(), r.row)).collect();
    keys.sort_unstable();
    for pair in keys.windows(2) {
        let ((athlete, id, first), (next_athlete, next_id, row)) = (pair[0], pair[1]);
        if (athlete, id) == (next_athlete, next_id) {
            let what = format!("{} as in {}", shown(id), place(first));
            let expected =
                "a key used once for each athlete; where it is derived, a set number used once in a session";
            found.add(Problem::new(format!("{}.client_set_id", place(row)), what, expected));
        }
    }
}
