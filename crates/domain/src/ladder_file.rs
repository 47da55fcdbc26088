//! Ladder file: reads and checks ladders written as TOML, and joins them into a catalog.

use std::fmt;

use serde::Serialize;
use toml::Spanned;
use toml::de::DeTable;

use crate::ability::Ability;
use crate::ability_file::{ReadAbilities, read_abilities};
use crate::catalog::Catalog;
use crate::gate_graph::check_across;
use crate::ids::{EquipmentId, LadderId, ShadingId};
use crate::ladder::{Ladder, Shading, Side};
use crate::problem::did_you_mean;
use crate::toml_reader::{Source, Table};

mod rung;

/// Largest ladder file, in bytes.
pub const MAX_BYTES: usize = 512 * 1024;

/// Most problems of a file reported one by one; a last one says how many more there are.
pub const MAX_PROBLEMS: usize = 200;

/// A text with the name of the file it came from.
#[derive(Debug, Clone, Copy)]
pub struct NamedText<'a> {
    /// File name, for messages.
    pub name: &'a str,
    /// Its content.
    pub text: &'a str,
}

/// One thing wrong with a ladder or ability file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LadderProblem {
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The key, such as `rung[3].demand[0].difficulty`.
    pub key: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to mend it; empty when `expected` says it all.
    pub suggestion: String,
}

impl LadderProblem {
    pub(crate) fn syntax(file: NamedText<'_>, error: &toml::de::Error) -> Self {
        let offset = error.span().map_or(0, |s| s.start);
        let line = 1 + file.text.as_bytes().iter().take(offset).filter(|b| **b == b'\n').count();
        Self {
            file: file.name.to_owned(),
            line,
            key: String::new(),
            found: error.message().to_owned(),
            expected: "TOML".to_owned(),
            suggestion: "mend the syntax on this line first; nothing else was read".to_owned(),
        }
    }
}

impl fmt::Display for LadderProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}: {}: found {}; expected {}",
            self.file, self.line, self.key, self.found, self.expected
        )?;
        if self.suggestion.is_empty() { Ok(()) } else { write!(f, "; {}", self.suggestion) }
    }
}

/// A ladder read from one file, with the lines that later checks speak of.
#[derive(Debug, Clone)]
pub struct ReadLadder {
    /// The file.
    pub file: String,
    /// The ladder; its gates may still name rungs that do not exist.
    pub ladder: Ladder,
    /// Line of its id.
    pub id_line: usize,
    /// Line of each gate, as (rung, gate, line), the first two counted from 0.
    pub gate_lines: Vec<(usize, usize, usize)>,
}

const LADDER_KEYS: [&str; 8] = ["id", "name", "version", "side", "about", "cautions", "shading", "rung"];
const SHADING_KEYS: [&str; 6] = ["id", "name", "change", "sd", "source", "equipment"];
pub(crate) const SIDES: [&str; 4] = ["bent-arm", "straight-arm", "balance", "legs"];

/// Parses a file that is not too large.
pub(crate) fn parse<'t>(file: NamedText<'t>) -> Result<Spanned<DeTable<'t>>, Vec<LadderProblem>> {
    if file.text.len() > MAX_BYTES {
        let mut src = Source::new(file);
        let expected = format!("at most {MAX_BYTES} bytes");
        src.report(0, "", format!("{} bytes", file.text.len()), (&expected, String::new()));
        return Err(src.into_problems());
    }
    DeTable::parse(file.text).map_err(|error| vec![LadderProblem::syntax(file, &error)])
}

/// Reads one ladder against the abilities it may name. Fails with every problem found in the file, up to [`MAX_PROBLEMS`]
/// and one more that counts the rest; gates to other ladders are checked by [`load_catalog`].
pub fn read_ladder(file: NamedText<'_>, abilities: &[Ability]) -> Result<ReadLadder, Vec<LadderProblem>> {
    let table = parse(file)?;
    let root = Table::root(table.get_ref());
    let mut src = Source::new(file);
    let mut gate_lines = Vec::new();
    let ladder = read_body(&mut src, &root, abilities, &mut gate_lines);
    match ladder {
        Some(ladder) if src.count() == 0 => {
            let id_line = src.line(root.place("id"));
            Ok(ReadLadder { file: file.name.to_owned(), ladder, id_line, gate_lines })
        }
        _ => Err(src.into_problems()),
    }
}

fn read_body(
    src: &mut Source<'_>,
    root: &Table<'_, '_>,
    abilities: &[Ability],
    gate_lines: &mut Vec<(usize, usize, usize)>,
) -> Option<Ladder> {
    root.only(src, &LADDER_KEYS);
    let id = root.parsed(src, "id", |t| LadderId::new(t).ok(), ("a slug such as `pull`", &[]));
    let name = root.text(src, "name");
    let version = root.whole(src, "version", 1, 1_000_000).and_then(|v| u32::try_from(v).ok());
    let side = root.parsed(src, "side", Side::from_word, ("bent-arm, straight-arm, balance or legs", &SIDES));
    let about = root.text(src, "about");
    let cautions = root.texts(src, "cautions").into_iter().map(|(_, t)| t).collect();
    let shadings = read_shadings(src, root, abilities);
    let context = rung::Context { abilities, shadings: &shadings, side: side.unwrap_or(Side::BentArm) };
    let rungs = rung::read_rungs(src, root, &context, gate_lines);
    Some(Ladder {
        id: id?,
        name: name?,
        version: version?,
        side: side?,
        about: about?,
        cautions,
        shadings,
        rungs,
    })
}

