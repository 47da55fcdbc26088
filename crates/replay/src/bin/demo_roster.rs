//! Writes the invented demo roster: `demo-roster data/demo`.

use std::error::Error;
use std::path::PathBuf;

use clap::Parser;
use nextrung_replay::hall::{self, profile_file, row};
use nextrung_replay::ladders;

/// Writes the invented demo roster: athletes.toml and sets.csv.
#[derive(Parser)]
struct Args {
    /// The folder to write into.
    folder: PathBuf,
    /// The folder with abilities.toml and ladders/.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// The seed; the roster that is kept comes from the usual one.
    #[arg(long, default_value_t = hall::SEED)]
    seed: u64,
}

fn main() -> Result<(), Box<dyn Error>> {
    let args = Args::parse();
    let catalog = ladders::read(&args.data)?;
    let rows = hall::logs(&catalog, args.seed)?;
    std::fs::create_dir_all(&args.folder)?;
    std::fs::write(args.folder.join("athletes.toml"), profile_file::toml())?;
    std::fs::write(args.folder.join("sets.csv"), row::csv(&rows)?)?;
    Ok(())
}
