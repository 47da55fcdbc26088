//! Timeline: sets in training order under a fold that can be taken back.
//!
//! Sets arrive late, are corrected and withdrawn. The fold is then led back to what it was before the place of the change and
//! forward again from there, never patched: at any moment it is what it would be, had the log been as it is now from the
//! start.

use nextrung_domain::event::OrderKey;
use nextrung_domain::ids::ClientSetId;

use crate::evaluate::entry::Entry;

/// Sets between two states that are kept.
const STRIDE: usize = 64;

/// A state that takes in one set after another.
pub trait Fold: Clone {
    /// Takes in the next set in training order.
    fn take(&mut self, entry: &Entry);
}

/// Sets in training order, and the fold over the first of them.
#[derive(Debug, Clone)]
pub struct Timeline<F> {
    entries: Vec<Entry>,
    fold: F,
    at: usize,
    kept: Vec<(usize, F)>,
}

impl<F: Fold> Timeline<F> {
    /// No set yet.
    pub fn new(fold: F) -> Self {
        Self { entries: Vec::new(), kept: vec![(0, fold.clone())], fold, at: 0 }
    }

    /// The sets so far.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The fold as it stands.
    pub fn fold(&self) -> &F {
        &self.fold
    }

    /// The set that the fold stands before.
    pub fn next(&self) -> Option<&Entry> {
        self.entries.get(self.at)
    }

    /// How many sets come before a place.
    pub fn before(&self, is_before: impl Fn(&Entry) -> bool) -> usize {
        match self.entries.last() {
            Some(last) if !is_before(last) => self.entries.partition_point(is_before),
            _ => self.entries.len(),
        }
    }

    /// The fold over the first `to` sets.
    pub fn seek(&mut self, to: usize) -> &mut F {
        if to < self.at {
            self.kept.retain(|(at, _)| *at <= to);
            if let Some((at, fold)) = self.kept.last() {
                (self.at, self.fold) = (*at, fold.clone());
            }
        }
        while self.at < to.min(self.entries.len()) {
            self.fold.take(&self.entries[self.at]);
            self.at += 1;
            self.keep();
        }
        &mut self.fold
    }

    /// Puts a set in its place, which is returned; the fold stands before it.
    pub fn insert(&mut self, entry: Entry) -> usize {
        let key = entry.key;
        let place = self.before(|other| other.key < key);
        self.seek(place);
        self.kept.retain(|(at, _)| *at <= place);
        self.entries.insert(place, entry);
        place
    }

    /// Takes in the set the fold stands before by `take` in place of the fold's own way, which must come to the same state.
    pub fn step(&mut self, take: impl FnOnce(&mut F, &Entry)) {
        if let Some(entry) = self.entries.get(self.at) {
            take(&mut self.fold, entry);
            self.at += 1;
            self.keep();
        }
    }

    /// Takes a set out; nothing when it is not there. The fold stands where it was.
    pub fn remove(&mut self, id: &ClientSetId) -> Option<Entry> {
        let place = self.entries.iter().rposition(|entry| entry.set.client_set_id == *id)?;
        self.seek(place);
        self.kept.retain(|(at, _)| *at <= place);
        Some(self.entries.remove(place))
    }

    fn keep(&mut self) {
        if self.at.is_multiple_of(STRIDE) && self.kept.last().is_none_or(|(at, _)| *at < self.at) {
            self.kept.push((self.at, self.fold.clone()));
        }
    }

    /// The place of the last set, if there is one.
    pub fn last(&self) -> Option<OrderKey> {
        self.entries.last().map(|entry| entry.key)
    }
}
