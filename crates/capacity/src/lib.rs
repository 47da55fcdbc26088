//! Filter, smoother, stops and predictions of rep capacity.

pub mod dynamics;
pub mod linear;
pub mod logistic;
pub mod normal;
pub mod truncated;
