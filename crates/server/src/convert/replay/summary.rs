//! The figures of a replay to their messages.

use std::collections::BTreeMap;

use nextrung_api::v1;
use nextrung_domain::band::Bands;
use nextrung_domain::ids::RosterId;
use nextrung_replay::evaluate::selection::Selection;
use nextrung_replay::evaluate::summary::{
    CalibrationStep, Counts, DataHash, EdgeFigures, ForecasterFigures, GroupFigures, IntervalFigures,
    Manifest, RankFigures, Summary,
};
use nextrung_replay::simulate::bootstrap::Estimate;

use super::advisers::{of_adviser, of_estimate};
use super::request::Asked;
use crate::convert::words::of_count;
use crate::convert::{band, words};
use crate::names;

/// The message of figures that were asked for, where some bands were in force.
pub fn of_summary(asked: &Asked, bands: &Bands, summary: &Summary) -> v1::ReplaySummary {
    // The truth of people is not known: nobody can tell the share of a gap to it.
    let Summary { manifest, counts, forecasters, gap_closed: _, groups, advisers, conclusions } = summary;
    let level = manifest.interval_level;
    v1::ReplaySummary {
        manifest: Some(of_manifest(asked, bands, manifest)),
        counts: Some(of_counts(counts)),
        forecasters: forecasters.iter().map(|figures| of_forecaster(level, figures)).collect(),
        groups: groups.iter().map(of_group).collect(),
        advisers: advisers.iter().map(|figures| of_adviser(level, figures)).collect(),
        conclusions: conclusions.clone(),
    }
}

fn of_manifest(asked: &Asked, bands: &Bands, manifest: &Manifest) -> v1::ReplayManifest {
    let Manifest {
        program,
        model_version,
        // The service replays with its own model alone.
        challenger_version: _,
        policy_version,
        ladder_versions,
        data,
        selection,
        forecasters,
        advisers,
        block_days,
        seed,
        interval_level,
    } = manifest;
    let ladder = |(id, version): (&String, &u32)| v1::LadderVersion {
        ladder: format!("ladders/{id}"),
        version: i32::try_from(*version).unwrap_or(i32::MAX),
    };
    v1::ReplayManifest {
        program: program.clone(),
        model_version: model_version.clone(),
        policy_version: policy_version.clone(),
        bands: Some(band::of_bands(bands)),
        ladders: ladder_versions.iter().map(ladder).collect(),
        log: data.first().map(of_log),
        selection: Some(of_selection(&asked.roster, selection)),
        forecasters: forecasters.clone(),
        advisers: advisers.clone(),
        policy_variants: asked.variants.iter().map(|variant| variant.message.clone()).collect(),
        block_days: *block_days,
        seed: of_count(*seed),
        interval_level: *interval_level,
    }
}

fn of_log(data: &DataHash) -> v1::ReplayedLog {
    let DataHash { name, sha256, bytes } = data;
    v1::ReplayedLog { name: name.clone(), sha256: sha256.clone(), bytes: of_count(*bytes) }
}

fn of_selection(roster: &RosterId, selection: &Selection) -> v1::ReplaySelection {
    let Selection { from, to, ladders, athletes, warm_up_days } = selection;
    let athlete = |id: &String| format!("{}/athletes/{id}", names::of_roster(roster));
    v1::ReplaySelection {
        start_date: from.map(words::of_date),
        end_date: to.map(words::of_date),
        ladders: ladders.iter().map(names::of_ladder).collect(),
        athletes: athletes.iter().map(athlete).collect(),
        warm_up_days: i32::from(*warm_up_days),
    }
}

fn of_counts(counts: &Counts) -> v1::ReplayCounts {
    let Counts { athletes, athletes_scored, sets, sets_scored, sets_whole, excluded, notes } = counts;
    let each = |counts: &BTreeMap<String, u64>| -> Vec<v1::ReplayCount> {
        let one = |(about, count): (&String, &u64)| v1::ReplayCount {
            about: about.clone(),
            count: of_count(*count),
        };
        counts.iter().map(one).collect()
    };
    v1::ReplayCounts {
        athletes: of_count(*athletes),
        athletes_scored: of_count(*athletes_scored),
        sets: of_count(*sets),
        sets_scored: of_count(*sets_scored),
        sets_whole: of_count(*sets_whole),
        excluded: each(excluded),
        notes: each(notes),
    }
}

fn of_forecaster(level: f64, figures: &ForecasterFigures) -> v1::ForecasterFigures {
    let ForecasterFigures {
        name,
        about,
        log_score,
        log_score_interval,
        difference,
        log_score_of_count,
        ranked,
        ranked_difference,
        edges,
        intervals,
        ranks: RankFigures { counts, distance },
        no_chance,
    } = figures;
    let estimate = |found: &Option<Estimate>| found.map(|found| of_estimate(level, found));
    v1::ForecasterFigures {
        name: name.clone(),
        about: about.clone(),
        log_score: *log_score,
        log_score_estimate: estimate(log_score_interval),
        difference: estimate(difference),
        log_score_of_count: *log_score_of_count,
        ranked: *ranked,
        ranked_difference: estimate(ranked_difference),
        edges: edges.iter().map(of_edge).collect(),
        intervals: intervals.iter().map(of_interval).collect(),
        rank_counts: counts.iter().map(|count| of_count(*count)).collect(),
        rank_distance: *distance,
        no_chance: of_count(*no_chance),
    }
}

fn of_edge(figures: &EdgeFigures) -> v1::EdgeFigures {
    let EdgeFigures { edge, events, brier, miscalibration, discrimination, uncertainty, steps } = figures;
    let which = match edge.as_str() {
        "low" => v1::BandEdge::Low,
        "high" => v1::BandEdge::High,
        _ => v1::BandEdge::Unspecified,
    };
    let step = |step: &CalibrationStep| {
        let CalibrationStep { from, to, came, sets } = *step;
        v1::CalibrationStep { from, to, came, sets: of_count(sets) }
    };
    v1::EdgeFigures {
        edge: which.into(),
        events: of_count(*events),
        brier: *brier,
        miscalibration: *miscalibration,
        discrimination: *discrimination,
        uncertainty: *uncertainty,
        steps: steps.iter().map(step).collect(),
    }
}

fn of_interval(figures: &IntervalFigures) -> v1::IntervalFigures {
    let IntervalFigures { level, expected, found } = *figures;
    v1::IntervalFigures { level, expected, found }
}

fn of_group(figures: &GroupFigures) -> v1::ReplayGroup {
    let GroupFigures { by, group, sets, log_scores } = figures;
    v1::ReplayGroup {
        by: by.clone(),
        group: group.clone(),
        sets: of_count(*sets),
        log_scores: log_scores.clone(),
    }
}

#[cfg(test)]
mod tests;
