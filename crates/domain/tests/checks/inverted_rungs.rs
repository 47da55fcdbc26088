//! Head-down rungs of `data/`: the wall before free balance, slow lowering before presses, the way out, the mark.

use std::collections::BTreeSet;

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::ladder::{GateNeed, Rung, Side};
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::measure::Unit;
use nextrung_domain::profile::Clearance;

use crate::real_catalog::{data, ladder_files, read};

/// Rungs that ask for hand balance with the head up: the trunk is about level (see the planche's ladder file).
const HEAD_UP: [&str; 2] = ["planche/frog-stand", "planche/straight-arm-frog"];

/// A rule with the rungs it speaks of and what it asks of each.
struct Rule {
    name: &'static str,
    speaks_of: fn(&Catalog, RungIx) -> bool,
    asks: fn(&Catalog, RungIx) -> bool,
}

/// Common practice, no source.
const RULES: [Rule; 8] = [
    Rule {
        name: "who balances on the hands upside down has held it at the wall first",
        speaks_of: is_balanced_head_down,
        asks: |catalog, ix| {
            let is_wall = |rung: &Rung| rung.inverted && needs(rung, "wall");
            way(catalog, ix).iter().any(|on| is_wall(catalog.rung(*on)))
        },
    },
    Rule {
        name: "who balances on the hands upside down has practised the way out",
        speaks_of: is_balanced_head_down,
        asks: |catalog, ix| asks_for(catalog.rung(ix), Clearance::ExitPractised),
    },
    Rule {
        name: "who hangs upside down has practised the way out",
        speaks_of: |catalog, ix| catalog.rung(ix).inverted && demands(catalog, ix, "straight-arm-pull"),
        asks: |catalog, ix| asks_for(catalog.rung(ix), Clearance::ExitPractised),
    },
    Rule {
        name: "whoever stands with the chest to the wall has practised the way out: it cannot be stepped down from",
        speaks_of: |catalog, ix| {
            let rung = catalog.rung(ix);
            rung.inverted && needs(rung, "wall") && demands(catalog, ix, "line")
        },
        asks: |catalog, ix| asks_for(catalog.rung(ix), Clearance::ExitPractised),
    },
    Rule {
        name: "free presses ask for slow lowering through the whole range",
        speaks_of: |catalog, ix| {
            let (rung, ladder) = (catalog.rung(ix), catalog.ladder_of(ix));
            let is_press = rung.unit == Unit::Reps || rung.side == Side::BentArm;
            is_balanced_head_down(catalog, ix) && ladder.side != Side::Balance && is_press
        },
        asks: |catalog, ix| asks_for(catalog.rung(ix), Clearance::SlowLoweringFullRange),
    },
    Rule {
        name: "bent arms that carry the whole body at the wall have lowered it slowly first",
        speaks_of: |catalog, ix| {
            let rung = catalog.rung(ix);
            rung.inverted && rung.side == Side::BentArm && needs(rung, "wall")
        },
        asks: |catalog, ix| {
            let lowers = |on: RungIx| {
                let rung = catalog.rung(on);
                rung.unit == Unit::LoweringSeconds && rung.inverted && rung.side == Side::BentArm
            };
            lowers(ix) || way(catalog, ix).into_iter().any(lowers)
        },
    },
    Rule {
        name: "what asks for hand balance is marked as head-down, the frog stands left out",
        speaks_of: |catalog, ix| {
            demands(catalog, ix, "hand-balance") && !HEAD_UP.contains(&catalog.name(ix).to_string().as_str())
        },
        asks: |catalog, ix| catalog.rung(ix).inverted,
    },
    Rule {
        name: "what asks for something head-down or for a clearance first is marked as head-down",
        speaks_of: |catalog, ix| {
            catalog.rung(ix).gates.iter().any(|gate| match &gate.need {
                GateNeed::Units { rung, .. } => {
                    catalog.find(rung).is_some_and(|on| catalog.rung(on).inverted)
                }
                GateNeed::Clearance(_) => true,
            })
        },
        asks: |catalog, ix| catalog.rung(ix).inverted,
    },
];

fn needs(rung: &Rung, word: &str) -> bool {
    rung.equipment.iter().any(|e| e.as_str() == word)
}

fn demands(catalog: &Catalog, ix: RungIx, ability: &str) -> bool {
    catalog.rung(ix).demands.iter().any(|d| catalog.ability(d.ability).id.as_str() == ability)
}

