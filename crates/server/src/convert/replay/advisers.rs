//! Figures of advisers to their messages.

use nextrung_api::v1;
use nextrung_replay::advice::tally::{Stand, Went};
use nextrung_replay::evaluate::summary::{AdviserFigures, StandFigures};
use nextrung_replay::simulate::bootstrap::Estimate;

use crate::convert::words::of_count;

/// An estimate's message; `level` is that of its interval.
pub(super) fn of_estimate(level: f64, estimate: Estimate) -> v1::Estimate {
    let Estimate { mean, low, high } = estimate;
    v1::Estimate { mean, interval: Some(v1::Interval { level, low, high }) }
}

/// An adviser's message; `level` is that of the intervals.
pub fn of_adviser(level: f64, figures: &AdviserFigures) -> v1::AdviserFigures {
    let AdviserFigures {
        name,
        days: [days, training, test, rest, held_back],
        agreement,
        in_band,
        in_band_as_advised,
        switches_a_month,
        log_switches_a_month,
        stands,
    } = figures;
    let estimate = |found: &Option<Estimate>| found.map(|found| of_estimate(level, found));
    v1::AdviserFigures {
        name: name.clone(),
        days: of_count(*days),
        training_days: of_count(*training),
        test_days: of_count(*test),
        rest_days: of_count(*rest),
        held_back_days: of_count(*held_back),
        agreement: estimate(agreement),
        in_band: estimate(in_band),
        in_band_as_advised: estimate(in_band_as_advised),
        switches_per_month: estimate(switches_a_month),
        log_switches_per_month: estimate(log_switches_a_month),
        stands: stands.iter().map(of_stand).collect(),
    }
}

fn of_stand(figures: &StandFigures) -> v1::StandFigures {
    let StandFigures { stand, ladder_days, went } = figures;
    let Went { sets, in_band, below, above, failed: [strength, balance, line, unsaid], pain } = went;
    v1::StandFigures {
        stand: of_way(*stand).into(),
        ladder_days: of_count(*ladder_days),
        sets: of_count(*sets),
        in_band: of_count(*in_band),
        below: of_count(*below),
        above: of_count(*above),
        failed_strength: of_count(*strength),
        failed_balance: of_count(*balance),
        failed_line: of_count(*line),
        failed_unsaid: of_count(*unsaid),
        pain: of_count(*pain),
    }
}

fn of_way(stand: Stand) -> v1::AdviceStand {
    match stand {
        Stand::Same => v1::AdviceStand::Same,
        Stand::SameRung => v1::AdviceStand::SameRung,
        Stand::Easier => v1::AdviceStand::Easier,
        Stand::Harder => v1::AdviceStand::Harder,
        Stand::NotAdvised => v1::AdviceStand::NotAdvised,
    }
}
