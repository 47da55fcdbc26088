//! Filter, smoother, stops and predictions of rep capacity.
