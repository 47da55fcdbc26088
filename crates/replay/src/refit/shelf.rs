//! Shelf: a folder that keeps every fit, and says which one is in force (F-09).
//!
//! One file `VERSION.json` a fit, never written over; the file `current` holds the name of the one in force. Both come to be
//! under another name first, so that a reader never sees half of one.

use std::fs;
use std::io::{Error, ErrorKind, Write};
use std::path::{Path, PathBuf};

use super::fit::{BadVersion, Fit, Version};
use super::trial::Trial;

/// The file that names the fit in force.
const CURRENT: &str = "current";

/// A folder of fits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shelf {
    folder: PathBuf,
}

/// Why the shelf did not do something.
#[derive(Debug, thiserror::Error)]
pub enum ShelfError {
    /// A file or folder could not be read or written.
    #[error("cannot reach {}", path.display())]
    Unreachable {
        /// Which.
        path: PathBuf,
        /// Why.
        #[source]
        source: Error,
    },
    /// A file holds no fit.
    #[error("{} holds no fit", path.display())]
    Unreadable {
        /// Which.
        path: PathBuf,
        /// Why.
        #[source]
        source: serde_json::Error,
    },
    /// A name on the shelf is no version.
    #[error("{} names no version", path.display())]
    Misnamed {
        /// Where it stands.
        path: PathBuf,
        /// Why.
        #[source]
        source: BadVersion,
    },
    /// There is no such version.
    #[error("version {version} is not on the shelf")]
    Missing {
        /// Which.
        version: Version,
    },
    /// The version is there already, with other content or not.
    #[error("version {version} is on the shelf already and is never written over")]
    Taken {
        /// Which.
        version: Version,
    },
    /// No version is in force yet.
    #[error("no version is in force")]
    NoneInForce,
    /// A version is in force already.
    #[error("version {version} is in force; a first version can only be put on an empty shelf")]
    InForce {
        /// Which.
        version: Version,
    },
    /// The fit was never held against the one in force.
    #[error("version {version} was not tried against {champion}, which is in force")]
    Untried {
        /// The fit.
        version: Version,
        /// The one in force.
        champion: Version,
    },
    /// The fit was no improvement.
    #[error(
        "version {version} is no improvement on {champion}: it differs by {difference:+.4} nats a set (99 % interval {low:+.4} to \
         {high:+.4}, {athletes} athletes held out); all of the interval must lie below 0, over {} athletes at least",
        Trial::LEAST_ATHLETES
    )]
    NoImprovement {
        /// The fit.
        version: Version,
        /// The one in force.
        champion: Version,
        /// Challenger less champion, nats a set.
        difference: f64,
        /// Lower end of the interval.
        low: f64,
        /// Upper end.
        high: f64,
        /// Athletes held out.
        athletes: usize,
    },
    /// The version in force has no parent to go back to.
    #[error("version {version} has no parent to go back to")]
    NoParent {
        /// Which.
        version: Version,
    },
}

impl Shelf {
    /// A shelf in a folder, which is made when it is not there.
    pub fn open(folder: &Path) -> Result<Self, ShelfError> {
        fs::create_dir_all(folder).map_err(unreachable(folder))?;
        Ok(Self { folder: folder.to_owned() })
    }

    /// Every version, in order of names.
    pub fn list(&self) -> Result<Vec<Version>, ShelfError> {
        let mut versions = Vec::new();
        for entry in fs::read_dir(&self.folder).map_err(unreachable(&self.folder))? {
            let path = entry.map_err(unreachable(&self.folder))?.path();
            if path.extension().is_some_and(|x| x == "json") {
                let name =
                    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
                let version = Version::new(&name);
                versions.push(version.map_err(|source| ShelfError::Misnamed { path, source })?);
            }
        }
        versions.sort();
        Ok(versions)
    }

    /// Reads a version.
    pub fn get(&self, version: &Version) -> Result<Fit, ShelfError> {
        let path = self.path(version);
        let missing = || ShelfError::Missing { version: version.clone() };
        let text = fs::read(&path)
            .map_err(|source| or_unreachable(&path, source, (ErrorKind::NotFound, missing)))?;
        serde_json::from_slice(&text).map_err(|source| ShelfError::Unreadable { path, source })
    }

