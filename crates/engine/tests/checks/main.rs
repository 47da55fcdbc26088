//! Checks of the use cases over a log with the real ladders.

#[cfg(test)]
mod crowd;
#[cfg(test)]
mod dice;
#[cfg(test)]
mod dropped;
#[cfg(test)]
mod erasures;
#[cfg(test)]
mod late_sets;
#[cfg(test)]
mod operations;
#[cfg(test)]
mod prescriptions;
#[cfg(test)]
mod repeats;
#[cfg(test)]
mod replicas;
#[cfg(test)]
mod roster_logs;
#[cfg(test)]
mod slow_store;
#[cfg(test)]
mod spec;
#[cfg(test)]
mod watches;
#[cfg(test)]
mod whys;
#[cfg(test)]
mod world;
