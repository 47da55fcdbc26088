//! Choice: how people pick their own rungs, by rule of thumb and temper.

use nextrung_domain::band::{Band, Bands};
use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::ladder::Rung;

use crate::dice::Dice;
use crate::hall::cast::Person;

/// Where a person stands on a ladder.
#[derive(Debug, Clone)]
pub struct Stand {
    /// The rungs they go through.
    pub path: Vec<RungIx>,
    /// Place of the working rung.
    pub at: usize,
    /// A change to it.
    pub shading: Option<ShadingId>,
    best: u16,
    reached: u16,
    sets: u16,
    short_days: u8,
}

impl Stand {
    /// At a place of a path.
    pub fn new(path: Vec<RungIx>, at: usize) -> Self {
        Self { path, at, shading: None, best: 0, reached: 0, sets: 0, short_days: 0 }
    }

    /// The working rung.
    pub fn rung(&self) -> RungIx {
        self.path[self.at]
    }

    /// A rung to try something harder on.
    pub fn harder(&self, steps: usize) -> RungIx {
        self.path[(self.at + steps).min(self.path.len() - 1)]
    }

    /// One working set is over.
    pub fn note(&mut self, units: u16, is_target: bool) {
        self.best = self.best.max(units);
        self.sets += 1;
        self.reached += u16::from(is_target);
    }

    /// The session is over: stay, go up or go down. Best in the band: stay; targets reached: up, the bold when half of
    /// them were; short of the band on two days: down (common practice, no source).
    pub fn decide(&mut self, catalog: &Catalog, person: &Person, dice: &mut Dice) {
        if self.sets == 0 {
            return;
        }
        let rung = catalog.rung(self.rung());
        let band = working_band(rung);
        let is_all = self.reached == self.sets;
        let is_half = 2 * self.reached >= self.sets;
        let is_bold = dice.chance(person.habit.boldness);
        if is_half && self.shading.is_some() {
            self.shading = None;
        } else if (is_all && dice.chance(0.5)) || (is_half && is_bold) {
            self.go_up();
        } else if self.best < band.low {
            self.short_days += 1;
            if self.short_days >= 2 {
                self.ease(rung, dice);
            }
        } else {
            self.short_days = 0;
        }
        (self.best, self.reached, self.sets) = (0, 0, 0);
    }

    fn go_up(&mut self) {
        self.at = (self.at + 1).min(self.path.len() - 1);
        self.short_days = 0;
    }

    fn ease(&mut self, rung: &Rung, dice: &mut Dice) {
        let light = rung.shadings.iter().find(|s| s.as_str() == "light-band");
        if let Some(light) = light.filter(|_| self.shading.is_none() && dice.chance(0.5)) {
            self.shading = Some(light.clone());
        } else {
            self.shading = None;
            self.at = self.at.saturating_sub(1);
        }
        self.short_days = 0;
    }
}

/// The working band of a rung.
pub fn working_band(rung: &Rung) -> Band {
    rung.band.unwrap_or_else(|| Bands::default().of(rung.unit).working)
}

/// The attempt band of a rung.
pub fn attempt_band(rung: &Rung) -> Band {
    rung.attempt_band.unwrap_or_else(|| Bands::default().of(rung.unit).attempt)
}
