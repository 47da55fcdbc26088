//! Replays to and from their messages: [`request`] reads what is asked for, [`summary`], [`advisers`] and [`row`] write what
//! came of it.

pub mod advisers;
pub mod request;
pub mod row;
pub mod summary;
