//! Limiter reviews to their messages.

use nextrung_api::v1;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::ids::{AthleteRef, ClientSetId};
use nextrung_engine::review::LimiterReview;
use nextrung_prescribe::limiter::{AuditLine, Finding, LEVEL, Limiter};

use super::prescription::of_figure;
use super::words;
use crate::names;

/// A review's message.
pub fn of_review(catalog: &Catalog, found: &LimiterReview) -> v1::LimiterReview {
    let LimiterReview { athlete, start, end, position, review } = found;
    v1::LimiterReview {
        goal_rung: names::of_rung(&catalog.name(review.goal)),
        start_date: Some(words::of_date(*start)),
        end_date: Some(words::of_date(*end)),
        log_position: words::of_position(*position),
        first: review.first.map_or(0, of_limiter),
        findings: review.findings.iter().map(|f| of_finding(athlete, f)).collect(),
        audit: review.audit.iter().map(of_line).collect(),
        change: review.change.clone(),
        sentences: review.sentences.clone(),
        cautions: review.cautions.clone(),
    }
}

fn of_limiter(limiter: Limiter) -> i32 {
    words::number(&Limiter::ALL, &limiter)
}

fn of_finding(athlete: &AthleteRef, found: &Finding) -> v1::LimiterFinding {
    let set = |id: &ClientSetId| format!("{athlete}/sets/{id}");
    v1::LimiterFinding {
        limiter: of_limiter(found.limiter),
        weight: found.weight,
        interval: Some(v1::Interval { level: LEVEL, low: found.interval.0, high: found.interval.1 }),
        probability_first: found.probability_first,
        figures: found.figures.iter().map(of_figure).collect(),
        evidence_sets: found.evidence.iter().map(set).collect(),
        sentence: found.sentence.clone(),
    }
}

fn of_line(line: &AuditLine) -> v1::AuditLine {
    v1::AuditLine {
        measure: line.measure.to_owned(),
        value: line.value,
        at_least: line.at_least,
        at_most: line.at_most,
        unit: line.unit.to_owned(),
        is_off: line.is_off,
        sentence: line.sentence.clone(),
    }
}
