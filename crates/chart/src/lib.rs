//! Pictures of the answers: plain structs in, one SVG document out.
//!
//! Each picture has a title and a description for those who cannot see it, is drawn in greys that are told apart by
//! lightness, dash and shape, and carries its figures as a table beside the plot; only those of a replay ([`calibration`],
//! [`coverage`], [`intervals`], [`ranks`]) leave the table to the page they stand on ([`page`]). Plotters draws what lies on
//! axes; the frame around it, words and tables are ours. The same data give the same bytes.
//!
//! Nothing here knows the contract or the other crates. Text may hold anything; numbers have to be finite.

pub mod calibration;
pub mod candidates;
pub mod coverage;
pub mod day;
mod error;
pub mod figure;
pub mod forecast;
mod frame;
mod ink;
pub mod intervals;
mod lettering;
pub mod limiters;
pub mod page;
mod plot;
pub mod ranks;
mod table;
mod ticks;
pub mod trend;
pub mod week;

pub use error::PictureError;

/// Two ends of an interval, low first, in the unit of what it belongs to.
pub type Ends = (f64, f64);
