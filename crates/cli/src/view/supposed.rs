//! Suppositions as pages.

use nextrung_api::v1;

use crate::calendar::long;
use crate::lexicon::Lexicon;
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::view::prescription;

/// What was supposed, what would change, and the prescription it would make.
pub(crate) fn page(
    found: &v1::SupposePrescriptionResponse,
    who: &str,
    lexicon: &Lexicon,
    layout: Layout,
) -> String {
    let (as_is, supposed) =
        (found.as_is.clone().unwrap_or_default(), found.supposed.clone().unwrap_or_default());
    let title = format!("{who}: supposed for {}", long(supposed.date.as_ref()));
    let mut page = format!("{}\n{}\n", layout.strong(&title), bullets(&found.sentences, layout.width));
    page += &paragraph(
        &format!("As things are, for {}: {}", long(as_is.date.as_ref()), as_is.headline),
        layout.width,
        0,
    );
    page += &paragraph(&found.change, layout.width, 0);
    page + "\n" + &prescription::page(&supposed, who, lexicon, layout)
}
