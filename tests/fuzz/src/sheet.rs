//! Sheet: CSV of sets, read whole, piece by piece and once more as it is written.

use nextrung_domain::problem::Problem;
use nextrung_sheet::{
    Column, MAX_PROBLEMS, SetReader, SetStream, SheetRow, SheetRows, StreamError, read_sets, write_sets,
};

use crate::allowance::Allowance;

/// A row takes under 40 bytes at least, and its set about 500.
const ALLOWANCE: Allowance = Allowance { held: (256 << 10, 64), taken: (4 << 20, 2048) };

/// Judges a sheet of any bytes.
pub(crate) fn judge(bytes: &[u8]) {
    let rows = match ALLOWANCE.watch(bytes.len(), || read_sets(bytes)) {
        Ok(rows) => rows,
        Err(problems) => {
            assert!((1..=MAX_PROBLEMS + 1).contains(&problems.len()), "{} problems", problems.len());
            problems.iter().for_each(told);
            walked(bytes);
            return;
        }
    };
    assert!(!rows.is_empty());
    assert!(rows.is_sorted_by(|a, b| a.row < b.row));
    assert_eq!(walked(bytes), rows, "a walk sees what is read at once");
    written(&rows);
}

/// A problem names a row and a column, or the header, or the file.
fn told(problem: &Problem) {
    assert!(!problem.found.is_empty() && !problem.expected.is_empty(), "{problem:?}");
    let inside = |name: &str| {
        let rest = problem.field.strip_prefix(name)?.strip_prefix('[')?;
        let (number, rest) = rest.split_once(']')?;
        number.parse::<usize>().ok().filter(|n| *n > 0).map(|_| rest)
    };
    let is_column = |rest: &str| {
        rest.is_empty()
            || rest.strip_prefix('.').is_some_and(|c| c == "done" || Column::from_name(c).is_some())
    };
    let is_named = matches!(problem.field.as_str(), "file" | "header")
        || inside("header").is_some_and(str::is_empty)
        || inside("row").is_some_and(is_column);
    assert!(is_named, "{problem:?}");
}

/// The sound rows of a walk over the sheet; a stream of it sees the same rows and the same problems.
fn walked(bytes: &[u8]) -> SheetRows {
    let walk: Result<Vec<Result<SheetRow, Vec<Problem>>>, Vec<Problem>> =
        SetReader::open(bytes).map(Iterator::collect);
    let mut stream = SetStream::new(bytes).map(|row| match row {
        Ok(row) => Ok(row),
        Err(StreamError::Problems(problems)) => Err(problems),
        Err(StreamError::Unreadable(error)) => unreachable!("bytes in memory: {error}"),
    });
    let rows = match walk {
        Err(problems) => {
            assert_eq!(stream.next(), Some(Err(problems)));
            Vec::new()
        }
        Ok(rows) => {
            rows.iter().for_each(|row| assert_eq!(stream.next().as_ref(), Some(row)));
            rows
        }
    };
    assert_eq!(stream.next(), None);
    rows.into_iter().filter_map(Result::ok).collect()
}

/// What is written of the rows reads the same.
fn written(rows: &[SheetRow]) {
    let mut text = Vec::new();
    let sets = rows.iter().map(|row| (row.athlete.as_str(), &row.draft));
    write_sets(&mut text, sets).unwrap_or_else(|error| unreachable!("a vector takes every byte: {error}"));
    let again = read_sets(&text).unwrap_or_else(|problems| unreachable!("what was written: {problems:?}"));
    assert_eq!(again.len(), rows.len());
    for (row, again) in rows.iter().zip(&again) {
        assert_eq!((&again.athlete, &again.draft), (&row.athlete, &row.draft));
    }
}
