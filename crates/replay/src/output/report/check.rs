//! Check: how somebody can make these figures again from the table of predictions.

use crate::evaluate::summary::Summary;
use crate::output::report::page::Page;
use crate::output::report::score::share_of;
use crate::simulate::bootstrap::DRAWS;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) {
    page.section("check", "How to check this");
    page.paragraph(
        "The same replay writes a table with one row for each prediction, as CSV and as Parquet. Every mean above is the mean \
         of a column of it, over the rows of one forecaster; the words below name the columns. That nothing of the future was \
         known can be tried: change or drop sets that arrive late in the logs, and the rows of all earlier ones stay as they \
         are.",
    );
    page.meanings(&scores());
    page.meanings(&[(
        "Intervals over athletes",
        format!(
            "Sets of one athlete are alike, so athletes are drawn, not sets: as many as there are, with repetition, {DRAWS} \
             times. Each draw adds up the scores and the sets of those drawn and divides. The {} interval leaves half a \
             percent of the draws out at each end. All forecasters are compared on the same draws. With few athletes such \
             intervals are too short.",
            share_of(summary.manifest.interval_level)
        ),
    )]);
    page.paragraph(
        "The section below says what the replay was made from. The same files (compare their SHA-256), program, ladders and \
         settings give this page again, byte by byte, with any number of threads.",
    );
}

fn scores() -> [(&'static str, String); 7] {
    [
        (
            "Log score (log_score)",
            "Minus the natural logarithm of the chance that was given to how the set ended: a failure after so many units, \
             for its cause. Where a target was reached or the set was ended by choice, all that is known is that at least so \
             many units could be done, and the chance is that of all such endings. A cause that was not said is the sum over \
             causes. A set that was given no chance counts as 700 nats, and is counted under \u{201c}no chance\u{201d}.",
        ),
        (
            "Log score of the count (log_score_of_count)",
            "The same of the number of units alone, whatever the cause.",
        ),
        (
            "Ranked probability score (ranked_score)",
            "For every number of units below the top: the chance given to at most that many, less 1 if at most that many were \
             done and less 0 if not, squared; the sum of these squares. It is in units: a sure prediction that is off by two \
             scores 2.",
        ),
        (
            "Brier score (low_edge_chance, low_edge_came, high_edge_chance, high_edge_came)",
            "The chance given to the event, less 1 if it came and less 0 if not, squared. Its parts: replace each chance by \
             the isotonic regression of what came on what was said. Miscalibration is what the score falls by that, \
             discrimination what the replaced score is below that of always saying the mean, and uncertainty is the mean \
             times one less the mean. For the steps chances are rounded to 1 in 4096.",
        ),
        (
            "Coverage (interval_50_chance, interval_50_holds and so on)",
            "A central interval runs from the smallest count with at least half of what is outside the level below or at it, \
             to the smallest with all but the other half. Expected is the mean of its chance, found the share that held the \
             count.",
        ),
        (
            "Rank (rank)",
            "The chance given to fewer units than were done, plus a part of the chance of exactly that many, drawn evenly \
             from 0 to 1 with the seed below. Even ranks are what right predictions give.",
        ),
        (
            "Rank distance",
            "The largest distance between the share of ranks up to a hundredth and that hundredth.",
        ),
    ]
    .map(|(word, meaning)| (word, meaning.to_owned()))
}
