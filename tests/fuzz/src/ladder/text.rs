//! Text: ladders and abilities as files again, field by field, by another writer of TOML.

use nextrung_domain::ability::{Ability, AbilityIx};
use nextrung_domain::band::Band;
use nextrung_domain::ids::{EquipmentId, ShadingId};
use nextrung_domain::ladder::{Demand, Gate, GateNeed, Ladder, Rung, Shading};
use toml::{Table, Value};

/// A ladder's file.
pub(super) fn of_ladder(ladder: &Ladder, abilities: &[Ability]) -> String {
    let Ladder { id, name, version, side, about, cautions, shadings, rungs } = ladder;
    let shadings = shadings.iter().map(|shading| of_shading(shading, abilities)).collect();
    let rungs = rungs.iter().map(|rung| of_rung(rung, abilities)).collect();
    table([
        ("id", text(id)),
        ("name", text(name)),
        ("version", Value::from(*version)),
        ("side", text(side.word())),
        ("about", text(about)),
        ("cautions", texts(cautions)),
        ("shading", Value::Array(shadings)),
        ("rung", Value::Array(rungs)),
    ])
    .to_string()
}

/// A file of abilities.
pub(super) fn of_abilities(abilities: &[Ability]) -> String {
    let one = |ability: &Ability| {
        let Ability { id, name, kind, anchor, start_level, start_sd, source } = ability;
        Value::Table(table([
            ("id", text(id)),
            ("name", text(name)),
            ("kind", text(kind.word())),
            ("anchor", text(anchor)),
            ("start_level", Value::from(*start_level)),
            ("start_sd", Value::from(*start_sd)),
            ("source", text(source)),
        ]))
    };
    table([("ability", Value::Array(abilities.iter().map(one).collect()))]).to_string()
}

fn table<const N: usize>(pairs: [(&str, Value); N]) -> Table {
    pairs.into_iter().map(|(key, value)| (key.to_owned(), value)).collect()
}

fn text(value: &(impl ToString + ?Sized)) -> Value {
    Value::String(value.to_string())
}

fn texts<T: ToString>(values: &[T]) -> Value {
    Value::Array(values.iter().map(text).collect())
}

fn id_of(abilities: &[Ability], ix: AbilityIx) -> String {
    abilities.get(ix.at()).map(|ability| ability.id.to_string()).unwrap_or_default()
}

fn of_shading(shading: &Shading, abilities: &[Ability]) -> Value {
    let Shading { id, name, change, sd, source, equipment } = shading;
    let change = change.iter().map(|(ix, change)| (id_of(abilities, *ix), Value::from(*change)));
    Value::Table(table([
        ("id", text(id)),
        ("name", text(name)),
        ("change", Value::Table(change.collect())),
        ("sd", Value::from(*sd)),
        ("source", text(source)),
        ("equipment", texts::<EquipmentId>(equipment)),
    ]))
}

fn of_rung(rung: &Rung, abilities: &[Ability]) -> Value {
    let Rung {
        id,
        name,
        unit,
        side,
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
    } = rung;
    let mut told = table([
        ("id", text(id)),
        ("name", text(name)),
        ("unit", text(unit.word())),
        ("side", text(side.word())),
        ("cues", texts(cues)),
        ("cautions", texts(cautions)),
        ("equipment", texts::<EquipmentId>(equipment)),
        ("shadings", texts::<ShadingId>(shadings)),
        ("inverted", Value::Boolean(*inverted)),
        ("demand", Value::Array(demands.iter().map(|demand| of_demand(demand, abilities)).collect())),
        ("gate", Value::Array(gates.iter().map(of_gate).collect())),
    ]);
    if let Some((share, source)) = load_share {
        told.insert("load_share".to_owned(), Value::from(*share));
        told.insert("load_source".to_owned(), text(source));
    }
    for (key, band) in [("band", band), ("attempt_band", attempt_band)] {
        if let Some(Band { low, high }) = band {
            let pair = vec![Value::from(u32::from(*low)), Value::from(u32::from(*high))];
            told.insert(key.to_owned(), Value::Array(pair));
        }
    }
    Value::Table(told)
}

fn of_demand(demand: &Demand, abilities: &[Ability]) -> Value {
    let Demand { ability, difficulty, sd, basis, source } = demand;
    Value::Table(table([
        ("ability", Value::String(id_of(abilities, *ability))),
        ("difficulty", Value::from(*difficulty)),
        ("sd", Value::from(*sd)),
        ("basis", text(basis.word())),
        ("source", text(source)),
    ]))
}

fn of_gate(gate: &Gate) -> Value {
    let Gate { need, why } = gate;
    let mut told = table([("why", text(why))]);
    match need {
        GateNeed::Units { rung, at_least } => {
            told.insert("rung".to_owned(), text(rung));
            told.insert("at_least".to_owned(), Value::from(u32::from(*at_least)));
        }
        GateNeed::Clearance(clearance) => {
            told.insert("clearance".to_owned(), text(clearance.word()));
        }
    }
    Value::Table(told)
}
