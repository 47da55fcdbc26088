//! Small dense symmetric matrices and the linear-Gaussian steps built on them.
