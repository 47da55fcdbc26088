//! Rosters for the tests: the ladder files, what is true of them, and simulated athletes in between.

use std::path::Path;
use std::sync::Arc;

use nextrung_capacity::params::Parameters;
use nextrung_domain::catalog::Catalog;
use nextrung_replay::ladders;
use nextrung_replay::refit::Trained;
use nextrung_replay::refit::fit::{Fit, Version};
use nextrung_replay::simulate::refit::{Cohort, Wrong, roster};

pub(crate) fn catalog() -> Arc<Catalog> {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data");
    Arc::new(ladders::read(&data).unwrap_or_else(|e| panic!("{e}")))
}

pub(crate) fn version(name: &str) -> Version {
    Version::new(name).unwrap_or_else(|e| panic!("{e}"))
}

/// The ladder files with the first parameters.
pub(crate) fn files(catalog: &Catalog) -> Fit {
    Fit::of_files(version("files"), catalog, Parameters::default())
}

/// Athletes of a world whose ladder is wrong in some places.
pub(crate) fn trained(catalog: &Arc<Catalog>, cohort: &Cohort<'_>) -> Vec<Trained> {
    roster(catalog, cohort).unwrap_or_else(|e| panic!("{e}"))
}

pub(crate) const WRONG: [Wrong; 3] = nextrung_replay::simulate::refit::WRONG;
