//! Checks of the two doors into the service: ladder files and drafts of sets and profiles.

#[cfg(test)]
mod fixture;
#[cfg(test)]
mod set_contradictions;
#[cfg(test)]
mod set_faults;
