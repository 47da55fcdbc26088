//! Refused: what somebody else found wrong with sets that were handed out, by row.

use nextrung_domain::problem::Problem;

/// Kinds of problems kept apart; further ones are told as the last of them.
const MAX_KINDS: usize = 1000;
/// Texts kept of what was found for each kind.
const NAMED: usize = 5;

/// What somebody else found wrong with sets that were handed out, such as the service that they are for. Takes eight bytes
/// for each problem: the same words are kept once.
#[derive(Debug, Clone, Default)]
pub struct Refused {
    problems: Vec<Problem>,
    /// Row and problem, in their order.
    rows: Vec<(u32, u32)>,
}

impl Refused {
    /// The same with further problems of sets, each with its row; fields are named as in the contract.
    #[must_use]
    pub fn with(&self, problems: impl IntoIterator<Item = (u32, Problem)>) -> Self {
        let mut all = self.clone();
        problems.into_iter().for_each(|(row, problem)| all.add(row, problem));
        all.rows.sort_unstable();
        all.rows.dedup();
        all
    }

    fn add(&mut self, row: u32, problem: Problem) {
        let kind = |text: &str| text.split(": ").next().unwrap_or_default().to_owned();
        let own = kind(&problem.expected);
        let alike: Vec<usize> = self
            .problems
            .iter()
            .enumerate()
            .filter(|(_, known)| known.field == problem.field && kind(&known.expected) == own)
            .map(|(at, _)| at)
            .collect();
        let same = alike.iter().copied().find(|at| self.problems[*at] == problem);
        let at = match (same, alike.as_slice()) {
            (Some(at), _) => at,
            (None, [first, ..]) if alike.len() >= NAMED => *first,
            (None, _) if self.problems.len() >= MAX_KINDS => self.problems.len() - 1,
            (None, _) => {
                self.problems.push(problem);
                self.problems.len() - 1
            }
        };
        self.rows.push((row, u32::try_from(at).unwrap_or(u32::MAX)));
    }

    /// How many problems were noted.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True when there is none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The problems of a row.
    pub(super) fn of(&self, row: u32) -> impl Iterator<Item = &Problem> {
        let from = self.rows.partition_point(|(at, _)| *at < row);
        let own = self.rows.iter().skip(from).take_while(move |(at, _)| *at == row);
        own.filter_map(|(_, at)| self.problems.get(usize::try_from(*at).ok()?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn problems_are_kept_by_row_and_the_same_words_once() {
        let reps = |row: u32| (row, Problem::new("reps", row.to_string(), "fewer: look again"));
        let refused = Refused::default().with((2..=1000).rev().map(reps));
        let refused = refused.with([(7, Problem::new("stop", "nothing", "one of them"))]);
        assert_eq!((refused.problems.len(), refused.len()), (NAMED + 1, 1000));
        let fields = |row: u32| refused.of(row).map(|problem| problem.field.as_str()).collect::<Vec<_>>();
        assert_eq!(fields(7), ["reps", "stop"]);
        assert_eq!(fields(1000), ["reps"]);
        assert!(fields(1).is_empty() && fields(1001).is_empty());
    }
}
