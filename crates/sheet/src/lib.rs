//! CSV in and out.
