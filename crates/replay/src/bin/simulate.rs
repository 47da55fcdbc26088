//! Simulates athletes with a known truth: tables of studies in Markdown, and rosters as files.

use std::error::Error;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use clap::{Args, Parser, Subcommand};
use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_replay::evaluate::study as replays;
use nextrung_replay::ladders;
use nextrung_replay::refit::fit::{Fit, Version};
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::refit;
use nextrung_replay::simulate::crowd::{CrowdPlan, files, roster};
use nextrung_replay::simulate::family::{self, Family};
use nextrung_replay::simulate::policies::table::{Wanted, policies_table};
use nextrung_replay::simulate::refit::{Cohort, WEEKS, WRONG, roster as cohort_roster};
use nextrung_replay::simulate::report::{
    Size, coverage_table, forecast_table, heading, in_band_table, limiters_table, refit_table,
};
use nextrung_replay::simulate::world::{self, PULL, World};
use nextrung_replay::simulate::{replay_growth, replay_speed};

/// What to do.
#[derive(Subcommand)]
enum Which {
    /// How often the model's intervals hold the truth.
    Coverage(Study),
    /// How often a working set is of the size wanted, by who chose it.
    InBand(Study),
    /// How often the review finds what holds an athlete back.
    Limiters(Study),
    /// How often what is forecast comes true.
    Forecast(Study),
    /// Several ways of choosing side by side, on every kind of truth.
    Policies(Policies),
    /// Replays of rosters: who foretells sets best, and how near to an oracle.
    Replay(Replays),
    /// How many sets a second are replayed, on pulls, levers and presses.
    ReplaySpeed(ReplaySpeed),
    /// What a replay of a file costs as the file grows; 30 athletes have about 10,000 sets.
    ReplayGrowth(ReplayGrowth),
    /// Writes a roster as sets.csv, athletes.toml and oracle.csv.
    Roster(Roster),
    /// Whether a ladder that is wrong is mended; rosters of 60 athletes.
    Refit(Study),
    /// How long a refit takes; each athlete has about 560 sets.
    RefitSpeed(Study),
}

/// Simulates athletes with a known truth.
#[derive(Parser)]
#[command(
    after_help = "Examples:\n  simulate coverage --athletes 4000\n  simulate in-band --athletes 2000 --out in-band.md\n  \
                  simulate roster --family matched --family gaps --athletes 300 --out /tmp/roster"
)]
struct Command {
    #[command(subcommand)]
    which: Which,
    /// The folder with abilities.toml and ladders/.
    #[arg(long, global = true, default_value = "data")]
    data: PathBuf,
}

/// A study and where its table goes.
#[derive(Args)]
struct Study {
    /// Athletes in each experiment.
    #[arg(long, default_value_t = 2000)]
    athletes: u64,
    /// The master seed.
    #[arg(long, default_value_t = 20_260_105)]
    seed: u64,
    /// Write to this file instead of standard output.
    #[arg(long)]
    out: Option<PathBuf>,
}

/// The study of policies.
#[derive(Args)]
struct Policies {
    #[command(flatten)]
    study: Study,
    #[command(flatten)]
    truths: Truths,
    /// Weeks of training.
    #[arg(long, default_value_t = 16)]
    weeks: u16,
}

/// The study of replays.
#[derive(Args)]
struct Replays {
    #[command(flatten)]
    study: Study,
    #[command(flatten)]
    truths: Truths,
    /// Weeks of training.
    #[arg(long, default_value_t = 26)]
    weeks: u16,
    /// Days in which forecasters only learn.
    #[arg(long, default_value_t = 28)]
    warm_up_days: u16,
}

/// How fast replays are.
#[derive(Args)]
struct ReplaySpeed {
    #[command(flatten)]
    study: Study,
    /// Weeks of training.
    #[arg(long, default_value_t = 26)]
    weeks: u16,
}

/// How the cost of a replay grows.
#[derive(Args)]
struct ReplayGrowth {
    /// Athletes of each file, one size after another.
    #[arg(long, value_delimiter = ',', default_value = "30,300,3000,30000")]
    athletes: Vec<u64>,
    /// Weeks of training.
    #[arg(long, default_value_t = 26)]
    weeks: u16,
    /// The master seed.
    #[arg(long, default_value_t = 20_260_105)]
    seed: u64,
    /// The folder into which the rosters go; the largest takes a gigabyte.
    #[arg(long)]
    out: PathBuf,
}

/// Kinds of truth and worlds.
#[derive(Args)]
struct Truths {
    /// A kind of truth, or `all`; several are taken in turn.
    #[arg(long = "family", default_value = "all")]
    families: Vec<String>,
    /// A world by its name: pull, front lever or press; all of them when not given.
    #[arg(long = "world")]
    worlds: Vec<String>,
}

