//! Rehearsal: a sheet judged as a whole, by itself and by the service, before any of it is kept.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_domain::problem::Problem;
use nextrung_sheet::stage::{Refused, Spot, Staged};

use super::job::{Job, Rehearsed};
use super::loading::Loading;
use super::parcel::Parcel;
use super::sending::Sending;
use crate::connection::Connection;
use crate::failure::Failure;
use crate::progress;

/// Refused sets after which a sheet is not looked at any further: by then it is the mapping that is wrong.
const MOST_REFUSED: usize = 5000;

/// What a sheet comes to.
#[derive(Debug)]
pub(super) struct Rehearsal {
    /// The name of the sheet, if it has one.
    pub(super) sheet: Option<String>,
    pub(super) staged: Arc<Staged>,
    pub(super) tally: Tally,
}

/// What the service knows of the sound sets.
#[derive(Debug, Default)]
pub(super) struct Tally {
    /// Sets that it does not know yet.
    pub(super) fresh: usize,
    /// Sets that it knows already.
    pub(super) known: usize,
    /// Where the log of each athlete stood.
    pub(super) positions: BTreeMap<String, i64>,
    /// True when it refused so much that the rest was not looked at.
    pub(super) is_cut: bool,
}

impl Tally {
    /// True when there is a sound set at all.
    pub(super) fn has_any(&self) -> bool {
        self.fresh + self.known > 0
    }
}

/// Judges a sheet: every row by itself, then every sound set by the service, which keeps none. Where bad rows are to be set
/// aside it goes on until the service finds nothing wrong with what is left.
pub(super) async fn rehearse(
    job: &Arc<Job>,
    service: &Connection,
    sets_aside: bool,
) -> Result<Rehearsal, Failure> {
    let mut refused = Arc::new(Refused::default());
    loop {
        let Rehearsed { sheet, staged } = job.rehearse(&refused).await?;
        let staged = Arc::new(staged);
        if !refused.is_empty() && !sets_aside {
            return Ok(Rehearsal { sheet, staged, tally: Tally::default() });
        }
        let (tally, found) = ask(job, &staged, service, refused.len()).await?;
        if found.is_empty() {
            return Ok(Rehearsal { sheet, staged, tally });
        }
        // Told among the others in the order of the rows, and their sessions torn like those of others.
        refused = Arc::new(refused.with(found));
        if tally.is_cut {
            let staged = Arc::new(job.rehearse(&refused).await?.staged);
            return Ok(Rehearsal { sheet, staged, tally });
        }
    }
}

/// What the service says of the sound sets.
async fn ask(
    job: &Arc<Job>,
    staged: &Arc<Staged>,
    service: &Connection,
    before: usize,
) -> Result<(Tally, Vec<(Spot, Problem)>), Failure> {
    let bar = progress::bar(staged.summary.sets, "checking");
    let (mut tally, mut refused) = (Tally::default(), Vec::new());
    let left = MOST_REFUSED.saturating_sub(before).max(1);
    let work = |mut parcel: Parcel| {
        let (service, sets) = (service.clone(), parcel.sets.len());
        async move { parcel.check(&service, left).await.map(|checked| (parcel.athlete, sets, checked)) }
    };
    let mut sending = Sending::begin(Loading::begin(job, staged), work);
    while let Some(answer) = sending.next().await {
        let (athlete, sets, checked) = answer?;
        tally.fresh += checked.fresh;
        tally.known += checked.known;
        tally.positions.insert(athlete, checked.position);
        refused.extend(checked.refused.into_iter().map(of_sheet));
        bar.inc(u64::try_from(sets).unwrap_or(u64::MAX));
        if checked.is_cut || before + refused.len() >= MOST_REFUSED {
            tally.is_cut = true;
            break;
        }
    }
    bar.finish_and_clear();
    sending.end().await?;
    Ok((tally, refused))
}

/// A problem as the sheet has it, which knows no keys: those are made here.
fn of_sheet((spot, mut problem): (Spot, Problem)) -> (Spot, Problem) {
    if problem.field == "client_set_id" {
        problem.field.clear();
    }
    (spot, problem)
}
