//! Compiles the contract in `proto/` without protoc and keeps its descriptors for reflection.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};

use protox::prost::Message;

fn main() -> Result<(), Box<dyn Error>> {
    let root = Path::new(&env::var("CARGO_MANIFEST_DIR")?).join("../../proto");
    let package = root.join("nextrung/v1");
    println!("cargo::rerun-if-changed={}", package.display());
    let descriptors = protox::compile(proto_files(&package)?, [&root])?;

    let out = PathBuf::from(env::var("OUT_DIR")?);
    fs::write(out.join("nextrung.v1.bin"), descriptors.encode_to_vec())?;
    // The one large piece of a stream of small ones, each time.
    let config = tonic_prost_build::configure()
        .boxed(".nextrung.v1.ExportAthleteResponse.piece.athlete")
        .boxed(".nextrung.v1.ReplayRosterResponse.piece.summary");
    config.out_dir(out).compile_fds(descriptors)?;
    Ok(())
}

/// The contract's files in the order of their names, so that every build generates the same bytes.
fn proto_files(package: &Path) -> Result<Vec<PathBuf>, std::io::Error> {
    let mut files = Vec::new();
    for entry in fs::read_dir(package)? {
        let path = entry?.path();
        if path.extension().is_some_and(|extension| extension == "proto") {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}
