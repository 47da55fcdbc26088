//! Compiles the contract in `proto/` without protoc and keeps its descriptors for reflection.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};

use protox::Compiler;

fn main() -> Result<(), Box<dyn Error>> {
    let root = Path::new(&env::var("CARGO_MANIFEST_DIR")?).join("../../proto");
    let package = root.join("nextrung/v1");
    println!("cargo::rerun-if-changed={}", root.display());
    let mut compiler = Compiler::new([&root])?;
    compiler.include_imports(true).include_source_info(true).open_files(proto_files(&package)?)?;

    let out = PathBuf::from(env::var("OUT_DIR")?);
    // As the compiler has them, with the options of methods that other types of descriptors do not know.
    fs::write(out.join("nextrung.v1.bin"), compiler.encode_file_descriptor_set())?;
    let mut descriptors = compiler.file_descriptor_set();
    // Nobody holds the types of the options themselves.
    descriptors.file.retain(|file| file.package() != "google.api");
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
