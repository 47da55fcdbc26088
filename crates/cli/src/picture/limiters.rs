//! Limiters as a picture.

use nextrung_api::v1;
use nextrung_chart::limiters::{Finding, Limiters};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{day, ends, undrawn};
use crate::words;

/// The picture as SVG.
pub(crate) fn draw(found: &v1::LimiterReview, who: &str, lexicon: &Lexicon) -> Result<String, Failure> {
    let unspecified = i32::from(v1::Limiter::Unspecified);
    let is_first = |one: &v1::LimiterFinding| one.limiter != unspecified && one.limiter == found.first;
    let limiters = Limiters {
        who: who.to_owned(),
        goal: lexicon.rung(&found.goal_rung),
        from: day(found.start_date.as_ref())?,
        to: day(found.end_date.as_ref())?,
        findings: found.findings.iter().map(of_finding).collect(),
        first: found.findings.iter().position(is_first),
        change: found.change.clone(),
        cautions: found.cautions.clone(),
    };
    limiters.draw().map_err(undrawn)
}

fn of_finding(found: &v1::LimiterFinding) -> Finding {
    Finding {
        name: words::phrase_of::<v1::Limiter>(found.limiter),
        // An ability that the goal does not ask for has no figures.
        is_asked: !found.figures.is_empty(),
        weight: found.weight,
        interval: ends(found.interval.as_ref(), found.weight),
        chance_first: found.probability_first,
        sentence: found.sentence.clone(),
    }
}
