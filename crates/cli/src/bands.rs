//! Bands: a coach's own bands on the command line.

use clap::Args;
use nextrung_api::v1;

use crate::words;

/// A coach's own bands.
#[derive(Debug, Default, Args)]
pub(crate) struct BandFlags {
    /// The coach's own bands for a unit, working then attempt: `reps=3-6,1-2`; may be repeated
    #[arg(long = "band", value_name = "UNIT=LOW-HIGH,LOW-HIGH", value_parser = parse)]
    pub(crate) bands: Vec<UnitBands>,
}

/// The bands of one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct UnitBands {
    unit: v1::Unit,
    pair: v1::BandPair,
}

/// Reads `reps=3-6,1-2`. Whether the numbers make sense is the service's to say.
fn parse(text: &str) -> Result<UnitBands, String> {
    let expected =
        || "expected a unit, its working band and its attempt band, such as reps=3-6,1-2".to_owned();
    let (unit, bands) = text.split_once('=').ok_or_else(expected)?;
    let (working, attempt) = bands.split_once(',').ok_or_else(expected)?;
    let band = |text: &str| -> Option<v1::Band> {
        let (low, high) = text.split_once('-')?;
        Some(v1::Band { low: low.parse().ok()?, high: high.parse().ok()? })
    };
    let working = Some(band(working).ok_or_else(expected)?);
    let attempt = Some(band(attempt).ok_or_else(expected)?);
    Ok(UnitBands { unit: words::parse(unit)?, pair: v1::BandPair { working, attempt } })
}

/// The bands of a roster or athlete with some units changed; nothing when there are none at all.
pub(crate) fn merged(base: Option<v1::Bands>, changes: &[UnitBands]) -> Option<v1::Bands> {
    if changes.is_empty() {
        return base;
    }
    let mut bands = base.unwrap_or_default();
    for change in changes {
        let pair = Some(change.pair);
        match change.unit {
            v1::Unit::Reps | v1::Unit::Unspecified => bands.reps = pair,
            v1::Unit::HoldSeconds => bands.hold_seconds = pair,
            v1::Unit::LoweringSeconds => bands.lowering_seconds = pair,
        }
    }
    Some(bands)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_are_read_and_merged_by_unit() {
        let own = [parse("reps=3-6,1-2").unwrap(), parse("hold-seconds=10-20,3-6").unwrap()];
        let bands = merged(None, &own).unwrap();
        assert_eq!(bands.reps.unwrap().working, Some(v1::Band { low: 3, high: 6 }));
        let changed = merged(Some(bands), &[parse("reps=4-6,1-3").unwrap()]).unwrap();
        assert_eq!(changed.reps.unwrap().attempt, Some(v1::Band { low: 1, high: 3 }));
        assert_eq!(changed.hold_seconds, bands.hold_seconds);
        assert_eq!(merged(None, &[]), None);
    }

    #[test]
    fn text_that_is_no_band_is_refused() {
        for text in ["", "reps", "reps=3-6", "reps=3,1", "kilos=3-6,1-2", "reps=a-b,1-2"] {
            assert!(parse(text).is_err(), "{text}");
        }
    }
}