fn read_shadings(src: &mut Source<'_>, root: &Table<'_, '_>, abilities: &[Ability]) -> Vec<Shading> {
    let mut shadings: Vec<Shading> = Vec::new();
    for table in root.tables(src, "shading") {
        table.only(src, &SHADING_KEYS);
        let id = table.parsed(src, "id", |t| ShadingId::new(t).ok(), ("a slug such as `light-band`", &[]));
        let name = table.text(src, "name");
        let sd = table.number(src, "sd", 0.0, 2.0);
        let source = table.text(src, "source");
        let equipment = read_equipment(src, &table);
        let mut change = Vec::new();
        let before = src.count();
        for (at, word, value) in table.numbers(src, "change", -4.0, 4.0) {
            match find_ability(abilities, &word) {
                Some(ix) => change.push((ix, value)),
                None => report_unknown_ability(src, (at, &table.key("change")), &word, abilities),
            }
        }
        if change.is_empty() && src.count() == before {
            let expected = "what the shading adds to the difficulty, for at least one ability";
            src.report(table.place("change"), &table.key("change"), "no ability", (expected, String::new()));
        }
        change.sort_by_key(|(ix, _)| *ix);
        if let (Some(id), Some(name), Some(sd), Some(source)) = (id, name, sd, source) {
            if shadings.iter().any(|s| s.id == id) {
                let found = format!("`{id}` a second time");
                src.report(table.place("id"), &table.key("id"), found, ("an id used once", String::new()));
            }
            shadings.push(Shading { id, name, change, sd, source, equipment });
        }
    }
    shadings
}

pub(crate) fn read_equipment(src: &mut Source<'_>, table: &Table<'_, '_>) -> Vec<EquipmentId> {
    let mut equipment = Vec::new();
    for (at, word) in table.texts(src, "equipment") {
        match EquipmentId::new(&word) {
            Ok(id) => equipment.push(id),
            Err(_) => {
                src.report(
                    at,
                    &table.key("equipment"),
                    format!("`{word}`"),
                    ("a slug such as `bar`", String::new()),
                );
            }
        }
    }
    equipment
}

pub(crate) fn find_ability(abilities: &[Ability], word: &str) -> Option<crate::ability::AbilityIx> {
    let at = abilities.iter().position(|a| a.id.as_str() == word)?;
    u8::try_from(at).ok().map(crate::ability::AbilityIx)
}

pub(crate) fn report_unknown_ability(
    src: &mut Source<'_>,
    place: (usize, &str),
    word: &str,
    abilities: &[Ability],
) {
    let guess = did_you_mean(word, abilities.iter().map(|a| a.id.as_str()));
    src.report(place.0, place.1, format!("`{word}`"), ("an ability of abilities.toml", guess));
}

/// Reads the ability file and every ladder file and checks them against each other. Fails with every problem found:
/// first those within files; only when every file is sound, those across files (unknown rungs in gates, anchors that
/// are missing or not 0, cycles of gates).
pub fn load_catalog(
    abilities: NamedText<'_>,
    ladders: &[NamedText<'_>],
) -> Result<Catalog, Vec<LadderProblem>> {
    let known = read_abilities(abilities)?;
    let mut read = Vec::new();
    let mut problems = Vec::new();
    for file in ladders {
        match read_ladder(*file, &known.abilities) {
            Ok(ladder) => read.push(ladder),
            Err(found) => problems.extend(found),
        }
    }
    if problems.is_empty() {
        problems = check_across(&known, &read);
    }
    if problems.is_empty() {
        Ok(Catalog::join(known.abilities, read.into_iter().map(|r| r.ladder).collect()))
    } else {
        Err(problems)
    }
}

/// Checks one ladder text as if it stood in `catalog`, replacing the ladder of the same id. Empty when all is well. A
/// problem that this text brings to another ladder (a gate there names a rung that is gone) is reported with that
/// ladder's id in place of the file, one that it brings to an ability with this file; both at line 1.
pub fn check_in_catalog(file: NamedText<'_>, catalog: &Catalog) -> Vec<LadderProblem> {
    let read = match read_ladder(file, catalog.abilities()) {
        Ok(read) => read,
        Err(problems) => return problems,
    };
    let mut all: Vec<ReadLadder> = catalog
        .ladders()
        .iter()
        .filter(|l| l.id != read.ladder.id)
        .map(|l| ReadLadder { file: l.id.to_string(), ladder: l.clone(), id_line: 1, gate_lines: Vec::new() })
        .collect();
    all.push(read);
    let abilities = ReadAbilities {
        file: file.name.to_owned(),
        abilities: catalog.abilities().to_vec(),
        anchor_lines: Vec::new(),
    };
    check_across(&abilities, &all)
}
