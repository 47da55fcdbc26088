//! Power cut: the database's files as they may be after a cut at any point of a run, opened again.

use std::collections::BTreeSet;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use nextrung_prescribe::dice::Dice;
use nextrung_store::log::Place;
use tempfile::TempDir;

use crate::audit::{DAY, against, athletes};
use crate::check::{Finding, Wrong};
use crate::disk::{Disk, SyncFault, Target};
use crate::image::Image;
use crate::ledger::{Ledger, MADE, Sent};
use crate::load::{Clients, Load};
use crate::reading::{direct, disagreements, repeats, view};
use crate::scale::{self, Figures};
use crate::served::{Alone, Fleet, Launch};
use crate::trace::{self, Step};

/// A service on a disk whose every change is written down, and its ledger, whose answers are marked there.
pub(crate) struct Watched {
    pub(crate) alone: Alone,
    pub(crate) disk: Disk,
    pub(crate) ledger: Arc<Ledger>,
    trace: PathBuf,
}

impl Watched {
    pub(crate) fn start() -> Self {
        let mut under = None;
        let alone = Alone::with(|folder, launch| {
            let trace = folder.with_extension("trace");
            under = Some((Disk::under(launch, folder, Some(&trace)), trace));
        });
        let (disk, trace) = under.expect("it was started");
        let marks = File::options().append(true).open(&trace).expect("the trace");
        Self { alone, disk, ledger: Arc::new(Ledger::marking(marks)), trace }
    }

    /// Kills the service; what was done to its files, and what was sent.
    pub(crate) fn end(self) -> (Vec<Step>, Vec<Sent>) {
        self.alone.fleet.kill(0);
        (trace::read(&self.trace), self.ledger.all())
    }
}

/// A folder in memory, where the machine has such a place.
pub(crate) fn memory() -> TempDir {
    let place = Path::new("/dev/shm");
    if place.is_dir() { tempfile::tempdir_in(place) } else { tempfile::tempdir() }.expect("a folder")
}

/// Points of a trace at which the power is cut: some of all, and around what happens seldom.
pub(crate) fn points(steps: &[Step], count: usize, dice: &mut Dice) -> BTreeSet<usize> {
    let is_seldom = |step: &Step| match step {
        Step::Write { name, .. } | Step::Sync { name } => !name.ends_with("-wal"),
        Step::Mark { number } => *number == MADE,
        Step::Create { .. }
        | Step::Truncate { .. }
        | Step::FailedSync { .. }
        | Step::Unlink { .. }
        | Step::SyncFolder => true,
    };
    let seldom: Vec<usize> = (0..steps.len()).filter(|place| is_seldom(&steps[*place])).collect();
    let mut points = BTreeSet::from([steps.len()]);
    for number in 0..count {
        let around = dice.pick(&seldom).copied().unwrap_or_default() + dice.below(3);
        points.insert(if number % 3 == 0 { around.min(steps.len()) } else { dice.below(steps.len() + 1) });
    }
    points
}

/// What was found over many cuts.
pub(crate) struct Cuts {
    pub(crate) count: usize,
    /// Requests whose answer had come before a cut, over all cuts.
    pub(crate) answers: usize,
    pub(crate) found: Vec<Finding>,
}

/// Cuts the power at points of a trace, opens what is left and looks for what was answered by then; a service is started on
/// every `serve`th.
pub(crate) async fn cut(
    (steps, sent): (&[Step], &[Sent]),
    points: &BTreeSet<usize>,
    (count, serve): (usize, usize),
    dice: &mut Dice,
) -> Cuts {
    let athletes = athletes(count);
    let (mut image, mut marks) = (Image::default(), BTreeSet::new());
    let mut cuts = Cuts { count: 0, answers: 0, found: Vec::new() };
    for place in 0..=steps.len() {
        if points.contains(&place) {
            cuts.count += 1;
            let known = as_of(sent, &marks);
            cuts.answers += known.iter().filter(|one| one.answered.is_some()).count();
            let folder = memory();
            image.cut(folder.path(), dice);
            let there = if marks.contains(&MADE) { athletes.as_slice() } else { &[] };
            let mut found = look(folder.path(), &known, (&athletes, there)).await;
            if found.is_empty() && !there.is_empty() && cuts.count.is_multiple_of(serve) {
                found = served(folder.path(), &known, there).await;
            }
            let at =
                |finding: Finding| Finding { what: format!("cut at {place}: {}", finding.what), ..finding };
            cuts.found.extend(found.into_iter().map(at));
        }
        let Some(step) = steps.get(place) else { break };
        image.apply(step);
        if let Step::Mark { number } = step {
            marks.insert(*number);
        }
    }
    cuts
}

