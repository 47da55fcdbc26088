//! Ladders: the catalog read from a folder with `abilities.toml` and `ladders/*.toml`.

use std::path::{Path, PathBuf};

use nextrung_domain::catalog::Catalog;
use nextrung_domain::ladder_file::{LadderProblem, NamedText, load_catalog};

/// Why the ladders could not be read.
#[derive(Debug, thiserror::Error)]
pub enum LaddersError {
    /// A file or folder could not be read.
    #[error("cannot read {}", path.display())]
    Unreadable {
        /// The path.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// The files hold mistakes.
    #[error("{} problems in the ladder files, the first: {}", problems.len(), problems.first().map_or(String::new(), ToString::to_string))]
    Unsound {
        /// Every one.
        problems: Vec<LadderProblem>,
    },
}

/// Reads the catalog from a data folder.
pub fn read(data: &Path) -> Result<Catalog, LaddersError> {
    let abilities = text(&data.join("abilities.toml"))?;
    let folder = data.join("ladders");
    let unreadable = |source| LaddersError::Unreadable { path: folder.clone(), source };
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(&folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        if path.extension().is_some_and(|x| x == "toml") {
            paths.push(path);
        }
    }
    paths.sort();
    let files: Vec<(String, String)> =
        paths.iter().map(|p| Ok((p.display().to_string(), text(p)?))).collect::<Result<_, LaddersError>>()?;
    let named: Vec<NamedText<'_>> = files.iter().map(|(name, text)| NamedText { name, text }).collect();
    load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &named)
        .map_err(|problems| LaddersError::Unsound { problems })
}

fn text(path: &Path) -> Result<String, LaddersError> {
    std::fs::read_to_string(path).map_err(|source| LaddersError::Unreadable { path: path.to_owned(), source })
}
