//! Bands to and from their messages.

use nextrung_api::v1;
use nextrung_domain::band::{Band, BandPair, Bands};
use nextrung_domain::profile_draft::BandsDraft;

fn pair(message: Option<v1::BandPair>) -> Option<(i64, i64, i64, i64)> {
    let v1::BandPair { working, attempt } = message?;
    let v1::Band { low: a, high: b } = working.unwrap_or_default();
    let v1::Band { low: c, high: d } = attempt.unwrap_or_default();
    Some((i64::from(a), i64::from(b), i64::from(c), i64::from(d)))
}

/// Bands as they come in.
pub fn draft(message: Option<v1::Bands>) -> BandsDraft {
    let v1::Bands { reps, hold_seconds, lowering_seconds } = message.unwrap_or_default();
    [pair(reps), pair(hold_seconds), pair(lowering_seconds)]
}

/// Bands as a draft, to change some fields of a profile and check the whole again.
pub fn draft_of(bands: Option<&Bands>) -> BandsDraft {
    let one = |p: &BandPair| {
        let Band { low: a, high: b } = p.working;
        let Band { low: c, high: d } = p.attempt;
        Some((i64::from(a), i64::from(b), i64::from(c), i64::from(d)))
    };
    bands.map_or([None; 3], |b| [one(&b.reps), one(&b.hold), one(&b.lowering)])
}

/// A band's message.
pub fn of_band(band: Band) -> v1::Band {
    v1::Band { low: i32::from(band.low), high: i32::from(band.high) }
}

fn of_pair(pair: BandPair) -> v1::BandPair {
    v1::BandPair { working: Some(of_band(pair.working)), attempt: Some(of_band(pair.attempt)) }
}

/// The bands' message.
pub fn of_bands(bands: &Bands) -> v1::Bands {
    v1::Bands {
        reps: Some(of_pair(bands.reps)),
        hold_seconds: Some(of_pair(bands.hold)),
        lowering_seconds: Some(of_pair(bands.lowering)),
    }
}
