//! Checks of the use cases over a SQLite log with the real ladders.

#[cfg(test)]
mod dropped;
#[cfg(test)]
mod slow_store;
#[cfg(test)]
mod spec;
#[cfg(test)]
mod world;
