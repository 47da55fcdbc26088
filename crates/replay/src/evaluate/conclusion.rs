//! Conclusion: what the figures of a replay allow to be said, and what not.

use crate::evaluate::summary::{ForecasterFigures, Summary};

/// Sentences for those who read figures, the most important first.
pub fn conclusions(summary: &Summary) -> Vec<String> {
    let mut said = predictions(summary);
    said.extend(gap(summary));
    said.extend(summary.forecasters.first().and_then(width));
    if !summary.advisers.is_empty() {
        said.extend(advice(summary));
    }
    said
}

fn predictions(summary: &Summary) -> Vec<String> {
    let others: Vec<&ForecasterFigures> =
        summary.forecasters.iter().skip(1).filter(|f| f.name != "oracle" && f.difference.is_some()).collect();
    if others.is_empty() {
        return vec![format!(
            "The logs of {} athlete give no interval: nothing is concluded about other athletes.",
            summary.counts.athletes_scored
        )];
    }
    let names = |pass: &dyn Fn(f64, f64) -> bool| -> Vec<&str> {
        let clear = |f: &&&ForecasterFigures| f.difference.is_some_and(|d| pass(d.low, d.high));
        others.iter().filter(clear).map(|f| f.name.as_str()).collect()
    };
    let (better, worse) = (names(&|_, high| high < 0.0), names(&|low, _| low > 0.0));
    let open = names(&|low, high| low <= 0.0 && high >= 0.0);
    let mut said = Vec::new();
    let mut tell = |names: Vec<&str>, words: &str| {
        if !names.is_empty() {
            said.push(format!("{words} {}.", names.join(", ")));
        }
    };
    tell(
        better,
        "By the log score the service foretold these sets better, with the whole 99 % interval over athletes on its side, than",
    );
    tell(worse, "It foretold them worse, with the whole interval on the other side, than");
    tell(open, "The interval leaves it open which is better against");
    said
}

/// Counts by which the central 80 % intervals may miss before it is worth a word.
const COVERAGE_SLACK: f64 = 0.01;

/// Whether the first forecaster's intervals are as wide as they should be.
fn width(service: &ForecasterFigures) -> Option<String> {
    let interval = service.intervals.iter().find(|i| (i.level - 0.8).abs() < 1e-9)?;
    let off = interval.found - interval.expected;
    let verdict = match off {
        off if off < -COVERAGE_SLACK => "it was surer than it should have been",
        off if off > COVERAGE_SLACK => "it was less sure than it could have been",
        _ => "its doubts were about as wide as they should be",
    };
    Some(format!(
        "The service's central 80 % intervals held {:.1} % of the counts, and they gave themselves {:.1} %, since counts are \
         whole: {verdict}.",
        100.0 * interval.found,
        100.0 * interval.expected
    ))
}

fn gap(summary: &Summary) -> Option<String> {
    let closed = summary.gap_closed?;
    Some(format!(
        "Between the rung's climatology and an oracle that knows all but the luck of the set, the service closes {:.0} % of the gap ({:.0} to {:.0} %).",
        100.0 * closed.mean,
        100.0 * closed.low,
        100.0 * closed.high
    ))
}

fn advice(summary: &Summary) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(share) = summary.advisers.first().and_then(|a| a.agreement) {
        said.push(format!(
            "On {:.0} % of the days and ladders with working sets the log did what the service would have advised.",
            100.0 * share.mean
        ));
    }
    said.push(
        "What the advice is worth cannot be read from these logs: nobody was told by lot what to do, and who departs from \
         advice has reasons that the log does not hold. How sets went where the log agrees describes those sets and no \
         others; where it differs nothing is known of what would have come of following it. Policies are compared by \
         simulation alone."
            .to_owned(),
    );
    said
}
