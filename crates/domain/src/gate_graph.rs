//! Gate graph: checks that reach across ladder files.

use std::collections::BTreeMap;

use crate::ability_file::ReadAbilities;
use crate::ids::RungRef;
use crate::ladder::{GateNeed, Rung};
use crate::ladder_file::{LadderProblem, ReadLadder};
use crate::problem::did_you_mean;

/// A rung with where it was read.
struct Node<'a> {
    file: &'a str,
    rung: &'a Rung,
    lines: Vec<usize>,
}

type Nodes<'a> = BTreeMap<RungRef, Node<'a>>;

/// Checks ladders against each other and against the anchors of the abilities: ladder ids used once, gates that name
/// rungs that exist, no cycle of gates, every anchor there with difficulty 0.
pub(crate) fn check_across(abilities: &ReadAbilities, ladders: &[ReadLadder]) -> Vec<LadderProblem> {
    let mut problems = repeated_ids(ladders);
    let nodes = collect(ladders);
    problems.extend(unknown_gates(&nodes));
    problems.extend(bad_anchors(abilities, &nodes));
    problems.extend(cycles(&nodes));
    problems
}

fn repeated_ids(ladders: &[ReadLadder]) -> Vec<LadderProblem> {
    let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
    let mut problems = Vec::new();
    for read in ladders {
        if let Some(other) = seen.insert(read.ladder.id.as_str(), &read.file) {
            problems.push(LadderProblem {
                file: read.file.clone(),
                line: read.id_line,
                key: "id".to_owned(),
                found: format!("`{}`, which {other} has too", read.ladder.id),
                expected: "an id used by one ladder".to_owned(),
                suggestion: String::new(),
            });
        }
    }
    problems
}

fn collect(ladders: &[ReadLadder]) -> Nodes<'_> {
    let mut nodes = BTreeMap::new();
    for read in ladders {
        for (r, rung) in read.ladder.rungs.iter().enumerate() {
            let name = RungRef { ladder: read.ladder.id.clone(), rung: rung.id.clone() };
            let lines =
                read.gate_lines.iter().filter(|(at, _, _)| *at == r).map(|(_, _, line)| *line).collect();
            nodes.insert(name, Node { file: &read.file, rung, lines });
        }
    }
    nodes
}

fn gate_problem(
    name: &RungRef,
    node: &Node<'_>,
    gate: usize,
    words: (String, String, String),
) -> LadderProblem {
    LadderProblem {
        file: node.file.to_owned(),
        line: node.lines.get(gate).copied().unwrap_or(1),
        key: format!("{name}: gate[{gate}].rung"),
        found: words.0,
        expected: words.1,
        suggestion: words.2.trim_start_matches("; ").to_owned(),
    }
}

fn unknown_gates(nodes: &Nodes<'_>) -> Vec<LadderProblem> {
    let names: Vec<String> = nodes.keys().map(ToString::to_string).collect();
    let mut problems = Vec::new();
    for (name, node) in nodes {
        for (g, gate) in node.rung.gates.iter().enumerate() {
            let GateNeed::Units { rung, at_least } = &gate.need else { continue };
            let Some(wanted) = nodes.get(rung) else {
                let guess = did_you_mean(&rung.to_string(), names.iter().map(String::as_str));
                let words = (format!("`{rung}`"), "a rung of one of the ladders".to_owned(), guess);
                problems.push(gate_problem(name, node, g, words));
                continue;
            };
            if *at_least > wanted.rung.unit.most() {
                let words = (
                    format!("{at_least} units of `{rung}`"),
                    format!("at most {} {}", wanted.rung.unit.most(), wanted.rung.unit.short()),
                    String::new(),
                );
                problems.push(gate_problem(name, node, g, words));
            }
        }
    }
    problems
}

fn bad_anchors(read: &ReadAbilities, nodes: &Nodes<'_>) -> Vec<LadderProblem> {
    let names: Vec<String> = nodes.keys().map(ToString::to_string).collect();
    let mut problems = Vec::new();
    for (a, ability) in read.abilities.iter().enumerate() {
        let node = nodes.get(&ability.anchor);
        let demand = node.and_then(|n| n.rung.demands.iter().find(|d| d.ability.at() == a));
        if demand.is_some_and(|d| d.difficulty == 0.0) {
            continue;
        }
        let mut suggestion = String::new();
        let found = match (node, demand) {
            (_, Some(d)) => format!("`{}` with difficulty {}", ability.anchor, d.difficulty),
            (Some(_), None) => format!("`{}`, which makes no demand on it", ability.anchor),
            (None, None) => {
                suggestion = did_you_mean(&ability.anchor.to_string(), names.iter().map(String::as_str));
                format!("`{}`, which is on no ladder", ability.anchor)
            }
        };
        problems.push(LadderProblem {
            file: read.file.clone(),
            line: read.anchor_lines.get(a).copied().unwrap_or(1),
            key: format!("{}: anchor", ability.id),
            found,
            expected: "a rung whose difficulty on this ability is 0".to_owned(),
            suggestion: suggestion.trim_start_matches("; ").to_owned(),
        });
    }
    problems
}

/// Reports each rung that stands on a cycle of gates, once per cycle, at the first rung in name order.
fn cycles(nodes: &Nodes<'_>) -> Vec<LadderProblem> {
    let mut problems = Vec::new();
    let mut reported: Vec<RungRef> = Vec::new();
    for (name, node) in nodes {
        let mut trail = vec![name.clone()];
        if reported.contains(name) || !leads_back(nodes, name, name, &mut trail) {
            continue;
        }
        let path: Vec<String> = trail.iter().map(ToString::to_string).collect();
        let words = (
            format!("a cycle: {} -> {name}", path.join(" -> ")),
            "gates that lead down to a rung without gates".to_owned(),
            "remove one of these gates".to_owned(),
        );
        let first = node.rung.gates.iter().position(
            |g| matches!(&g.need, GateNeed::Units { rung, .. } if trail.get(1).unwrap_or(name) == rung),
        );
        problems.push(gate_problem(name, node, first.unwrap_or(0), words));
        reported.extend(trail);
    }
    problems
}

/// Depth-first: true when gates lead from `from` back to `goal`; `trail` then holds the way. Each rung is tried once.
fn leads_back(nodes: &Nodes<'_>, from: &RungRef, goal: &RungRef, trail: &mut Vec<RungRef>) -> bool {
    fn walk(
        nodes: &Nodes<'_>,
        from: &RungRef,
        goal: &RungRef,
        state: (&mut Vec<RungRef>, &mut Vec<RungRef>),
    ) -> bool {
        let (trail, tried) = state;
        let Some(node) = nodes.get(from) else { return false };
        for gate in &node.rung.gates {
            let GateNeed::Units { rung, .. } = &gate.need else { continue };
            if rung == goal {
                return true;
            }
            if tried.contains(rung) {
                continue;
            }
            tried.push(rung.clone());
            trail.push(rung.clone());
            if walk(nodes, rung, goal, (trail, tried)) {
                return true;
            }
            trail.pop();
        }
        false
    }
    walk(nodes, from, goal, (trail, &mut Vec::new()))
}
