//! Faults: what becomes of acknowledged sets when processes, disks, networks and clocks fail.
//!
//! Each harness first finds a planted bug. `GUARANTEES.md` says what is held and how to run the large versions.

#[cfg(test)]
mod audit;
#[cfg(test)]
mod call;
#[cfg(test)]
mod cancel;
#[cfg(test)]
mod check;
#[cfg(test)]
mod client_files;
#[cfg(test)]
mod clock;
#[cfg(test)]
mod crashes;
#[cfg(test)]
mod disk;
#[cfg(test)]
mod disk_full;
#[cfg(test)]
mod image;
#[cfg(test)]
mod kill;
#[cfg(test)]
mod ledger;
#[cfg(test)]
mod load;
#[cfg(test)]
mod planted;
#[cfg(test)]
mod power_cut;
#[cfg(test)]
mod reading;
#[cfg(test)]
mod replicas;
#[cfg(test)]
mod scale;
#[cfg(test)]
mod served;
#[cfg(test)]
mod sync_error;
#[cfg(test)]
mod trace;
