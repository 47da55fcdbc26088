//! Roll: the rungs of the service and the athletes of a roster, which workbooks are read against.

use std::collections::BTreeMap;

use nextrung_api::v1;
use nextrung_domain::measure::Unit;
use nextrung_sheet::mapping::{KnownRung, Mapping, folded};

use super::super::answers;
use crate::connection::Connection;
use crate::failure::Failure;
use crate::names;

/// What the words of a workbook may mean.
#[derive(Debug)]
pub(super) struct Roll {
    pub(super) rungs: Vec<KnownRung>,
    /// The roster, a resource name.
    pub(super) roster: String,
    /// The athletes by id.
    pub(super) athletes: BTreeMap<String, v1::Athlete>,
}

impl Roll {
    /// Asks the service.
    pub(super) async fn call(service: &Connection, roster: &str) -> Result<Self, Failure> {
        let ladders = service.all_ladders().await?.ladders;
        let rungs = ladders.iter().flat_map(|ladder| &ladder.rungs).filter_map(known).collect();
        let athletes = answers::athletes(service, roster).await?;
        let by_id = |athlete: v1::Athlete| (names::last(&athlete.name).to_owned(), athlete);
        Ok(Self { rungs, roster: roster.to_owned(), athletes: athletes.into_iter().map(by_id).collect() })
    }

    /// The id of an athlete whom a word means: by id first, by name when only one is called so.
    pub(super) fn id_of(&self, word: &str) -> Option<&str> {
        let word = folded(word);
        if let Some((id, _)) = self.athletes.get_key_value(&word) {
            return Some(id);
        }
        let mut called = self.athletes.iter().filter(|(_, one)| folded(&one.display_name) == word);
        match (called.next(), called.next()) {
            (Some((id, _)), None) => Some(id),
            _ => None,
        }
    }

    /// A mapping that knows the athletes of the roster too, besides what it says itself.
    pub(super) fn laid_under(&self, mapping: &Mapping) -> Mapping {
        let mut mapping = mapping.clone();
        mapping.athlete = mapping.athlete.map(|word| self.id_of(&word).map_or(word.clone(), str::to_owned));
        for athlete in self.athletes.values() {
            let word = folded(&athlete.display_name);
            if let Some(id) = self.id_of(&word) {
                mapping.athletes.entry(word).or_insert_with(|| id.to_owned());
            }
        }
        for id in self.athletes.keys() {
            mapping.athletes.entry(id.clone()).or_insert_with(|| id.clone());
        }
        mapping
    }
}

/// A rung as sheets know it; nothing for one in a unit of a newer contract, which no sheet can be counted in.
fn known(rung: &v1::Rung) -> Option<KnownRung> {
    let unit = match rung.unit() {
        v1::Unit::Reps => Unit::Reps,
        v1::Unit::HoldSeconds => Unit::HoldSeconds,
        v1::Unit::LoweringSeconds => Unit::LoweringSeconds,
        v1::Unit::Unspecified => return None,
    };
    Some(KnownRung { name: names::short(&rung.name), unit })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn roll(athletes: &[(&str, &str)]) -> Roll {
        let athlete = |(id, name): &(&str, &str)| {
            let athlete = v1::Athlete {
                name: format!("rosters/hall/athletes/{id}"),
                display_name: (*name).to_owned(),
                ..v1::Athlete::default()
            };
            ((*id).to_owned(), athlete)
        };
        Roll {
            rungs: Vec::new(),
            roster: "rosters/hall".to_owned(),
            athletes: athletes.iter().map(athlete).collect(),
        }
    }

    #[test]
    fn an_id_comes_before_a_name_and_a_name_of_two_is_nobodys() {
        let roll = roll(&[("wren", "Lark"), ("lark", "Wren Hill"), ("kite", "K"), ("rook", "k")]);
        assert_eq!(roll.id_of("Wren"), Some("wren"));
        assert_eq!(roll.id_of("lark"), Some("lark"), "an id, whoever else is called so");
        assert_eq!(roll.id_of(" wren  HILL "), Some("lark"));
        assert_eq!((roll.id_of("K"), roll.id_of("nobody")), (None, None));
    }

    #[test]
    fn what_a_mapping_says_itself_stays() {
        let roll = roll(&[("wren", "Wren Hill"), ("lark", "Lark")]);
        let own = BTreeMap::from([("wren hill".to_owned(), "lark".to_owned())]);
        let mapping = Mapping { athlete: Some("WREN".to_owned()), athletes: own, ..Mapping::default() };
        let laid = roll.laid_under(&mapping);
        assert_eq!(laid.athlete.as_deref(), Some("wren"));
        assert_eq!(laid.athletes["wren hill"], "lark");
        assert_eq!(laid.athletes["lark"], "lark");
    }
}
