//! Writes the seeds of the target `proto` into a folder, a file each, named after their requests.

use std::error::Error;
use std::path::PathBuf;
use std::{env, fs};

use nextrung_fuzz::seed;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(env::args_os().nth(1).ok_or("which folder?")?);
    for (name, input) in seed::requests() {
        fs::write(folder.join(format!("seed-{name}")), input)?;
    }
    Ok(())
}
