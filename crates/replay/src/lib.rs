//! Simulated athletes and batch evaluation.
