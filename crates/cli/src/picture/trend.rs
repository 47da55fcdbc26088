//! Trend as a picture.

use nextrung_api::v1;

use crate::failure::Failure;
use crate::lexicon::Lexicon;

/// The picture as SVG.
pub(crate) fn draw(
    _found: &v1::EstimateTrendResponse,
    _who: &str,
    _lexicon: &Lexicon,
) -> Result<String, Failure> {
    Ok(String::new())
}
