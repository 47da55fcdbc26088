//! Ids, validated values, set log events, ladders and their checks.
