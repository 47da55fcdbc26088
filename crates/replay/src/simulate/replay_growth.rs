//! Replay growth: what a replay of a file costs as the file grows, in time and in memory.

use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use nextrung_domain::catalog::Catalog;

use crate::advice::Advisers;
use crate::evaluate::crew::Crew;
use crate::evaluate::panel::Who;
use crate::evaluate::run::{Replay, service_rules};
use crate::evaluate::selection::Selection;
use crate::evaluate::source::SourceError;
use crate::files::roster_files::{BadRows, RosterFiles};
use crate::simulate::bootstrap::count;
use crate::simulate::crowd::{CrowdPlan, files, roster};
use crate::simulate::family;
use crate::simulate::world::PULL;

/// A table in Markdown: rosters of more and more athletes on pulls, each written to a folder and replayed from its file on one
/// thread, the service alone foretelling. Seconds are those of the processor, so that what else runs does not count; memory is the
/// most that was resident, in MB of 2^20 bytes.
///
/// # Errors
///
/// Whatever keeps a roster from being written or replayed.
pub fn table(
    catalog: &Arc<Catalog>,
    (sizes, weeks): (&[u64], i32),
    seed: u64,
    folder: &Path,
) -> Result<String, SourceError> {
    let mut text = String::from(
        "| athletes | sets | file, MB | both readings, s | sets a second | most memory, MB |\n|---|---|---|---|---|---|\n",
    );
    for &athletes in sizes {
        let plan = CrowdPlan {
            families: family::named("own-choice").into_iter().collect(),
            worlds: vec![PULL],
            athletes,
            weeks,
            seed,
        };
        let folder = folder.join(format!("{athletes}-athletes"));
        let sets = files::write(&roster(catalog, plan)?, &folder)?.sets;
        let file = folder.join("sets.csv");
        let megabytes = mega(std::fs::metadata(&file)?.len());
        forget_most_memory()?;
        let before = processor_seconds()?;
        replayed(catalog, &file)?;
        let seconds = processor_seconds()? - before;
        let rate = count(usize::try_from(sets)?) / seconds;
        writeln!(
            text,
            "| {athletes} | {sets} | {megabytes:.1} | {seconds:.2} | {rate:.0} | {:.0} |",
            most_memory()?
        )?;
    }
    Ok(text)
}

fn replayed(catalog: &Arc<Catalog>, file: &Path) -> Result<(), SourceError> {
    let (model, policy) = service_rules(Arc::clone(catalog));
    let replay = Replay {
        model: Arc::new(model),
        challenger: None,
        policy,
        advisers: Advisers::default(),
        who: vec![Who::Service],
        selection: Selection::default(),
        seed: 1,
        crew: Crew::of(1),
    };
    let source = RosterFiles::new(
        file.to_owned(),
        std::collections::BTreeMap::new(),
        Arc::clone(catalog),
        BadRows::Refuse,
    );
    let learned = replay.learn(&source, &mut |_| true)?;
    replay.score(&learned, &source, None, &mut |_| true)?;
    Ok(())
}

/// Bytes in units of 2^20.
fn mega(bytes: u64) -> f64 {
    count(usize::try_from(bytes).unwrap_or(usize::MAX)) / 1_048_576.0
}

/// Seconds of processor that the process has used (proc(5), fields 14 and 15 of `stat`, in hundredths).
fn processor_seconds() -> Result<f64, SourceError> {
    let stat = std::fs::read_to_string("/proc/self/stat")?;
    // The name of the program, in parentheses, may hold anything.
    let (_, rest) = stat.rsplit_once(") ").ok_or("no name in /proc/self/stat")?;
    let used = rest.split(' ').skip(11).take(2).map(str::parse::<u32>);
    Ok(used.sum::<Result<u32, _>>().map(f64::from)? / 100.0)
}

/// Sets the mark of the most memory back to what is resident now (proc(5), `clear_refs`).
fn forget_most_memory() -> Result<(), SourceError> {
    Ok(std::fs::write("/proc/self/clear_refs", "5")?)
}

/// The most memory that was resident since, in MB (proc(5), `VmHWM`).
fn most_memory() -> Result<f64, SourceError> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line =
        status.lines().find_map(|line| line.strip_prefix("VmHWM:")).ok_or("no VmHWM in /proc/self/status")?;
    let kilobytes: f64 = line.trim().trim_end_matches("kB").trim().parse()?;
    Ok(kilobytes / 1024.0)
}
