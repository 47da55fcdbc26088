//! Ladders: the files the service is started with, from a folder or from the binary itself.

use std::path::{Path, PathBuf};
use std::{fs, io};

use nextrung_domain::catalog::Catalog;
use nextrung_domain::ladder_file::{LadderProblem, NamedText, load_catalog};

/// Name and text of every file the binary carries; the abilities come first.
const EMBEDDED: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/ladders.rs"));

/// Why ladders could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum LaddersError {
    /// A file could not be read.
    #[error("cannot read {}", path.display())]
    Unreadable {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// Files are wrong; every problem is listed.
    #[error("{} in the ladder files:\n{}", count(problems), lines(problems))]
    Wrong {
        /// Every problem.
        problems: Vec<LadderProblem>,
    },
}

fn count(problems: &[LadderProblem]) -> String {
    if problems.len() == 1 { "1 problem".to_owned() } else { format!("{} problems", problems.len()) }
}

fn lines(problems: &[LadderProblem]) -> String {
    problems.iter().map(|p| format!("  {p}")).collect::<Vec<_>>().join("\n")
}

/// The ladders the binary carries.
pub fn embedded() -> Result<Catalog, LaddersError> {
    load(EMBEDDED.iter().copied())
}

/// The ladders of a folder that holds `abilities.toml` and `ladders/*.toml`.
pub fn from_folder(folder: &Path) -> Result<Catalog, LaddersError> {
    let mut paths = vec![folder.join("abilities.toml")];
    let inner = folder.join("ladders");
    let unreadable = |path: &Path| {
        let path = path.to_path_buf();
        move |source| LaddersError::Unreadable { path, source }
    };
    let mut files = Vec::new();
    for entry in fs::read_dir(&inner).map_err(unreadable(&inner))? {
        files.push(entry.map_err(unreadable(&inner))?.path());
    }
    files.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    files.sort();
    paths.extend(files);
    let mut texts = Vec::new();
    for path in &paths {
        let text = fs::read_to_string(path).map_err(unreadable(path))?;
        texts.push((path.display().to_string(), text));
    }
    load(texts.iter().map(|(name, text)| (name.as_str(), text.as_str())))
}

fn load<'a>(mut files: impl Iterator<Item = (&'a str, &'a str)>) -> Result<Catalog, LaddersError> {
    let named = |(name, text)| NamedText { name, text };
    let abilities = files.next().map_or(NamedText { name: "abilities.toml", text: "" }, named);
    let ladders: Vec<NamedText<'_>> = files.map(named).collect();
    load_catalog(abilities, &ladders).map_err(|problems| LaddersError::Wrong { problems })
}
