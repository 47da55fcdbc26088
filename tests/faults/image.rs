//! Image: files as a power cut may leave them.
//!
//! What was synced is there. Of what was written since, any part may be: each sector of 512 bytes stands as it was after some
//! of the writes to it, none or all. A file's length changes with its writes. Names appear and go when their folder is
//! synced, and may do so before. What a failed sync was to write stays unwritten through later syncs, unless the page it is
//! on is written to again: so Linux does it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use nextrung_prescribe::dice::Dice;

use crate::trace::Step;

const SECTOR: usize = 512;
const PAGE: usize = 4096;

/// A change of a file that a cut may take away.
#[derive(Debug, Clone)]
enum Change {
    Write { offset: usize, data: Vec<u8>, is_dropped: bool },
    Truncate { length: usize },
}

#[derive(Debug, Clone, Default)]
struct Inode {
    synced: Vec<u8>,
    since: Vec<Change>,
    /// Some of `since` is dropped.
    has_dropped: bool,
}

/// How much of what was not synced is there after a cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Luck {
    Nothing,
    Everything,
    /// The first changes, and none behind them.
    First,
    /// Any sectors.
    Any,
}

/// The files of a folder on a disk that may lose its power.
#[derive(Debug, Clone, Default)]
pub(crate) struct Image {
    inodes: Vec<Inode>,
    /// Names as the program sees them.
    names: BTreeMap<String, usize>,
    synced_names: BTreeMap<String, usize>,
    /// Changes of names since the folder was synced; nothing for one that went.
    since: Vec<(String, Option<usize>)>,
}

impl Image {
    /// Does one step.
    pub(crate) fn apply(&mut self, step: &Step) {
        match step {
            Step::Create { name } => {
                self.inodes.push(Inode::default());
                let inode = self.inodes.len() - 1;
                self.names.insert(name.clone(), inode);
                self.since.push((name.clone(), Some(inode)));
            }
            Step::Write { name, offset, data } => self.inode(name).write(*offset, data),
            Step::Truncate { name, length } => {
                self.inode(name).since.push(Change::Truncate { length: *length });
            }
            Step::Sync { name } => self.inode(name).sync(),
            Step::FailedSync { name } => self.inode(name).drop_dirty(),
            Step::Unlink { name } => {
                self.names.remove(name);
                self.since.push((name.clone(), None));
            }
            Step::SyncFolder => {
                for (name, inode) in std::mem::take(&mut self.since) {
                    rename(&mut self.synced_names, name, inode);
                }
            }
            Step::Mark { .. } => {}
        }
    }

    fn inode(&mut self, name: &str) -> &mut Inode {
        let number = self.names.get(name).unwrap_or_else(|| panic!("{name} was not created in the trace"));
        &mut self.inodes[*number]
    }

    /// Writes the files of one cut into a folder.
    pub(crate) fn cut(&self, folder: &Path, dice: &mut Dice) {
        let lucks = [Luck::Nothing, Luck::Everything, Luck::First, Luck::Any, Luck::Any];
        let mut names = self.synced_names.clone();
        let luck = *dice.pick(&lucks).expect("one");
        for (name, inode) in &self.since {
            let is_there = match luck {
                Luck::Nothing => false,
                Luck::Everything => true,
                Luck::First | Luck::Any => dice.chance(0.5),
            };
            if is_there {
                rename(&mut names, name.clone(), *inode);
            } else if luck == Luck::First {
                break;
            }
        }
        for (name, inode) in names {
            let luck = *dice.pick(&lucks).expect("one");
            std::fs::write(folder.join(name), self.inodes[inode].after(luck, dice)).expect("a file");
        }
    }
}

fn rename(names: &mut BTreeMap<String, usize>, name: String, inode: Option<usize>) {
    match inode {
        Some(inode) => drop(names.insert(name, inode)),
        None => drop(names.remove(&name)),
    }
}

impl Inode {
    fn write(&mut self, offset: usize, data: &[u8]) {
        let pages = offset / PAGE..=(offset + data.len().saturating_sub(1)) / PAGE;
        for change in self.since.iter_mut().filter(|_| self.has_dropped) {
            if let Change::Write { offset, is_dropped, .. } = change
                && pages.contains(&(*offset / PAGE))
            {
                *is_dropped = false;
            }
        }
        self.since.push(Change::Write { offset, data: data.to_vec(), is_dropped: false });
    }

    fn sync(&mut self) {
        let mut dropped = Vec::new();
        for change in std::mem::take(&mut self.since) {
            match change {
                Change::Write { is_dropped: true, .. } => dropped.push(change),
                Change::Write { offset, data, .. } => put(&mut self.synced, offset, &data),
                Change::Truncate { length } => {
                    self.synced.resize(length, 0);
                    dropped
                        .retain(|change| matches!(change, Change::Write { offset, .. } if *offset < length));
                }
            }
        }
        self.has_dropped = !dropped.is_empty();
        self.since = dropped;
    }

    /// A sync failed: no later one writes these, in pieces of a page each.
    fn drop_dirty(&mut self) {
        let mut pieces = Vec::new();
        for change in std::mem::take(&mut self.since) {
            let Change::Write { mut offset, data, .. } = change else {
                pieces.push(change);
                continue;
            };
            let mut rest = data.as_slice();
            while !rest.is_empty() {
                let (piece, behind) = rest.split_at(rest.len().min(PAGE - offset % PAGE));
                pieces.push(Change::Write { offset, data: piece.to_vec(), is_dropped: true });
                offset += piece.len();
                rest = behind;
            }
        }
        self.has_dropped = !pieces.is_empty();
        self.since = pieces;
    }

    /// The file after a cut.
    fn after(&self, luck: Luck, dice: &mut Dice) -> Vec<u8> {
        let mut bytes = self.synced.clone();
        // Sectors whose later writes did not come any more.
        let mut stopped = BTreeSet::new();
        let first = dice.below(self.since.len() + 1);
        let often = dice.unit();
        for (number, change) in self.since.iter().enumerate() {
            if luck == Luck::Nothing || (luck == Luck::First && number >= first) {
                break;
            }
            match change {
                Change::Truncate { .. } if luck == Luck::Any && dice.chance(0.5) => break,
                Change::Truncate { length } => bytes.resize(*length, 0),
                Change::Write { offset, data, .. } if luck != Luck::Any => put(&mut bytes, *offset, data),
                Change::Write { offset, data, .. } => {
                    let (mut place, mut rest) = (*offset, data.as_slice());
                    while !rest.is_empty() {
                        let sector = place / SECTOR;
                        let (piece, behind) = rest.split_at(rest.len().min(SECTOR - place % SECTOR));
                        if stopped.contains(&sector) || !dice.chance(often) {
                            stopped.insert(sector);
                        } else {
                            put(&mut bytes, place, piece);
                        }
                        (place, rest) = (place + piece.len(), behind);
                    }
                }
            }
        }
        bytes
    }
}

fn put(bytes: &mut Vec<u8>, offset: usize, data: &[u8]) {
    let end = offset + data.len();
    if bytes.len() < end {
        bytes.resize(end, 0);
    }
    bytes[offset..end].copy_from_slice(data);
}

#[cfg(test)]
mod tests;