/// What was sent, with the answers that had come.
fn as_of(sent: &[Sent], marks: &BTreeSet<u64>) -> Vec<Sent> {
    let mut known = sent.to_vec();
    for (number, one) in (0..).zip(&mut known) {
        if !marks.contains(&number) {
            one.answered = None;
        }
    }
    known
}

async fn look(folder: &Path, known: &[Sent], (all, must): (&[String], &[String])) -> Vec<Finding> {
    match direct(&Place::File(folder.join("hall.db")), all).await {
        Err(error) => vec![Finding { wrong: Wrong::Lost, what: format!("it cannot be read: {error:?}") }],
        Ok(log) => {
            let there: Vec<String> =
                all.iter().filter(|id| must.contains(id) || log.logs.contains_key(*id)).cloned().collect();
            against(&log, known, &there)
        }
    }
}

/// What a service that is started on the files answers.
async fn served(folder: &Path, known: &[Sent], there: &[String]) -> Vec<Finding> {
    let file = folder.join("hall.db");
    let launch = Launch::on(file.to_str().expect("a path"), folder.join("service.log"));
    let fleet = Fleet::start(vec![launch]);
    let seen = view(fleet.channel(0).await, there, DAY).await.expect("a view");
    let mut found = repeats(fleet.channel(0).await, known).await;
    let again = view(fleet.channel(0).await, there, DAY).await.expect("a view");
    if seen != again {
        found.push(Finding { wrong: Wrong::Unequal, what: "repeats changed the log".to_owned() });
    }
    assert_eq!(fleet.terminate(0), 0, "{}", fleet.log(0));
    found.extend(disagreements(&again, &direct(&Place::File(file), there).await.expect("the log")));
    found
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_power_cut_loses_nothing_answered() {
    let figures = Figures::begin("power cuts of a service on a file");
    let watched = Watched::start();
    let load = Load { clients: 8, athletes: 4, ..Load::default() };
    let answers = scale::of(120, 1200);
    let mut clients = Clients::start(&watched.alone.fleet, &watched.ledger, load, "c").await;
    clients.answered(answers).await;
    clients.abandon().await;
    // An end in order moves the write-ahead log into the file and begins a new one.
    assert_eq!(watched.alone.fleet.terminate(0), 0);
    watched.alone.fleet.revive(0);
    let mut clients = Clients::go_on(&watched.alone.fleet, &watched.ledger, load, "d");
    clients.answered(answers).await;
    clients.abandon().await;
    let (steps, sent) = watched.end();
    let mut dice = Dice::new(scale::seed(), 2_000);
    let points = points(&steps, scale::of(150, 1500), &mut dice);
    let cuts = cut((&steps, &sent), &points, (load.athletes, scale::of(60, 100)), &mut dice).await;
    let syncs = steps.iter().filter(|step| matches!(step, Step::Sync { .. })).count();
    figures.tell(
        &[
            ("cuts", cuts.count),
            ("changes", steps.len()),
            ("syncs", syncs),
            ("answers looked for", cuts.answers),
        ],
        &cuts.found,
    );
}

/// What `synchronous=NORMAL` or `OFF` would do: commits that are answered and not synced.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_commits_that_are_not_synced_are_found() {
    let watched = Watched::start();
    let load = Load { clients: 8, athletes: 4, ..Load::default() };
    let mut clients = Clients::start(&watched.alone.fleet, &watched.ledger, load, "c").await;
    watched.disk.fail_sync(SyncFault::Never, Target::WriteAheadLog, 0);
    clients.answered(60).await;
    clients.abandon().await;
    assert!(watched.disk.syncs_failed() > 0);
    let (steps, sent) = watched.end();
    let mut dice = Dice::new(scale::seed(), 2_001);
    let points = points(&steps, 20, &mut dice);
    let cuts = cut((&steps, &sent), &points, (load.athletes, usize::MAX), &mut dice).await;
    assert!(cuts.found.iter().any(|finding| finding.wrong == Wrong::Lost), "{:?}", cuts.found.first());
}
