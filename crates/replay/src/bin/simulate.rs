//! Simulates athletes with a known truth: `simulate coverage`, `in-band`, `limiters`, `forecast` and `refit` print tables
//! in Markdown; `refit-speed` says how long a refit takes.

use std::error::Error;
use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use clap::{Parser, ValueEnum};
use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::refit::fit::{Fit, Version};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::refit;
use nextrung_replay::simulate::refit::{Cohort, WEEKS, WRONG, roster};
use nextrung_replay::simulate::report::{
    Size, coverage_table, forecast_table, heading, in_band_table, limiters_table, refit_table,
};
use nextrung_replay::simulate::world::PULL;

/// Which experiments to run.
#[derive(Clone, Copy, ValueEnum)]
enum Which {
    /// How often the model's intervals hold the truth.
    Coverage,
    /// How often a working set is of the size wanted, by who chose it.
    InBand,
    /// How often the review finds what holds an athlete back.
    Limiters,
    /// How often what is forecast comes true.
    Forecast,
    /// Whether a ladder that is wrong is mended; rosters of 60 athletes.
    Refit,
    /// How long a refit takes; each athlete has about 560 sets.
    RefitSpeed,
}

/// Simulates athletes with a known truth and prints a table in Markdown.
#[derive(Parser)]
#[command(
    after_help = "Examples:\n  simulate coverage --athletes 4000\n  simulate in-band --athletes 2000 --out in-band.md"
)]
struct Args {
    /// Which experiments.
    which: Which,
    /// Athletes in each experiment.
    #[arg(long, default_value_t = 2000)]
    athletes: u64,
    /// The master seed.
    #[arg(long, default_value_t = 20_260_105)]
    seed: u64,
    /// The folder with abilities.toml and ladders/.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// Write to this file instead of standard output.
    #[arg(long)]
    out: Option<PathBuf>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let args = Args::parse();
    let catalog = Arc::new(ladders::read(&args.data)?);
    let size = Size { athletes: args.athletes, seed: args.seed };
    let table = match args.which {
        Which::Coverage => coverage_table(&catalog, size)?,
        Which::InBand => in_band_table(&catalog, size)?,
        Which::Limiters => limiters_table(&catalog, size)?,
        Which::Forecast => forecast_table(&catalog, size)?,
        Which::Refit => refit_table(&catalog, size)?,
        Which::RefitSpeed => speed(&catalog, size)?,
    };
    let text = format!("{}\n{table}", heading(size));
    match args.out {
        Some(path) => std::fs::write(path, text)?,
        None => std::io::stdout().lock().write_all(text.as_bytes())?,
    }
    Ok(())
}

/// Seconds that a refit of one large roster takes, of difficulties and starts alone and of all.
fn speed(catalog: &Arc<Catalog>, size: Size) -> Result<String, Box<dyn Error>> {
    let cohort =
        Cohort { world: PULL, wrong: &WRONG, athletes: size.athletes, weeks: WEEKS, seed: size.seed };
    let roster = roster(catalog, &cohort)?;
    let sets: usize = roster.iter().map(|athlete| athlete.sets.len()).sum();
    let files = Fit::of_files(Version::new("files")?, catalog, Parameters::default());
    let mut text = format!("| refitted, {sets} sets | s |\n|---|---|\n");
    for (name, plan) in [("difficulties and starts", Plan::of_steps()), ("and parameters", Plan::default())] {
        let began = Instant::now();
        refit(catalog, &files, &roster, (Version::new("refitted")?, &plan))?;
        text += &format!("| {name} | {:.1} |\n", began.elapsed().as_secs_f64());
    }
    Ok(text)
}
