//! The tree of files a check looks at, read from git or planted by a test.

use std::fmt;
use std::io;
use std::path::Path;
use std::process::Command;

/// One file: its path from the root of the repository, with `/`, and its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// The path from the root of the repository.
    pub path: String,
    /// The content; bytes that are not UTF-8 are replaced.
    pub text: String,
}

impl SourceFile {
    /// Whether the path ends in this extension, given without its dot.
    pub(crate) fn has_extension(&self, extension: &str) -> bool {
        self.path.rsplit_once('.').is_some_and(|(_, end)| end == extension)
    }

    /// The last part of the path.
    pub(crate) fn file_name(&self) -> &str {
        self.path.rsplit_once('/').map_or(self.path.as_str(), |(_, name)| name)
    }

    /// The path without its last part, empty at the root.
    pub(crate) fn directory(&self) -> &str {
        self.path.rsplit_once('/').map_or("", |(directory, _)| directory)
    }
}

/// Something that breaks a rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The file.
    pub path: String,
    /// The line, counted from 1; 0 when it is about the file or the tree as a whole.
    pub line: usize,
    /// What was found.
    pub what: String,
}

impl Finding {
    pub(crate) fn new(path: &str, line: usize, what: impl Into<String>) -> Self {
        Self { path: path.to_owned(), line, what: what.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}:{}: {}", self.path, self.line, self.what)
    }
}

/// Why the files of a repository could not be read.
#[derive(Debug, thiserror::Error)]
pub enum TreeError {
    /// Git could not be started.
    #[error("git could not be started: {source}")]
    GitNotStarted {
        /// What the system said.
        source: io::Error,
    },
    /// Git refused to list the files.
    #[error("git did not list the files: {message}")]
    GitRefused {
        /// What git printed.
        message: String,
    },
    /// A listed file could not be read.
    #[error("{path} could not be read: {source}")]
    Unreadable {
        /// The file.
        path: String,
        /// What the system said.
        source: io::Error,
    },
}

/// All files of a repository, in the order of their paths.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tree {
    files: Vec<SourceFile>,
}

impl Tree {
    /// A tree of the given paths and texts.
    #[must_use]
    pub fn of(files: &[(&str, &str)]) -> Self {
        let file = |&(path, text): &(&str, &str)| SourceFile { path: path.to_owned(), text: text.to_owned() };
        Self { files: files.iter().map(file).collect() }
    }

    /// The files git tracks below `root`, as they stand on disk. A tracked file that was deleted is left out.
    ///
    /// # Errors
    /// [`TreeError`] when git is missing, `root` is no repository, or a file cannot be read.
    pub fn tracked(root: &Path) -> Result<Self, TreeError> {
        let listed = listed(root, &[])?;
        let mut files = Vec::new();
        for path in listed.into_iter().filter(|path| root.join(path).is_file()) {
            let bytes = std::fs::read(root.join(&path))
                .map_err(|source| TreeError::Unreadable { path: path.clone(), source })?;
            files.push(SourceFile { path, text: String::from_utf8_lossy(&bytes).into_owned() });
        }
        Ok(Self { files })
    }

    /// The paths below `root` that git neither tracks nor ignores: they are here and in no clone.
    ///
    /// # Errors
    /// [`TreeError`] when git is missing or `root` is no repository.
    pub fn untracked(root: &Path) -> Result<Vec<String>, TreeError> {
        listed(root, &["--others", "--exclude-standard"])
    }

    /// All files.
    pub fn files(&self) -> impl Iterator<Item = &SourceFile> {
        self.files.iter()
    }

    /// The files with this extension, given without its dot.
    pub(crate) fn with_extension(&self, extension: &str) -> impl Iterator<Item = &SourceFile> {
        self.files.iter().filter(move |file| file.has_extension(extension))
    }

    /// The file at this path.
    pub(crate) fn at(&self, path: &str) -> Option<&SourceFile> {
        self.files.iter().find(|file| file.path == path)
    }
}

/// The paths that `git ls-files` lists.
fn listed(root: &Path, which: &[&str]) -> Result<Vec<String>, TreeError> {
    let listed = Command::new("git")
        .args(["ls-files", "-z"])
        .args(which)
        .current_dir(root)
        .output()
        .map_err(|source| TreeError::GitNotStarted { source })?;
    if !listed.status.success() {
        return Err(TreeError::GitRefused {
            message: String::from_utf8_lossy(&listed.stderr).trim().to_owned(),
        });
    }
    let paths = String::from_utf8_lossy(&listed.stdout).into_owned();
    Ok(paths.split('\0').filter(|path| !path.is_empty()).map(str::to_owned).collect())
}
