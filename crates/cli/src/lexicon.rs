//! Lexicon: what people call the rungs and shadings, and their working bands, read from the service once.

use std::collections::BTreeMap;

use nextrung_api::v1;

use crate::connection::Connection;
use crate::failure::Failure;
use crate::names::short;

/// What people call the rungs and shadings.
#[derive(Debug, Default)]
pub(crate) struct Lexicon {
    rungs: BTreeMap<String, String>,
    /// By ladder and shading.
    shadings: BTreeMap<(String, String), String>,
    ladders: BTreeMap<String, String>,
    working_bands: BTreeMap<String, (u32, u32)>,
}

impl Lexicon {
    /// Reads all ladders of the service.
    pub(crate) async fn load(service: &Connection) -> Result<Self, Failure> {
        Ok(Self::of(&service.all_ladders().await?.ladders))
    }

    /// The names in these ladders.
    pub(crate) fn of(ladders: &[v1::Ladder]) -> Self {
        let mut lexicon = Self::default();
        for ladder in ladders {
            lexicon.ladders.insert(ladder.name.clone(), ladder.display_name.clone());
            for rung in &ladder.rungs {
                lexicon.rungs.insert(rung.name.clone(), rung.display_name.clone());
                let band = rung.working_band.unwrap_or_default();
                if let (Ok(low @ 1..), Ok(high)) = (u32::try_from(band.low), u32::try_from(band.high)) {
                    lexicon.working_bands.insert(rung.name.clone(), (low, high));
                }
            }
            for shading in &ladder.shadings {
                let key = (ladder.name.clone(), shading.shading_id.clone());
                lexicon.shadings.insert(key, shading.display_name.clone());
            }
        }
        lexicon
    }

    /// What people call a rung; its short name when it is not in the ladders of today.
    pub(crate) fn rung(&self, name: &str) -> String {
        self.rungs.get(name).cloned().unwrap_or_else(|| short(name))
    }

    /// The fewest and the most units of a working set on a rung, by its ladder alone.
    pub(crate) fn working_band(&self, name: &str) -> Option<(u32, u32)> {
        self.working_bands.get(name).copied()
    }

    /// What people call a ladder.
    pub(crate) fn ladder(&self, name: &str) -> String {
        self.ladders.get(name).cloned().unwrap_or_else(|| short(name))
    }

    /// A rung with its shadings and load: `Pull-up, light band, + 5 kg`.
    pub(crate) fn work(&self, rung: &str, shadings: &[String], load_kg: f64) -> String {
        let ladder = crate::names::parent(rung);
        let mut parts = vec![self.rung(rung)];
        for id in shadings {
            let shading = self.shadings.get(&(ladder.to_owned(), id.clone()));
            parts.push(shading.unwrap_or(id).clone());
        }
        if load_kg > 0.0 {
            parts.push(format!("+ {load_kg} kg"));
        } else if load_kg < 0.0 {
            parts.push(format!("- {} kg", load_kg.abs()));
        }
        parts.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lexicon() -> Lexicon {
        let rung = v1::Rung {
            name: "ladders/pull/rungs/pull-up".to_owned(),
            display_name: "Pull-up".to_owned(),
            ..v1::Rung::default()
        };
        let shading = v1::Shading {
            shading_id: "light-band".to_owned(),
            display_name: "light band".to_owned(),
            ..v1::Shading::default()
        };
        let ladder = v1::Ladder {
            name: "ladders/pull".to_owned(),
            rungs: vec![rung],
            shadings: vec![shading],
            ..v1::Ladder::default()
        };
        Lexicon::of(&[ladder])
    }

    #[test]
    fn work_is_named_with_all_that_was_done_to_the_rung() {
        let names = lexicon();
        let rung = "ladders/pull/rungs/pull-up";
        assert_eq!(names.work(rung, &[], 0.0), "Pull-up");
        assert_eq!(names.work(rung, &["light-band".to_owned()], 2.5), "Pull-up, light band, + 2.5 kg");
        assert_eq!(names.work(rung, &["new".to_owned()], -5.0), "Pull-up, new, - 5 kg");
        assert_eq!(names.work("ladders/gone/rungs/away", &[], 0.0), "gone/away");
    }
}
