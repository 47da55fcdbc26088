//! Refused: what somebody else found wrong with sets that were handed out, by where they stand.

use nextrung_domain::problem::Problem;

use super::spot::Spot;

/// Kinds of problems kept apart; further ones are told as the last of them.
const MAX_KINDS: usize = 1000;
/// Texts kept of what was found for each kind.
const NAMED: usize = 5;

/// What somebody else found wrong with sets that were handed out, such as the service that they are for. Takes twelve bytes
/// for each problem: the same words are kept once.
#[derive(Debug, Clone, Default)]
pub struct Refused {
    problems: Vec<Problem>,
    /// Spot and problem, in their order.
    spots: Vec<(Spot, u32)>,
}

impl Refused {
    /// The same with further problems of sets, each with where they stand; fields are named as in the contract.
    #[must_use]
    pub fn with(&self, problems: impl IntoIterator<Item = (Spot, Problem)>) -> Self {
        let mut all = self.clone();
        problems.into_iter().for_each(|(spot, problem)| all.add(spot, problem));
        all.spots.sort_unstable();
        all.spots.dedup();
        all
    }

    fn add(&mut self, spot: Spot, problem: Problem) {
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
        self.spots.push((spot, u32::try_from(at).unwrap_or(u32::MAX)));
    }

    /// How many problems were noted.
    pub fn len(&self) -> usize {
        self.spots.len()
    }

    /// True when there is none.
    pub fn is_empty(&self) -> bool {
        self.spots.is_empty()
    }

    /// The problems of what stands at a spot.
    pub(super) fn of(&self, spot: Spot) -> impl Iterator<Item = &Problem> {
        let from = self.spots.partition_point(|(at, _)| *at < spot);
        let own = self.spots.iter().skip(from).take_while(move |(at, _)| *at == spot);
        own.filter_map(|(_, at)| self.problems.get(usize::try_from(*at).ok()?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn problems_are_kept_by_row_and_the_same_words_once() {
        let reps = |row: u32| (Spot::of_row(row), Problem::new("reps", row.to_string(), "fewer: look again"));
        let refused = Refused::default().with((2..=1000).rev().map(reps));
        let refused = refused.with([(Spot::of_row(7), Problem::new("stop", "nothing", "one of them"))]);
        assert_eq!((refused.problems.len(), refused.len()), (NAMED + 1, 1000));
        let fields = |row: u32| {
            refused.of(Spot::of_row(row)).map(|problem| problem.field.as_str()).collect::<Vec<_>>()
        };
        assert_eq!(fields(7), ["reps", "stop"]);
        assert_eq!(fields(1000), ["reps"]);
        assert!(fields(1).is_empty() && fields(1001).is_empty());
        assert_eq!(refused.of(Spot::of_cell(7, 0)).count(), 0, "of another cell of the row");
    }
}
