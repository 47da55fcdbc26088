//! Rungs within a ladder file.

use super::{SIDES, find_ability, read_equipment, report_unknown_ability};
use crate::ability::Ability;
use crate::band::Band;
use crate::ids::{RungId, RungRef, ShadingId};
use crate::ladder::{Basis, Demand, Gate, GateNeed, Rung, Shading, Side};
use crate::measure::Unit;
use crate::problem::did_you_mean;
use crate::profile::Clearance;
use crate::toml_reader::{Source, Table};

const RUNG_KEYS: [&str; 15] = [
    "id",
    "name",
    "unit",
    "side",
    "cues",
    "cautions",
    "equipment",
    "shadings",
    "inverted",
    "load_share",
    "load_source",
    "band",
    "attempt_band",
    "demand",
    "gate",
];
const DEMAND_KEYS: [&str; 5] = ["ability", "difficulty", "sd", "basis", "source"];
const GATE_KEYS: [&str; 4] = ["rung", "at_least", "clearance", "why"];
const UNITS: [&str; 3] = ["reps", "hold-seconds", "lowering-seconds"];
const CLEARANCES: [&str; 3] = ["inverted-work", "exit-practised", "slow-lowering-full-range"];

/// What a rung is read against.
pub(super) struct Context<'c> {
    pub(super) abilities: &'c [Ability],
    pub(super) shadings: &'c [Shading],
    pub(super) side: Side,
}

/// Reads every rung; notes the line of each gate as (rung, gate, line).
pub(super) fn read_rungs(
    src: &mut Source<'_>,
    root: &Table<'_, '_>,
    context: &Context<'_>,
    gate_lines: &mut Vec<(usize, usize, usize)>,
) -> Vec<Rung> {
    let mut rungs: Vec<Rung> = Vec::new();
    let tables = root.tables(src, "rung");
    if tables.is_empty() || tables.len() > 200 {
        src.report(
            root.at,
            "rung",
            format!("{} rungs", tables.len()),
            ("1 to 200 tables [[rung]]", String::new()),
        );
    }
    for table in &tables {
        let Some(rung) = read_rung(src, table, context, (rungs.len(), gate_lines)) else { continue };
        if rungs.iter().any(|r| r.id == rung.id) {
            let found = format!("`{}` a second time", rung.id);
            src.report(table.place("id"), &table.key("id"), found, ("an id used once", String::new()));
        }
        rungs.push(rung);
    }
    rungs
}

fn read_rung(
    src: &mut Source<'_>,
    table: &Table<'_, '_>,
    context: &Context<'_>,
    gates_at: (usize, &mut Vec<(usize, usize, usize)>),
) -> Option<Rung> {
    table.only(src, &RUNG_KEYS);
    let id = table.parsed(src, "id", |t| RungId::new(t).ok(), ("a slug such as `pull-up`", &[]));
    let name = table.text(src, "name");
    let unit = table.parsed(src, "unit", Unit::from_word, ("reps, hold-seconds or lowering-seconds", &UNITS));
    let side = if table.has("side") {
        table.parsed(src, "side", Side::from_word, ("bent-arm, straight-arm, balance or legs", &SIDES))
    } else {
        Some(context.side)
    };
    let cues: Vec<String> = table.texts(src, "cues").into_iter().map(|(_, t)| t).collect();
    if cues.is_empty() || cues.len() > 4 {
        let found = format!("{} cues", cues.len());
        src.report(table.place("cues"), &table.key("cues"), found, ("1 to 4 short cues", String::new()));
    }
    let cautions = table.texts(src, "cautions").into_iter().map(|(_, t)| t).collect();
    let equipment = read_equipment(src, table);
    let shadings = read_offered(src, table, context.shadings);
    let inverted = table.flag(src, "inverted");
    let load_share = read_load_share(src, table);
    let band = read_band(src, table, "band", unit);
    let attempt_band = read_band(src, table, "attempt_band", unit);
    let demands = read_demands(src, table, context.abilities);
    let gates = read_gates(src, table, gates_at);
    // Only now may a missing field end the reading: what is wrong with the others has been reported.
    Some(Rung {
        id: id?,
        name: name?,
        unit: unit?,
        side: side?,
        cues,
        cautions,
        equipment,
        shadings,
        inverted,
        load_share,
        band,
        attempt_band,
        demands,
        gates,
    })
}

fn read_offered(src: &mut Source<'_>, table: &Table<'_, '_>, known: &[Shading]) -> Vec<ShadingId> {
    let mut offered: Vec<ShadingId> = Vec::new();
    for (at, word) in table.texts(src, "shadings") {
        let shading = known.iter().find(|s| s.id.as_str() == word);
        match shading {
            Some(s) if !offered.contains(&s.id) => offered.push(s.id.clone()),
            Some(_) => {
                let found = format!("`{word}` a second time");
                src.report(at, &table.key("shadings"), found, ("each shading once", String::new()));
            }
            None => {
                let guess = did_you_mean(&word, known.iter().map(|s| s.id.as_str()));
                let expected = ("a shading declared in this file", guess);
                src.report(at, &table.key("shadings"), format!("`{word}`"), expected);
            }
        }
    }
    offered
}

