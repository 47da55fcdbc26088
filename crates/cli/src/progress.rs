//! Progress: a bar on standard error for long work, only where a person watches.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar that is hidden unless standard error is a terminal.
pub(crate) fn bar(total: usize, what: &str) -> ProgressBar {
    let total = u64::try_from(total).unwrap_or(u64::MAX);
    let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).progress_chars("━╸ "));
    bar.set_message(what.to_owned());
    bar
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_counts_to_its_total() {
        let bar = bar(10, "sets");
        bar.inc(4);
        assert_eq!((bar.position(), bar.length()), (4, Some(10)));
    }
}
