//! Parcel: sets of one athlete that go to the service together, with the rows they come from.

use std::collections::BTreeSet;
use std::time::Duration;

use nextrung_api::v1;
use nextrung_domain::problem::Problem;
use nextrung_sheet::stage::Spot;

use super::conflict::Conflict;
use crate::connection::{Connection, PAGE_SIZE, answer};
use crate::failure::{Detail, Failure};
use crate::refusal::Refusal;
use crate::request_id;

/// Most sets of a parcel, as the contract has it.
pub(super) const MOST_SETS: usize = 1000;

/// Times that a parcel is sent again to a service that has too much to do.
const MOST_WAITS: usize = 60;
/// The wait in between where the service says none, and the longest.
const WAIT: Duration = Duration::from_secs(1);
const LONGEST_WAIT: Duration = Duration::from_secs(10);

/// Sets of one athlete.
#[derive(Debug, Default, Clone)]
pub(super) struct Parcel {
    /// The athlete, a resource name.
    pub(super) athlete: String,
    pub(super) sets: Vec<v1::LoggedSet>,
    /// Where each set stands in its sheet.
    pub(super) spots: Vec<Spot>,
}

/// What the service says of a parcel.
#[derive(Debug, Default)]
pub(super) struct Checked {
    /// What is wrong with sets, by where they stand; fields named as in the contract.
    pub(super) refused: Vec<(Spot, Problem)>,
    /// Sound sets that it does not know yet.
    pub(super) fresh: usize,
    /// Sound sets that it knows already.
    pub(super) known: usize,
    /// Where the athlete's log stood.
    pub(super) position: i64,
    /// True when more than enough was wrong and the rest was not looked at.
    pub(super) is_cut: bool,
}

impl Parcel {
    /// Sends the sets, to be kept or only to be looked at; again after a while when the service has too much to do. Fails when
    /// the service keeps none.
    pub(super) async fn submit(
        &self,
        service: &Connection,
        validate_only: bool,
    ) -> Result<v1::RecordSetsResponse, Failure> {
        let request_id = request_id::random()?;
        let mut waits = 0..MOST_WAITS;
        loop {
            let request = v1::RecordSetsRequest {
                parent: self.athlete.clone(),
                sets: self.sets.clone(),
                request_id: request_id.clone(),
                validate_only,
            };
            match answer(service.sets().record_sets(request)).await {
                Err(Failure::Refused(refusal)) if refusal.is_too_busy() && waits.next().is_some() => {
                    tokio::time::sleep(refusal.wait.unwrap_or(WAIT).min(LONGEST_WAIT)).await;
                }
                done => return done,
            }
        }
    }

    /// Has the service look at the sets and keep none. It names only so many bad fields at a time, so what is bad is taken
    /// out and the rest looked at again, until all is sound or `most` are bad. Fails on what is not about a set.
    pub(super) async fn check(&mut self, service: &Connection, most: usize) -> Result<Checked, Failure> {
        let mut checked = Checked::default();
        while !self.sets.is_empty() {
            let refusal = match self.submit(service, true).await {
                Ok(answered) => {
                    checked.known = answered.sets.iter().filter(|set| set.sequence > 0).count();
                    checked.fresh = answered.sets.len() - checked.known;
                    checked.position = answered.log_position;
                    return Ok(checked);
                }
                Err(Failure::Refused(refusal)) => refusal,
                Err(failure) => return Err(failure),
            };
            let recorded = self.recorded(service, &refusal).await;
            let problems = self.problems(&refusal, &recorded);
            if problems.is_empty() {
                return Err(Failure::Refused(refusal));
            }
            let bad: BTreeSet<usize> = problems.iter().map(|(at, _)| *at).collect();
            let spot = |at: usize| self.spots.get(at).copied().unwrap_or_default();
            checked.refused.extend(problems.into_iter().map(|(at, problem)| (spot(at), problem)));
            self.take_out(&bad);
            if checked.refused.len() >= most {
                checked.is_cut = !self.sets.is_empty();
                return Ok(checked);
            }
        }
        Ok(checked)
    }

    /// What a refusal says of sets, by their place; nothing of it when it is about something else too. `recorded` has the
    /// sets that are known of those whose keys are.
    fn problems(&self, refusal: &Refusal, recorded: &[v1::LoggedSet]) -> Vec<(usize, Problem)> {
        let mut problems = Vec::new();
        for field in refusal.fields.iter().filter(|field| field.place != "...") {
            match of_set(field).filter(|(at, _)| *at < self.sets.len()) {
                Some(problem) => problems.push(problem),
                None => return Vec::new(),
            }
        }
        let reused = self.reused(refusal);
        let count = reused.len();
        problems.extend(reused.into_iter().map(|(at, here)| {
            let there = recorded.iter().find(|set| set.client_set_id == here.client_set_id);
            (at, Conflict { athlete: &self.athlete, here, there }.problem(count))
        }));
        problems
    }

    /// Sets whose keys the service knows with other content, by their place.
    fn reused(&self, refusal: &Refusal) -> Vec<(usize, &v1::LoggedSet)> {
        let ids = refusal.metadata.get("client_set_ids").into_iter().flat_map(|ids| ids.split(','));
        let ids: BTreeSet<&str> = ids.map(str::trim).collect();
        self.sets.iter().enumerate().filter(|(_, set)| ids.contains(set.client_set_id.as_str())).collect()
    }