fn is_balanced_head_down(catalog: &Catalog, ix: RungIx) -> bool {
    catalog.rung(ix).inverted && demands(catalog, ix, "hand-balance")
}

fn asks_for(rung: &Rung, clearance: Clearance) -> bool {
    rung.gates.iter().any(|g| g.need == GateNeed::Clearance(clearance))
}

/// Every rung that gates ask for on the way to a rung.
fn way(catalog: &Catalog, ix: RungIx) -> BTreeSet<RungIx> {
    let mut found = BTreeSet::new();
    let mut open = vec![ix];
    while let Some(next) = open.pop() {
        for gate in &catalog.rung(next).gates {
            if let GateNeed::Units { rung, .. } = &gate.need {
                let on = catalog.find(rung).expect("checked when read");
                if found.insert(on) {
                    open.push(on);
                }
            }
        }
    }
    found
}

/// What breaks the rules, and how many rungs each rule speaks of.
fn broken(catalog: &Catalog) -> (Vec<String>, Vec<usize>) {
    let rungs = || (0..catalog.rung_count()).map(|n| RungIx(u16::try_from(n).expect("few rungs")));
    let mut found = Vec::new();
    let mut counts = Vec::new();
    for rule in &RULES {
        let about: Vec<RungIx> = rungs().filter(|ix| (rule.speaks_of)(catalog, *ix)).collect();
        counts.push(about.len());
        let bad = about.into_iter().filter(|ix| !(rule.asks)(catalog, *ix));
        found.extend(bad.map(|ix| format!("{}: {}", catalog.name(ix), rule.name)));
    }
    (found, counts)
}

/// The real ladders with the text of their files changed.
fn catalog_with(change: impl Fn(&str) -> String) -> Catalog {
    let (name, text) = read(&data().join("abilities.toml"));
    let files: Vec<(String, String)> =
        ladder_files().into_iter().map(|(name, text)| (name, change(&text))).collect();
    let named: Vec<NamedText<'_>> = files.iter().map(|(name, text)| NamedText { name, text }).collect();
    load_catalog(NamedText { name: &name, text: &text }, &named).expect("sound but for the rules")
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]
fn head_down_rungs_keep_every_rule() {
    let (found, counts) = broken(&catalog_with(str::to_owned));
    for (rule, count) in RULES.iter().zip(&counts) {
        println!("{count} rungs: {}", rule.name);
    }
    assert!(counts.iter().all(|count| *count >= 3), "a rule speaks of next to nothing: {counts:?}");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A file without the gates that have such a line.
fn without_gates(text: &str, line: &str) -> String {
    let mut parts = text.split("[[rung.gate]]\n");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (gate, rest) = part.split_once("\n\n").unwrap_or((part, ""));
        if gate.contains(line) {
            kept += rest;
        } else {
            kept += &format!("[[rung.gate]]\n{part}");
        }
    }
    kept
}

#[test]
fn every_rule_finds_what_breaks_it() {
    let spoilt: [(&str, Catalog); 8] = [
        (
            RULES[0].name,
            catalog_with(|text| {
                let walls = [
                    "chest-to-wall-hold",
                    "back-to-wall-hold",
                    "toe-pull",
                    "wall-press",
                    "wall-lowering",
                    "wall-straddle-lowering",
                ];
                walls.iter().fold(text.to_owned(), |text, wall| without_gates(&text, &format!("/{wall}\"")))
            }),
        ),
        (RULES[1].name, catalog_with(|text| without_gates(text, "exit-practised"))),
        (RULES[2].name, catalog_with(|text| without_gates(text, "exit-practised"))),
        (RULES[3].name, catalog_with(|text| without_gates(text, "exit-practised"))),
        (RULES[4].name, catalog_with(|text| without_gates(text, "slow-lowering-full-range"))),
        (RULES[5].name, catalog_with(|text| without_gates(text, "press/wall-lowering"))),
        (RULES[6].name, catalog_with(|text| text.replace("inverted = true\n", ""))),
        (RULES[7].name, catalog_with(|text| text.replace("inverted = true\n", ""))),
    ];
    for (rule, catalog) in &spoilt {
        let (found, _) = broken(catalog);
        assert!(found.iter().any(|bad| bad.ends_with(rule)), "nothing breaks `{rule}`: {found:?}");
    }
}
