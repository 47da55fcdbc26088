//! What the tests of the whole project share: the house-style ratchets.

pub mod tidy;