    /// What is recorded on the days of the sets whose keys are known with other content. Only the words of a problem hang on
    /// it, so what the service does not tell is left out.
    async fn recorded(&self, service: &Connection, refusal: &Refusal) -> Vec<v1::LoggedSet> {
        let reused = self.reused(refusal);
        let day = |set: &v1::LoggedSet| set.training_date.map(|day| (day.year, day.month, day.day));
        let days = || reused.iter().filter_map(|(_, set)| day(set));
        let (Some(first), Some(last)) = (days().min(), days().max()) else { return Vec::new() };
        let date = |(year, month, day)| Some(v1::Date { year, month, day });
        let mut asked = v1::ListSetsRequest {
            parent: self.athlete.clone(),
            start_date: date(first),
            end_date: date(last),
            include_withdrawn: true,
            page_size: 2 * PAGE_SIZE,
            ..v1::ListSetsRequest::default()
        };
        let mut all = Vec::new();
        while let Ok(page) = answer(service.sets().list_sets(asked.clone())).await {
            all.extend(page.sets);
            if page.next_page_token.is_empty() {
                break;
            }
            asked.page_token = page.next_page_token;
        }
        all
    }

    fn take_out(&mut self, bad: &BTreeSet<usize>) {
        let mut at = 0..self.sets.len();
        self.sets.retain(|_| at.next().is_none_or(|at| !bad.contains(&at)));
        let mut at = 0..self.spots.len();
        self.spots.retain(|_| at.next().is_none_or(|at| !bad.contains(&at)));
    }
}

/// `sets[3].reps` with its description as the third set and a problem of its reps.
fn of_set(field: &Detail) -> Option<(usize, Problem)> {
    let (at, rest) = field.place.strip_prefix("sets[")?.split_once(']')?;
    let name = rest.strip_prefix('.').unwrap_or(rest);
    let text = field.text.strip_prefix("found ").unwrap_or(&field.text);
    let (found, expected) = text.split_once("; expected ").unwrap_or((text, "what the contract asks for"));
    Some((at.parse().ok()?, Problem::new(name, found, expected)))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use tonic::Code;

    use super::*;

    fn parcel(ids: &[&str]) -> Parcel {
        let set = |id: &&str| v1::LoggedSet { client_set_id: (*id).to_owned(), ..v1::LoggedSet::default() };
        Parcel {
            athlete: "rosters/hall/athletes/wren".to_owned(),
            sets: ids.iter().map(set).collect(),
            spots: (2..).map(Spot::of_row).take(ids.len()).collect(),
        }
    }

    fn refusal(places: &[&str], reused: &str) -> Refusal {
        let field = |place: &&str| Detail {
            place: (*place).to_owned(),
            text: "found `x`; expected a whole number; did you mean 5?".to_owned(),
        };
        Refusal {
            code: Code::InvalidArgument,
            message: String::new(),
            reason: "BAD_FIELDS".to_owned(),
            metadata: BTreeMap::from([("client_set_ids".to_owned(), reused.to_owned())]),
            fields: places.iter().map(field).collect(),
            request_id: None,
            wait: None,
        }
    }

    #[test]
    fn what_the_service_finds_is_placed_among_the_sets() {
        let parcel = parcel(&["a", "b", "c"]);
        let found = parcel.problems(&refusal(&["sets[1].reps", "sets[2]", "..."], "a, nobody"), &[]);
        let told: Vec<(usize, String)> = found.into_iter().map(|(at, p)| (at, p.to_string())).collect();
        let expected = "found `x`; expected a whole number; did you mean 5?";
        assert_eq!(told[0], (1, format!("reps: {expected}")));
        assert_eq!(told[1], (2, format!(": {expected}")));
        assert_eq!((told.len(), told[2].0), (3, 0));
        assert!(told[2].1.starts_with("client_set_id: found `a`, recorded before with other content"));
    }

    #[test]
    fn very_many_recorded_before_are_told_alike() {
        let ids: Vec<String> = (0..21).map(|n| n.to_string()).collect();
        let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
        let found = parcel(&ids).problems(&refusal(&[], &ids.join(",")), &[]);
        assert_eq!(found.len(), 21);
        let begins = |problem: &Problem| problem.expected.split(": ").next().unwrap().to_owned();
        assert_eq!(begins(&found[0].1), begins(&found[20].1));
    }

    #[test]
    fn what_is_not_about_a_set_is_no_problem_of_one() {
        let parcel = parcel(&["a"]);
        for place in ["parent", "sets[1].reps", "sets", "sets[x]"] {
            assert!(parcel.problems(&refusal(&["sets[0].reps", place], ""), &[]).is_empty(), "{place}");
        }
    }

    #[test]
    fn what_is_taken_out_goes_with_its_spot() {
        let mut parcel = parcel(&["a", "b", "c", "d"]);
        parcel.take_out(&BTreeSet::from([0, 2]));
        let left: Vec<&str> = parcel.sets.iter().map(|set| set.client_set_id.as_str()).collect();
        let rows: Vec<u32> = parcel.spots.iter().map(|spot| spot.row()).collect();
        assert_eq!((left.as_slice(), rows.as_slice()), (&["b", "d"][..], &[3, 5][..]));
    }
}
