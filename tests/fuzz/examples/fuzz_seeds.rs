//! Writes the seeds of the targets `proto` and `json` into their folders of a corpus, a file each, named after what is asked.

use std::error::Error;
use std::path::PathBuf;
use std::{env, fs};

use nextrung_fuzz::seed;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(env::args_os().nth(1).ok_or("which folder?")?);
    for (name, input) in seed::requests() {
        fs::write(folder.join(format!("proto/seed-{name}")), input)?;
    }
    for (name, input) in seed::calls() {
        fs::write(folder.join(format!("json/seed-{name}")), input)?;
    }
    Ok(())
}
