//! Ability file: reads and checks `abilities.toml`.

use crate::ability::{Ability, AbilityKind};
use crate::ids::{AbilityId, RungRef};
use crate::ladder_file::{LadderProblem, NamedText, parse};
use crate::toml_reader::{Source, Table};

const KEYS: [&str; 7] = ["id", "name", "kind", "anchor", "start_level", "start_sd", "source"];
/// Abilities are numbered by a byte.
const MOST_ABILITIES: usize = 64;

/// The abilities of a file, with the lines that later checks speak of.
#[derive(Debug, Clone)]
pub struct ReadAbilities {
    /// The file.
    pub file: String,
    /// The abilities; their anchors may still name rungs that do not exist.
    pub abilities: Vec<Ability>,
    /// Line of each anchor.
    pub anchor_lines: Vec<usize>,
}

/// Reads every ability of a file. Fails with every problem found, up to [`crate::ladder_file::MAX_PROBLEMS`] and one more
/// that counts the rest.
pub fn read_abilities(file: NamedText<'_>) -> Result<ReadAbilities, Vec<LadderProblem>> {
    let table = parse(file)?;
    let mut src = Source::new(file);
    let root = Table::root(table.get_ref());
    root.only(&mut src, &["ability"]);
    let tables = root.tables(&mut src, "ability");
    if tables.is_empty() || tables.len() > MOST_ABILITIES {
        let found = format!("{} abilities", tables.len());
        src.report(0, "ability", found, ("1 to 64 tables [[ability]]", String::new()));
    }
    let mut abilities: Vec<Ability> = Vec::new();
    let mut anchor_lines = Vec::new();
    for table in &tables {
        if let Some(ability) = read_one(&mut src, table) {
            if abilities.iter().any(|a| a.id == ability.id) {
                let found = format!("`{}` a second time", ability.id);
                src.report(table.place("id"), &table.key("id"), found, ("an id used once", String::new()));
            }
            abilities.push(ability);
            anchor_lines.push(src.line(table.place("anchor")));
        }
    }
    if src.count() == 0 {
        Ok(ReadAbilities { file: file.name.to_owned(), abilities, anchor_lines })
    } else {
        Err(src.into_problems())
    }
}

fn read_one(src: &mut Source<'_>, table: &Table<'_, '_>) -> Option<Ability> {
    table.only(src, &KEYS);
    let slug = ("a slug such as `vertical-pull`", [].as_slice());
    let id = table.parsed(src, "id", |t| AbilityId::new(t).ok(), slug);
    let name = table.text(src, "name");
    let kind = table.parsed(
        src,
        "kind",
        AbilityKind::from_word,
        ("strength, balance or line", &["strength", "balance", "line"]),
    );
    let anchor =
        table.parsed(src, "anchor", |t| RungRef::parse(t).ok(), ("a rung such as `pull/pull-up`", &[]));
    let start_level = table.number(src, "start_level", -6.0, 8.0);
    let start_sd = table.number(src, "start_sd", 0.05, 4.0);
    let source = table.text(src, "source");
    Some(Ability {
        id: id?,
        name: name?,
        kind: kind?,
        anchor: anchor?,
        start_level: start_level?,
        start_sd: start_sd?,
        source: source?,
    })
}
