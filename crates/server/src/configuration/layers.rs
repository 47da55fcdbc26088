//! Layers: where settings come from. Flags count before variables of the environment, those before the file.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::{fmt, fs};

use nextrung_domain::problem::{Problem, did_you_mean};
use toml::de::{DeTable, DeValue};

/// What every variable of the program begins with.
const PREFIX: &str = "NEXTRUNG_";
/// The variable that names the file.
pub const FILE_VARIABLE: &str = "NEXTRUNG_CONFIG";
/// Variables of the verbs that speak to a service; they mean nothing to the service itself.
pub(super) const OF_CLIENTS: [&str; 6] = [
    "NEXTRUNG_SERVER",
    "NEXTRUNG_ROSTER",
    "NEXTRUNG_KEY",
    "NEXTRUNG_AUTHORITY",
    "NEXTRUNG_CERTIFICATE",
    "NEXTRUNG_CERTIFICATE_KEY",
];
/// How what was found ends where a key is none.
const UNKNOWN: &str = "nobody knows";

/// Where a value comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// Nobody said anything.
    Default,
    /// A line of the file.
    File {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
    },
    /// A variable of the environment.
    Variable {
        /// Its name.
        name: String,
    },
    /// A flag.
    Flag {
        /// The flag with its dashes.
        name: String,
    },
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Default => f.write_str("default"),
            Self::File { path, line } => write!(f, "{} line {line}", path.display()),
            Self::Variable { name } => f.write_str(name),
            Self::Flag { name } => f.write_str(name),
        }
    }
}

/// The flag of a key: `--limits-calls` for `limits.calls`.
pub fn flag(key: &str) -> String {
    format!("--{}", key.replace('.', "-"))
}

/// The variable of a key: `NEXTRUNG_LIMITS_CALLS` for `limits.calls`.
pub fn variable(key: &str) -> String {
    format!("{PREFIX}{}", key.replace(['.', '-'], "_").to_ascii_uppercase())
}

/// True when a problem is that of a key that there is not.
pub fn is_unknown(problem: &Problem) -> bool {
    problem.found.ends_with(UNKNOWN)
}

/// A value of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Written {
    /// Its text, or a description where it is no single value.
    text: Result<String, &'static str>,
    line: usize,
}

/// All that was said about the settings.
#[derive(Debug, Clone, Default)]
pub struct Layers {
    /// By key.
    flags: BTreeMap<String, String>,
    /// By name; those of other programs are left out.
    variables: BTreeMap<String, Result<String, OsString>>,
    path: PathBuf,
    /// By key.
    file: BTreeMap<String, Written>,
}

impl Layers {
    /// Takes in flags, by key.
    #[must_use]
    pub fn with_flags(mut self, flags: impl IntoIterator<Item = (String, String)>) -> Self {
        self.flags.extend(flags);
        self
    }

    /// Takes in an environment; what does not begin with `NEXTRUNG_` is another program's.
    #[must_use]
    pub fn with_variables(mut self, variables: impl IntoIterator<Item = (OsString, OsString)>) -> Self {
        for (name, value) in variables {
            if let Ok(name) = name.into_string()
                && name.starts_with(PREFIX)
                && name != FILE_VARIABLE
                && !OF_CLIENTS.contains(&name.as_str())
            {
                self.variables.insert(name, value.into_string());
            }
        }
        self
    }

    /// Takes in a file. Fails with what is wrong when it cannot be read or is no TOML.
    pub fn with_file(mut self, path: &Path) -> Result<Self, Problem> {
        let problem = |found: String, expected: &str| {
            Problem::new(path.display().to_string(), found, expected.to_owned())
        };
        let unreadable = |error: std::io::Error| problem(error.to_string(), "a TOML file that can be read");
        let text = fs::read_to_string(path).map_err(unreadable)?;
        let table = DeTable::parse(&text).map_err(|error| {
            let line = error.span().map_or(1, |span| line(&text, span.start));
            problem(format!("{} in line {line}", error.message()), "TOML 1.0")
        })?;
        self.path = path.to_owned();
        flatten(&text, "", table.get_ref(), &mut self.file);
        Ok(self)
    }

    /// Everything that was said about a key and where; the first counts. An error describes what stands there instead of
    /// a text.
    pub(super) fn about(&self, key: &str) -> Vec<(Result<&str, &'static str>, Origin)> {
        let name = variable(key);
        let flag = self.flags.get(key).map(|text| (Ok(text.as_str()), Origin::Flag { name: flag(key) }));
        let variable = self.variables.get(&name).map(|text| {
            let text = text.as_deref().map_err(|_| "bytes that are no UTF-8");
            (text, Origin::Variable { name })
        });
        let file = self.file.get(key).map(|written| {
            let text = written.text.as_deref().map_err(|what| *what);
            (text, Origin::File { path: self.path.clone(), line: written.line })
        });
        [flag, variable, file].into_iter().flatten().collect()
    }

    /// What was said about keys that nobody knows.
    pub(super) fn unknown(&self, known: &[&str]) -> Vec<Problem> {
        let remove = "no such key";
        let of_flags = self.flags.keys().filter(|key| !known.contains(&key.as_str())).map(|key| {
            let near = did_you_mean(key, known.iter().copied());
            Problem::new(flag(key), format!("a flag {UNKNOWN}"), format!("{remove}{near}"))
        });
        let names: Vec<String> = known.iter().map(|key| variable(key)).collect();
        let of_variables = self.variables.keys().filter(|name| !names.contains(name)).map(|name| {
            let near = did_you_mean(name, names.iter().map(String::as_str));
            Problem::new(name, format!("a variable {UNKNOWN}"), format!("no such variable{near}"))
        });
        let of_file = self.file.iter().filter(|(key, _)| !known.contains(&key.as_str())).map(|(key, at)| {
            let near = did_you_mean(key, known.iter().copied());
            let place = format!("{} line {}, {key}", self.path.display(), at.line);
            Problem::new(place, format!("a key {UNKNOWN}"), format!("{remove}{near}"))
        });
        of_flags.chain(of_variables).chain(of_file).collect()
    }
}

fn line(text: &str, offset: usize) -> usize {
    1 + text.as_bytes().iter().take(offset).filter(|byte| **byte == b'\n').count()
}

fn flatten(text: &str, path: &str, table: &DeTable<'_>, into: &mut BTreeMap<String, Written>) {
    for (name, value) in table {
        let key =
            if path.is_empty() { name.get_ref().to_string() } else { format!("{path}.{}", name.get_ref()) };
        let written = |text_of| Written { text: text_of, line: line(text, value.span().start) };
        if let DeValue::Table(inner) = value.get_ref() {
            flatten(text, &key, inner, into);
        } else {
            into.insert(key, written(text_of(value.get_ref())));
        }
    }
}

fn text_of(value: &DeValue<'_>) -> Result<String, &'static str> {
    match value {
        DeValue::String(text) => Ok(text.to_string()),
        DeValue::Integer(number) => {
            let read = i64::from_str_radix(number.as_str(), number.radix());
            read.map(|number| number.to_string()).map_err(|_| "a number that is too large")
        }
        DeValue::Float(number) => Ok(number.as_str().to_owned()),
        DeValue::Boolean(truth) => Ok(truth.to_string()),
        DeValue::Datetime(moment) => Ok(moment.to_string()),
        DeValue::Array(_) => Err("a list"),
        DeValue::Table(_) => Err("a table"),
    }
}
