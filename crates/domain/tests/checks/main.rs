//! Checks of the two doors into the service: ladder files and drafts of sets and profiles.

#[cfg(test)]
mod catalog_faults;
#[cfg(test)]
mod fixture;
#[cfg(test)]
mod inverted_rungs;
#[cfg(test)]
mod ladder_faults;
#[cfg(test)]
mod profile_faults;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod real_catalog;
#[cfg(test)]
mod set_contradictions;
#[cfg(test)]
mod set_faults;
