//! Limiters as a picture.

use nextrung_api::v1;
use nextrung_chart::limiters::{Finding, Limiters};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{day, ends};
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
    Ok(limiters.draw()?)
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

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(limiter: v1::Limiter, is_asked: bool) -> v1::LimiterFinding {
        v1::LimiterFinding {
            limiter: limiter.into(),
            weight: 0.62,
            interval: Some(v1::Interval { level: 0.8, low: 0.48, high: 0.77 }),
            probability_first: 0.71,
            figures: vec![v1::Figure::default(); usize::from(is_asked)],
            ..v1::LimiterFinding::default()
        }
    }

    #[test]
    fn the_answer_stands_in_the_picture() {
        let day = Some(v1::Date { year: 2026, month: 11, day: 23 });
        let review = v1::LimiterReview {
            start_date: day,
            end_date: day,
            first: v1::Limiter::WrongRung.into(),
            findings: vec![finding(v1::Limiter::WrongRung, true), finding(v1::Limiter::Line, false)],
            change: "Change this.".to_owned(),
            cautions: vec!["Take care.".to_owned()],
            ..v1::LimiterReview::default()
        };
        let svg = draw(&review, "hall/wren", &Lexicon::default()).unwrap();
        for text in [
            "First: wrong rung (71 % sure).",
            ">62 %<",
            ">48 % to 77 %<",
            "not asked for",
            "Change this.",
            "Take care.",
        ] {
            assert!(svg.contains(text), "{text} in {svg}");
        }
        let undecided = v1::LimiterReview { first: 0, ..review };
        assert!(draw(&undecided, "hall/wren", &Lexicon::default()).unwrap().contains("The log cannot tell"));
    }
}