/// A roster to be written.
#[derive(Args)]
struct Roster {
    #[command(flatten)]
    truths: Truths,
    /// Athletes; kinds of truth are taken in turn, then worlds.
    #[arg(long, default_value_t = 100)]
    athletes: u64,
    /// Weeks of training of each.
    #[arg(long, default_value_t = 26)]
    weeks: u16,
    /// The master seed.
    #[arg(long, default_value_t = 20_260_105)]
    seed: u64,
    /// The folder to write into.
    #[arg(long)]
    out: PathBuf,
}

fn main() -> Result<(), Box<dyn Error>> {
    let command = Command::parse();
    let catalog = Arc::new(ladders::read(&command.data)?);
    match command.which {
        Which::Coverage(study) => print(&study, |size| coverage_table(&catalog, size)),
        Which::InBand(study) => print(&study, |size| in_band_table(&catalog, size)),
        Which::Limiters(study) => print(&study, |size| limiters_table(&catalog, size)),
        Which::Forecast(study) => print(&study, |size| forecast_table(&catalog, size)),
        Which::Policies(Policies { study, truths, weeks }) => {
            let wanted = Wanted { families: truths.families()?, worlds: truths.worlds()?, weeks };
            print(&study, |size| policies_table(&catalog, size, &wanted))
        }
        Which::Replay(Replays { study, truths, weeks, warm_up_days }) => {
            let (families, worlds, weeks) = (truths.families()?, truths.worlds()?, i32::from(weeks));
            print(&study, |Size { athletes, seed }| {
                replays::Study { families, worlds, athletes, weeks, warm_up_days, seed }.table(&catalog)
            })
        }
        Which::Refit(study) => print(&study, |size| refit_table(&catalog, size)),
        Which::RefitSpeed(study) => print(&study, |size| speed(&catalog, size)),
        Which::ReplaySpeed(ReplaySpeed { study, weeks }) => print(&study, |Size { athletes, seed }| {
            replay_speed::table(&catalog, &world::ALL, (athletes, i32::from(weeks)), seed)
                .map_err(|error| -> Box<dyn Error> { error })
        }),
        Which::ReplayGrowth(ReplayGrowth { athletes, weeks, seed, out }) => {
            let sizes = (athletes.as_slice(), i32::from(weeks));
            let text = replay_growth::table(&catalog, sizes, seed, &out)
                .map_err(|error| -> Box<dyn Error> { error })?;
            Ok(std::io::stdout().lock().write_all(text.as_bytes())?)
        }
        Which::Roster(roster) => write(&catalog, &roster),
    }
}

fn print<E: Into<Box<dyn Error>>>(
    study: &Study,
    table: impl FnOnce(Size) -> Result<String, E>,
) -> Result<(), Box<dyn Error>> {
    let size = Size { athletes: study.athletes, seed: study.seed };
    let text = format!("{}\n{}", heading(size), table(size).map_err(Into::into)?);
    match &study.out {
        Some(path) => std::fs::write(path, text)?,
        None => std::io::stdout().lock().write_all(text.as_bytes())?,
    }
    Ok(())
}

fn write(catalog: &Arc<Catalog>, wanted: &Roster) -> Result<(), Box<dyn Error>> {
    let plan = CrowdPlan {
        families: wanted.truths.families()?,
        worlds: wanted.truths.worlds()?,
        athletes: wanted.athletes,
        weeks: i32::from(wanted.weeks),
        seed: wanted.seed,
    };
    let written = files::write(&roster(catalog, plan)?, Path::new(&wanted.out))?;
    let mut out = std::io::stdout().lock();
    writeln!(
        out,
        "{} athletes, {} sets of {} truly done, in {}",
        written.athletes,
        written.sets,
        written.performed,
        wanted.out.display()
    )?;
    Ok(())
}

impl Truths {
    fn families(&self) -> Result<Vec<Family>, String> {
        let mut found = Vec::new();
        for name in &self.families {
            let words: Vec<&str> = family::all().iter().map(|family| family.name).collect();
            match family::named(name) {
                Some(family) => found.push(family),
                None if name == "all" => found.extend(family::all()),
                None => return Err(format!("found {name}; expected all or one of {}", words.join(", "))),
            }
        }
        Ok(found)
    }

    fn worlds(&self) -> Result<Vec<World>, String> {
        if self.worlds.is_empty() {
            return Ok(world::ALL.to_vec());
        }
        let one = |name: &String| {
            let words: Vec<&str> = world::ALL.iter().map(|world| world.name).collect();
            let found = world::ALL.into_iter().find(|world| world.name == *name);
            found.ok_or_else(|| format!("found {name}; expected one of {}", words.join(", ")))
        };
        self.worlds.iter().map(one).collect()
    }
}

/// Seconds that a refit of one large roster takes, of difficulties and starts alone and of all.
fn speed(catalog: &Arc<Catalog>, size: Size) -> Result<String, Box<dyn Error>> {
    let cohort =
        Cohort { world: PULL, wrong: &WRONG, athletes: size.athletes, weeks: WEEKS, seed: size.seed };
    let roster = cohort_roster(catalog, &cohort)?;
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
