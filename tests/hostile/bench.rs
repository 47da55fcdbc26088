//! What hostile clients cost a healthy one: the time of its answers while each kind of attack goes on, against the time of
//! its answers with nobody else there, measured just before in the same run.
//!
//! `cargo bench -p nextrung-tests --bench hostile-cost [-- KIND...]`. Service, attackers and healthy client are processes of their
//! own; the attackers yield the processor to the others (nice), since on a machine of their own they would take none of it.
//! Ends with 1 when a 99th percentile is over twice what it was or a healthy call fails.

#![expect(clippy::expect_used, reason = "a bench that cannot set its scene must stop")]
#![expect(
    clippy::print_stdout,
    reason = "it tells what it measured, and its processes tell each other where they are"
)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::atomic::Ordering;
use std::time::Duration;

use tokio::runtime::Runtime;

mod attack;
mod frames;
mod healthy;
#[path = "../e2e/messages.rs"]
#[expect(dead_code, reason = "only part of it is needed here")]
mod messages;
mod scene;

use attack::{Aim, Attack};
use healthy::{Healthy, Times};

/// How long the healthy client is measured, with and without an attack.
const MEASURED: Duration = Duration::from_secs(8);
/// Time a service and an attack have to come into their stride.
const STRIDE: Duration = Duration::from_secs(2);

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let runtime = Runtime::new().expect("a runtime");
    match words.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["serve", folder] => runtime.block_on(serve(Path::new(folder))),
        ["attack", kind, service, key, athlete] => {
            let service = service.parse().expect("an address");
            let aim = Aim { service, key: (*key).to_owned(), athlete: (*athlete).to_owned() };
            runtime.block_on(raid(named(kind), &aim))
        }
        kinds => {
            let kinds: Vec<Attack> = if kinds.is_empty() {
                Attack::ALL.to_vec()
            } else {
                kinds.iter().map(|kind| named(kind)).collect()
            };
            runtime.block_on(measure(&kinds))
        }
    }
}

fn named(kind: &str) -> Attack {
    Attack::ALL.into_iter().find(|attack| attack.word() == kind).expect("a kind of attack")
}

/// The service's process: says where it listens and goes on until its input ends.
async fn serve(folder: &Path) -> ExitCode {
    let running = scene::serve(folder).await;
    println!("{}", running.local_addr());
    tokio::task::spawn_blocking(until_left_alone).await.expect("an end");
    running.stop().await.expect("a stop");
    ExitCode::SUCCESS
}

/// The attackers' process: goes on until its input ends and says what came of it.
async fn raid(kind: Attack, aim: &Aim) -> ExitCode {
    let (attackers, toll) = attack::begin(kind, aim);
    tokio::task::spawn_blocking(until_left_alone).await.expect("an end");
    drop(attackers);
    let (rounds, shut_out) = (toll.rounds.load(Ordering::Relaxed), toll.shut_out.load(Ordering::Relaxed));
    println!("{rounds} {shut_out}");
    ExitCode::SUCCESS
}

fn until_left_alone() {
    let _ = std::io::stdin().read(&mut [0]);
}

/// A process of this program.
fn process(words: &[&str], nice: &str) -> (Child, BufReader<std::process::ChildStdout>) {
    let this = std::env::current_exe().expect("this program");
    let mut command = Command::new("nice");
    command.args(["-n", nice]).arg(this).args(words).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = command.spawn().expect("a process");
    let said = BufReader::new(child.stdout.take().expect("an output"));
    (child, said)
}

fn line(said: &mut impl BufRead) -> String {
    let mut line = String::new();
    said.read_line(&mut line).expect("a line");
    line.trim().to_owned()
}

async fn measure(kinds: &[Attack]) -> ExitCode {
    println!(
        "| attack | call, p50 and p99, ms | under attack | p99, times | new connection, p99, ms | under attack | failed of | memory, MB | rounds, shut out |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    let mut is_well = true;
    for kind in kinds {
        is_well &= against_a_new_service(*kind).await;
    }
    if is_well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// One attack on a service of its own, so that what one leaves behind counts for no other.
async fn against_a_new_service(kind: Attack) -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().to_str().expect("a path");
    let (mut service, mut said) = process(&["serve", path], "0");
    let address: SocketAddr = line(&mut said).parse().expect("an address");
    let (mut healthy, aim) = scene::furnish(folder.path(), address).await;
    let _ = healthy.work(STRIDE).await;
    let is_well = one(kind, &mut healthy, &aim, service.id()).await;
    drop(service.stdin.take());
    service.wait().is_ok_and(|status| status.success()) && is_well
}

/// One attack, and whether the healthy client stayed well.
async fn one(kind: Attack, healthy: &mut Healthy, aim: &Aim, service: u32) -> bool {
    let before = healthy.work(MEASURED).await;
    let address = aim.service.to_string();
    let (mut attackers, mut said) = process(&["attack", kind.word(), &address, &aim.key, &aim.athlete], "19");
    let _ = healthy.work(STRIDE).await;
    let under = healthy.work(MEASURED).await;
    let memory = memory(service);
    drop(attackers.stdin.take());
    let toll = line(&mut said).replace(' ', ", ");
    let _ = attackers.wait();
    let times = seconds(share(&under.calls, 99)) / seconds(share(&before.calls, 99));
    let failed = before.failures.len() + under.failures.len();
    println!(
        "| {} | {} | {} | {times:.2} | {} | {} | {failed} of {} | {memory} | {toll} |",
        kind.word(),
        both(&before),
        both(&under),
        millis(share(&before.connections, 99)),
        millis(share(&under.connections, 99)),
        under.calls.len() + under.connections.len(),
    );
    for failure in under.failures.iter().take(3) {
        println!("    {failure}");
    }
    let _ = std::io::stdout().flush();
    times <= 2.0 && failed == 0
}

fn both(times: &Times) -> String {
    format!("{} {}", millis(share(&times.calls, 50)), millis(share(&times.calls, 99)))
}

/// The time that `percent` of the times do not exceed.
fn share(times: &[Duration], percent: usize) -> Duration {
    let mut sorted = times.to_vec();
    sorted.sort_unstable();
    sorted.get((sorted.len() * percent).div_ceil(100).saturating_sub(1)).copied().unwrap_or_default()
}

fn seconds(time: Duration) -> f64 {
    time.as_secs_f64()
}

fn millis(time: Duration) -> String {
    format!("{:.2}", seconds(time) * 1000.0)
}

/// Resident memory of a process, MB; nothing where the system does not tell.
fn memory(process: u32) -> String {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let kilobytes = status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.split_whitespace().next());
    kilobytes
        .and_then(|kb| kb.parse::<u64>().ok())
        .map_or_else(|| "-".to_owned(), |kb| (kb / 1000).to_string())
}
