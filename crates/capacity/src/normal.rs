//! The standard normal distribution, stable in both tails.
