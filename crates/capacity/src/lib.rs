//! Filter, smoother, stops and predictions of rep capacity.
//!
//! The numeric kernel ([`normal`], [`truncated`], [`logistic`], [`dynamics`], [`linear`]) knows nothing of training. The
//! model on top of it reads sets ([`task`], [`done`], [`evidence`]), holds what is believed ([`state`]), moves it
//! ([`filter`], [`smooth`]) and answers ([`outlook`]). Every formula has an id in `FORMULAS.md`.

pub mod done;
pub mod dynamics;
pub mod evidence;
mod exponential;
pub mod filter;
pub mod incidence;
pub mod linear;
pub mod load;
pub mod logistic;
pub mod model;
pub mod normal;
pub mod outlook;
pub mod params;
pub mod smooth;
pub mod state;
pub mod task;
pub mod truncated;
