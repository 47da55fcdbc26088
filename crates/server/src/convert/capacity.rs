//! Capacity estimates to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_engine::capacity::{AbilityLevel, LEVELS, RungCapacity};

use super::{band, words};
use crate::names;

/// A rung's estimate.
pub fn of_rung(catalog: &Catalog, found: &RungCapacity) -> v1::RungCapacity {
    let intervals = LEVELS.iter().zip(found.intervals);
    v1::RungCapacity {
        rung: names::of_rung(&catalog.name(found.rung)),
        unit: words::of_unit(catalog.rung(found.rung).unit),
        median_units: found.median,
        intervals: intervals.map(|(level, (low, high))| v1::Interval { level: *level, low, high }).collect(),
        working_band: Some(band::of_band(found.band)),
        p_band_low: found.p_band_low,
    }
}

/// An ability's level.
pub fn of_ability(catalog: &Catalog, found: &AbilityLevel) -> v1::AbilityLevel {
    let ability = catalog.ability(found.ability);
    v1::AbilityLevel {
        ability: ability.id.to_string(),
        anchor_rung: names::of_rung(&ability.anchor),
        level_mean: found.level.0,
        level_sd: found.level.1,
        trend_per_week: found.trend.0,
        trend_per_week_sd: found.trend.1,
    }
}
