//! Files: a replay from files alone, without a service.
//!
//! [`set_file`] reads a sheet of sets, [`athletes_file`] the profiles that go with it, [`oracle_file`] the truth of simulated
//! athletes; together they are a [`roster_files::RosterFiles`].

pub mod athletes_file;
pub mod intake_file;
pub mod oracle_file;
pub mod roster_files;
pub mod set_file;
