//! Sample: sets kept for the regression, bounded however many come.
//!
//! A set stands at a place that is a hash of its athlete and its id. Kept are the sets with the smallest places, as many as have
//! room for their rows: a fair sample of sets, the same in whatever order athletes are read, and two samples put together are
//! the sample of both.

use std::collections::BTreeMap;

use nextrung_domain::stop::Stop;
use serde::{Deserialize, Serialize};

use super::HazardError;
use super::features::Features;
use super::grid;

/// Which set it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SetName<'a> {
    /// The athlete, unique among those sampled together.
    pub athlete: &'a str,
    /// The set, unique within the athlete.
    pub set: &'a str,
    /// The block of days in which it arrived.
    pub block: u32,
}

impl SetName<'_> {
    /// The place of the set: FNV-1a of 128 bits (constants from memory) over both names, then the upper half mixed so that all
    /// its bits depend on all of it; nothing is lost in that, so sets share a place only by a collision of 128 bits.
    fn place(&self) -> u128 {
        let mut hash = 0x6c62_272e_07bb_0142_62b8_2175_6295_c58d_u128;
        // No UTF-8 text holds the byte 0xff, so the two names cannot run into each other.
        for byte in self.athlete.bytes().chain([0xff]).chain(self.set.bytes()) {
            hash = (hash ^ u128::from(byte)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
        let low = hash & u128::from(u64::MAX);
        u128::from(mixed(half(low) ^ mixed(half(hash >> 64)))) << 64 | low
    }
}

/// A number below 2^64 as one.
fn half(value: u128) -> u64 {
    u64::try_from(value).unwrap_or(u64::MAX)
}

/// Mixes bits, one to one (splitmix64, public domain; constants from memory, the test holds its first output).
fn mixed(value: u64) -> u64 {
    let value = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

/// A set that is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptSet {
    /// The block of days in which it arrived.
    pub block: u32,
    /// What was known before it.
    pub features: Features,
    /// Clean units done.
    pub done: u16,
    /// True when the next unit failed.
    pub failed: bool,
}

impl KeptSet {
    fn rows(&self) -> usize {
        grid::rows(self.features.unit, self.done, self.failed).count()
    }
}

/// How many there were.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Count {
    /// Sets with at least one row.
    pub sets: u64,
    /// Their rows.
    pub rows: u64,
}

impl Count {
    fn add(&mut self, other: Self) {
        self.sets += other.sets;
        self.rows += other.rows;
    }
}

/// A bounded sample of sets with their rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RowSample {
    room: usize,
    kept: BTreeMap<u128, KeptSet>,
    rows: usize,
    /// The smallest place that found no room; everything from there on is out, so that what is kept stays a beginning.
    limit: Option<u128>,
    seen: BTreeMap<u32, Count>,
}

impl RowSample {
    /// An empty sample with room for so many rows, at least for those of one set.
    pub fn new(room: usize) -> Self {
        let room = room.max(grid::MOST_PIECES);
        Self { room, kept: BTreeMap::new(), rows: 0, limit: None, seen: BTreeMap::new() }
    }

    /// Takes in a set with what was known before it. A set with the same name as one before counts as seen, and changes
    /// nothing else: the first that came stays.
    ///
    /// # Errors
    ///
    /// [`HazardError::NotFinite`] when a feature is not finite; nothing is taken in then.
    pub fn add(
        &mut self,
        name: &SetName<'_>,
        features: Features,
        (done, stop): (u16, Stop),
    ) -> Result<(), HazardError> {
        features.check()?;
        let set = KeptSet { block: name.block, features, done, failed: stop.is_failure() };
        let rows = set.rows();
        if rows > 0 {
            let count = Count { sets: 1, rows: u64::try_from(rows).unwrap_or(u64::MAX) };
            self.seen.entry(name.block).or_default().add(count);
            self.keep(name.place(), set);
        }
        Ok(())
    }

    /// Puts another sample into this one, which has the smaller room of both from then on. Of two sets with one name that of
    /// the earlier block stays.
    pub fn merge(&mut self, other: &Self) {
        self.room = self.room.min(other.room);
        self.limit = [self.limit, other.limit].into_iter().flatten().min();
        for (block, count) in &other.seen {
            self.seen.entry(*block).or_default().add(*count);
        }
        for (place, set) in &other.kept {
            self.keep(*place, set.clone());
        }
        self.shrink();
    }

    /// The sets that arrived in a block before `block`: a fair sample of them, with less than its room where later sets have
    /// taken it. Samples of single blocks put together have more.
    #[must_use]
    pub fn before(&self, block: u32) -> Self {
        let mut earlier = Self { limit: self.limit, ..Self::new(self.room) };
        earlier.seen.extend(self.seen.range(..block));
        for (place, set) in self.kept.iter().filter(|(_, set)| set.block < block) {
            earlier.keep(*place, set.clone());
        }
        earlier
    }

    /// Everything that came.
    pub fn seen(&self) -> Count {
        self.seen.values().fold(Count::default(), |mut all, count| {
            all.add(*count);
            all
        })
    }

    /// What is kept of it.
    pub fn kept(&self) -> Count {
        let wide = |n: usize| u64::try_from(n).unwrap_or(u64::MAX);
        Count { sets: wide(self.kept.len()), rows: wide(self.rows) }
    }

    /// The sets kept, by place.
    pub fn sets(&self) -> impl Iterator<Item = &KeptSet> {
        self.kept.values()
    }

    fn keep(&mut self, place: u128, set: KeptSet) {
        if self.limit.is_some_and(|limit| place >= limit) {
            return;
        }
        if self.kept.get(&place).is_some_and(|held| held.block <= set.block) {
            return;
        }
        self.rows += set.rows();
        if let Some(later) = self.kept.insert(place, set) {
            self.rows -= later.rows();
        }
        self.shrink();
    }

    /// Lets the largest places go until the rest has room and lies before the limit.
    fn shrink(&mut self) {
        while let Some(last) = self.kept.last_entry() {
            if self.rows <= self.room && self.limit.is_none_or(|limit| *last.key() < limit) {
                return;
            }
            let (place, set) = last.remove_entry();
            self.rows -= set.rows();
            self.limit = Some(self.limit.map_or(place, |limit| limit.min(place)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mixer_is_splitmix() {
        // First output of splitmix64 from seed 0 (from memory).
        assert_eq!(mixed(0), 0xe220_a839_7b1d_cdaf);
    }

    #[test]
    fn places_spread_evenly() {
        let mut by_sixteenth = [0_u32; 16];
        for number in 0..16_000 {
            let set = format!("s{number}");
            let place = SetName { athlete: "a", set: &set, block: 0 }.place();
            by_sixteenth[usize::try_from(place >> 124).unwrap()] += 1;
        }
        // 1000 each, standard deviation 30.6: five of them.
        assert!(by_sixteenth.iter().all(|n| n.abs_diff(1000) < 153), "{by_sixteenth:?}");
    }

    #[test]
    fn names_do_not_run_into_each_other() {
        let place = |athlete, set| SetName { athlete, set, block: 0 }.place();
        assert_ne!(place("ab", "c"), place("a", "bc"));
    }
}
