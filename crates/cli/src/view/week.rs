//! Week as a page.

use nextrung_api::v1;

use crate::lexicon::Lexicon;
use crate::output::Layout;

/// The page.
pub(crate) fn page(found: &v1::WeekPlan, who: &str, _lexicon: &Lexicon, layout: Layout) -> String {
    format!("{}\n{found:#?}\n", layout.strong(who))
}
