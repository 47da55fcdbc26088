//! Smoothing of one athlete's history (F-08).
