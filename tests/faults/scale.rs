//! Scale: how much is done in a run, its seed, and the figures it ends with.

use std::io::Write;
use std::time::Instant;

/// Says `large` for the long versions.
const SCALE: &str = "NEXTRUNG_FAULTS";
/// The seed of every choice the harness makes; what the machine's threads do, it cannot fix.
const SEED: &str = "NEXTRUNG_FAULTS_SEED";

/// The first number in every run of the tests, the second in a large one.
pub(crate) fn of<T>(small: T, large: T) -> T {
    if std::env::var(SCALE).is_ok_and(|word| word == "large") { large } else { small }
}

/// The seed of this run.
pub(crate) fn seed() -> u64 {
    std::env::var(SEED).map_or(1, |text| text.parse().expect("NEXTRUNG_FAULTS_SEED is a number"))
}

/// What a harness did, as it is told at its end.
pub(crate) struct Figures {
    harness: &'static str,
    began: Instant,
}

impl Figures {
    pub(crate) fn begin(harness: &'static str) -> Self {
        Self { harness, began: Instant::now() }
    }

    /// Tells counts, each with its word, and fails when anything was found.
    pub(crate) fn tell(&self, counts: &[(&str, usize)], found: &[impl std::fmt::Display]) {
        let counts: Vec<String> = counts.iter().map(|(word, count)| format!("{count} {word}")).collect();
        let (harness, seconds, seed) = (self.harness, self.began.elapsed().as_secs(), seed());
        let line = format!(
            "| {harness} | {} | {} wrong | seed {seed} | {seconds} s |\n",
            counts.join(", "),
            found.len()
        );
        // Past the capture of the test's output, so that a large run shows its table.
        std::io::stdout().write_all(line.as_bytes()).expect("standard output");
        let first: Vec<String> = found.iter().take(20).map(|one| format!("  {one}")).collect();
        assert!(
            found.is_empty(),
            "{harness}: {} things are wrong, the first of them\n{}\nrepeat with {SEED}={seed} {SCALE}={}",
            found.len(),
            first.join("\n"),
            of("small", "large")
        );
    }
}
