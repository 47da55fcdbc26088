//! Loopback: what the service costs over gRPC on this machine.
//!
//! `cargo bench -p nextrung-server --bench loopback -- [parts] [prescribing] [recording]`, nothing else running. Prescribing: a
//! warm prescription that is not kept against an empty call whose answer has the same bytes, in short turns of both.
//! Recording: 16 clients with 4 calls of one set each in flight, against the same with a transaction for each, and against
//! one call at a time; on the disk of the target directory. Client and server share the process and its two threads.

use std::error::Error;
use std::io::Write;

mod athlete;
mod load;
mod parts;
mod prescribing;
mod raw;
mod recording;

type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() -> Outcome<()> {
    let dir = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let asked: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let is_wanted = |what: &str| asked.is_empty() || asked.iter().any(|word| word == what);
    say(&machine())?;
    if is_wanted("parts") {
        parts::show(dir.path()).await?;
    }
    if is_wanted("prescribing") {
        prescribing::compare(dir.path()).await?;
    }
    if is_wanted("recording") {
        recording::compare(dir.path()).await?;
    }
    Ok(())
}

fn say(line: &str) -> Outcome<()> {
    Ok(writeln!(std::io::stdout(), "{line}")?)
}

/// Processor and threads, as the kernel tells.
fn machine() -> String {
    let about = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = about.lines().find_map(|line| line.strip_prefix("model name")).unwrap_or(": unknown");
    let threads = std::thread::available_parallelism().map_or(0, std::num::NonZero::get);
    format!("machine: {}, {threads} threads", model.trim_start_matches([' ', '\t', ':']))
}

/// The middle one of some figures.
fn median(mut figures: Vec<f64>) -> f64 {
    figures.sort_by(f64::total_cmp);
    figures.get(figures.len() / 2).copied().unwrap_or(f64::NAN)
}
