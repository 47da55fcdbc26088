//! Logistic noise as a mixture of normals (F-06, F-07).