fn read_load_share(src: &mut Source<'_>, table: &Table<'_, '_>) -> Option<(f64, String)> {
    match (table.has("load_share"), table.has("load_source")) {
        (false, false) => None,
        _ => {
            let share = table.number(src, "load_share", 0.05, 1.5);
            let source = table.text(src, "load_source");
            share.zip(source)
        }
    }
}

fn read_band(src: &mut Source<'_>, table: &Table<'_, '_>, field: &str, unit: Option<Unit>) -> Option<Band> {
    let (low, high) = table.pair(src, field)?;
    let unit = unit.unwrap_or(Unit::HoldSeconds);
    let band = Band::new(unit, low, high);
    if band.is_none() {
        let expected = format!("two whole numbers from 1 to {}, the first not above the second", unit.most());
        let found = format!("[{low}, {high}]");
        src.report(table.place(field), &table.key(field), found, (&expected, String::new()));
    }
    band
}

fn read_demands(src: &mut Source<'_>, table: &Table<'_, '_>, abilities: &[Ability]) -> Vec<Demand> {
    let mut demands: Vec<Demand> = Vec::new();
    let tables = table.tables(src, "demand");
    if tables.is_empty() || tables.len() > 4 {
        let found = format!("{} demands", tables.len());
        src.report(table.at, &table.key("demand"), found, ("1 to 4 tables [[rung.demand]]", String::new()));
    }
    for t in &tables {
        t.only(src, &DEMAND_KEYS);
        let word = t.text(src, "ability");
        let difficulty = t.number(src, "difficulty", -8.0, 8.0);
        let sd = t.number(src, "sd", 0.0, 2.0);
        let basis = t.parsed(
            src,
            "basis",
            Basis::from_word,
            ("anchor, derived or estimate", &["anchor", "derived", "estimate"]),
        );
        let source = t.text(src, "source");
        let ability = word.as_deref().and_then(|w| find_ability(abilities, w));
        if let (Some(word), None) = (&word, ability) {
            report_unknown_ability(src, (t.place("ability"), &t.key("ability")), word, abilities);
        }
        if ability.is_some_and(|a| demands.iter().any(|d| d.ability == a)) {
            let expected = ("each ability once", String::new());
            src.report(t.place("ability"), &t.key("ability"), "an ability a second time", expected);
        }
        if let (Some(ability), Some(difficulty), Some(sd), Some(basis), Some(source)) =
            (ability, difficulty, sd, basis, source)
        {
            demands.push(Demand { ability, difficulty, sd, basis, source });
        }
    }
    demands.sort_by_key(|d| d.ability);
    demands
}

fn read_gates(
    src: &mut Source<'_>,
    table: &Table<'_, '_>,
    (rung, lines): (usize, &mut Vec<(usize, usize, usize)>),
) -> Vec<Gate> {
    let mut gates = Vec::new();
    for t in table.tables(src, "gate") {
        t.only(src, &GATE_KEYS);
        let why = t.text(src, "why");
        let need = read_need(src, &t);
        if let (Some(why), Some(need)) = (why, need) {
            let line = src.line(t.at);
            lines.push((rung, gates.len(), line));
            gates.push(Gate { need, why });
        }
    }
    gates
}

fn read_need(src: &mut Source<'_>, table: &Table<'_, '_>) -> Option<GateNeed> {
    match (table.has("rung"), table.has("clearance")) {
        (true, false) => {
            let rung =
                table.parsed(src, "rung", |t| RungRef::parse(t).ok(), ("a rung such as `pull/pull-up`", &[]));
            let at_least = table.whole(src, "at_least", 1, 1800).and_then(|n| u16::try_from(n).ok());
            Some(GateNeed::Units { rung: rung?, at_least: at_least? })
        }
        (false, true) => {
            if table.has("at_least") {
                let fix = ("`at_least` only beside `rung`", "remove it".to_owned());
                let found = "`at_least` beside `clearance`";
                src.report(table.place("at_least"), &table.key("at_least"), found, fix);
            }
            let expected =
                ("inverted-work, exit-practised or slow-lowering-full-range", CLEARANCES.as_slice());
            table.parsed(src, "clearance", Clearance::from_word, expected).map(GateNeed::Clearance)
        }
        (both, _) => {
            let found = if both { "both `rung` and `clearance`" } else { "neither `rung` nor `clearance`" };
            src.report(
                table.at,
                &table.path,
                found,
                ("exactly one of `rung` and `clearance`", String::new()),
            );
            None
        }
    }
}
