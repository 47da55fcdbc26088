//! Lists the ladder files of `data/`, so that the binary carries them.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let manifest = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?);
    let data = manifest.join("../../data").canonicalize()?;
    let mut files: Vec<PathBuf> = fs::read_dir(data.join("ladders"))?
        .map(|entry| entry.map(|e| e.path()))
        .collect::<io::Result<Vec<_>>>()?;
    files.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    files.sort();
    let mut code = String::new();
    let mut line = |name: &str, path: &Path| {
        writeln!(code, "({name:?}, include_str!({:?})),", path.display().to_string())
            .map_err(io::Error::other)
    };
    line("abilities.toml", &data.join("abilities.toml"))?;
    for path in &files {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        line(&name, path)?;
    }
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    fs::write(out.join("ladders.rs"), format!("&[\n{code}]\n"))?;
    println!("cargo::rerun-if-changed={}", data.join("ladders").display());
    println!("cargo::rerun-if-changed={}", data.join("abilities.toml").display());
    Ok(())
}