    /// Keeps a fit. Fails when its version is there already, and changes nothing then.
    pub fn put(&self, fit: &Fit) -> Result<(), ShelfError> {
        let path = self.path(&fit.version);
        let unreadable = |source| ShelfError::Unreadable { path: path.clone(), source };
        let text = serde_json::to_vec_pretty(fit).map_err(unreadable)?;
        let draft = self.draft(&fit.version.to_string(), &text)?;
        // A link is made only where there is nothing, unlike a renaming.
        let linked = fs::hard_link(&draft, &path);
        fs::remove_file(&draft).map_err(unreachable(&draft))?;
        let taken = || ShelfError::Taken { version: fit.version.clone() };
        linked.map_err(|source| or_unreachable(&path, source, (ErrorKind::AlreadyExists, taken)))
    }

    /// The version in force.
    pub fn current(&self) -> Result<Version, ShelfError> {
        let path = self.folder.join(CURRENT);
        let none = || ShelfError::NoneInForce;
        let text = fs::read_to_string(&path);
        let text = text.map_err(|source| or_unreachable(&path, source, (ErrorKind::NotFound, none)))?;
        Version::new(text.trim_end()).map_err(|source| ShelfError::Misnamed { path, source })
    }

    /// Keeps the first version of all and puts it in force. Fails when one is in force already.
    pub fn found(&self, fit: &Fit) -> Result<(), ShelfError> {
        match self.current() {
            Err(ShelfError::NoneInForce) => {}
            Ok(version) => return Err(ShelfError::InForce { version }),
            Err(other) => return Err(other),
        }
        self.put(fit)?;
        self.point_at(&fit.version)
    }

    /// Puts a kept version in force. Refused unless its record holds a trial against the one in force that it won.
    pub fn promote(&self, version: &Version) -> Result<(), ShelfError> {
        let champion = self.current()?;
        let fit = self.get(version)?;
        let tried = fit.trial.as_ref().filter(|trial| trial.champion == champion);
        let Some(trial) = tried else {
            return Err(ShelfError::Untried { version: version.clone(), champion });
        };
        if !trial.is_improvement() {
            return Err(ShelfError::NoImprovement {
                version: version.clone(),
                champion,
                difference: trial.difference,
                low: trial.interval.0,
                high: trial.interval.1,
                athletes: trial.athletes,
            });
        }
        self.point_at(version)
    }

    /// Puts a version that was kept back in force, or the parent of the one in force; asks for no trial. Returns which.
    pub fn roll_back(&self, to: Option<&Version>) -> Result<Version, ShelfError> {
        let current = self.current()?;
        let back = match to {
            Some(version) => version.clone(),
            None => self.get(&current)?.parent.ok_or(ShelfError::NoParent { version: current })?,
        };
        self.get(&back)?;
        self.point_at(&back)?;
        Ok(back)
    }

    fn point_at(&self, version: &Version) -> Result<(), ShelfError> {
        let draft = self.draft(CURRENT, format!("{version}\n").as_bytes())?;
        let path = self.folder.join(CURRENT);
        fs::rename(&draft, &path).map_err(unreachable(&path))
    }

    /// A file with this content, on the disk, under a name nobody reads.
    fn draft(&self, name: &str, content: &[u8]) -> Result<PathBuf, ShelfError> {
        let path = self.folder.join(format!(".{name}.{}.draft", std::process::id()));
        let write = |path: &Path| {
            let mut file = fs::File::create(path)?;
            file.write_all(content)?;
            file.sync_all()
        };
        write(&path).map_err(unreachable(&path))?;
        Ok(path)
    }

    fn path(&self, version: &Version) -> PathBuf {
        self.folder.join(format!("{version}.json"))
    }
}

fn unreachable(path: &Path) -> impl Fn(Error) -> ShelfError + '_ {
    |source| ShelfError::Unreachable { path: path.to_owned(), source }
}

/// What a failure of one kind means here; any other is a file that cannot be reached.
fn or_unreachable(
    path: &Path,
    source: Error,
    (kind, meant): (ErrorKind, impl FnOnce() -> ShelfError),
) -> ShelfError {
    if source.kind() == kind { meant() } else { ShelfError::Unreachable { path: path.to_owned(), source } }
}
