//! Fit: parameters, difficulties and starts as one refit left them, under a version, with what they rest on (F-09).

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use nextrung_capacity::model::Model;
use nextrung_capacity::params::{MODEL_VERSION, Parameters};
use nextrung_domain::adjustment::{Adjustment, AdjustmentProblem};
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::LadderId;
use serde::{Deserialize, Serialize};

use super::intake::IntakePrior;
use super::trial::Trial;

/// Name of a fit: 1 to 63 of a-z, 0-9, `-` and `.`, beginning with a letter or digit, so that it can name a file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Version(String);

/// Why a text names no fit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` names no version: use 1 to 63 of a-z, 0-9, '-' and '.', beginning with a letter or digit")]
pub struct BadVersion {
    /// The text.
    pub text: String,
}

impl Version {
    /// Checks a name. Fails with [`BadVersion`].
    pub fn new(text: &str) -> Result<Self, BadVersion> {
        let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit();
        let bytes = text.as_bytes();
        let sound = bytes.len() <= 63
            && bytes.first().is_some_and(|b| plain(*b))
            && bytes.iter().all(|b| plain(*b) || matches!(b, b'-' | b'.'));
        if sound { Ok(Self(text.to_owned())) } else { Err(BadVersion { text: text.to_owned() }) }
    }

    /// The name.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Version {
    type Error = BadVersion;
    fn try_from(text: String) -> Result<Self, BadVersion> {
        Self::new(&text)
    }
}

impl From<Version> for String {
    fn from(version: Version) -> Self {
        version.0
    }
}

impl fmt::Display for Version {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a fit rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Data {
    /// Athletes with at least one set.
    pub athletes: usize,
    /// Their sets.
    pub sets: usize,
    /// First day of training.
    pub first: CivilDate,
    /// Last day.
    pub last: CivilDate,
}

/// Log evidence of the data, ln units (F-08).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// With the numbers of the parent.
    pub before: f64,
    /// With those of the fit.
    pub after: f64,
}

/// Parameters, difficulties and starts under a version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// Its name.
    pub version: Version,
    /// The fit it was made from; nothing for the ladder files with the first parameters.
    pub parent: Option<Version>,
    /// Version of the formulas.
    pub model_version: String,
    /// Versions of the ladders it was made on.
    pub ladders: BTreeMap<LadderId, u32>,
    /// Every parameter; their version is that of the fit.
    pub parameters: Parameters,
    /// What replaces numbers of the ladder files.
    pub adjustment: Adjustment,
    /// What intake says about starting levels, where it says anything.
    pub intake: Vec<IntakePrior>,
    /// What it rests on.
    pub data: Option<Data>,
    /// How well it explains that.
    pub evidence: Option<Evidence>,
    /// How it did on athletes it never saw.
    pub trial: Option<Trial>,
}

/// Why a fit cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum FitError {
    /// The formulas are not those it was made with.
    #[error("the fit was made with {made_with}, this is {here}")]
    Model {
        /// Version of the fit.
        made_with: String,
        /// Version here.
        here: String,
    },
    /// Ladders are not those it was made on.
    #[error("the ladders are not those of the fit: {}", differing.join(", "))]
    Ladders {
        /// Each ladder that differs, with both versions.
        differing: Vec<String>,
    },
    /// It names what the ladders lack.
    #[error("{} of the fit's numbers have no place, the first: {}", problems.len(), problems.first().map_or_else(String::new, ToString::to_string))]
    Adjustment {
        /// Every problem.
        problems: Vec<AdjustmentProblem>,
    },
}

impl Fit {
    /// The ladder files as they are, with these parameters.
    pub fn of_files(version: Version, catalog: &Catalog, mut parameters: Parameters) -> Self {
        parameters.version = version.to_string();
        Self {
            parameters,
            version,
            parent: None,
            model_version: MODEL_VERSION.to_owned(),
            ladders: versions(catalog),
            adjustment: Adjustment::default(),
            intake: Vec::new(),
            data: None,
            evidence: None,
            trial: None,
        }
    }

    /// The model with the fit in force, on the ladder files. Refuses other ladders and formulas than it was made with.
    pub fn model(&self, catalog: &Catalog) -> Result<Model, FitError> {
        if self.model_version != MODEL_VERSION {
            let made_with = self.model_version.clone();
            return Err(FitError::Model { made_with, here: MODEL_VERSION.to_owned() });
        }
        let here = versions(catalog);
        let name = |version: Option<&u32>| version.map_or_else(|| "none".to_owned(), ToString::to_string);
        let mut ids: Vec<&LadderId> = self.ladders.keys().chain(here.keys()).collect();
        ids.sort();
        ids.dedup();
        let differs = |id: &&&LadderId| self.ladders.get(**id) != here.get(**id);
        let told =
            |id: &LadderId| format!("{id} was {}, is {}", name(self.ladders.get(id)), name(here.get(id)));
        let differing: Vec<String> = ids.iter().filter(differs).map(|id| told(id)).collect();
        if !differing.is_empty() {
            return Err(FitError::Ladders { differing });
        }
        let adjusted = catalog.adjusted(&self.adjustment);
        let adjusted = adjusted.map_err(|problems| FitError::Adjustment { problems })?;
        Ok(Model::new(Arc::new(adjusted), self.parameters.clone()))
    }
}

fn versions(catalog: &Catalog) -> BTreeMap<LadderId, u32> {
    catalog.ladders().iter().map(|ladder| (ladder.id.clone(), ladder.version)).collect()
}
