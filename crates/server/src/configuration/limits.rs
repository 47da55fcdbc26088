//! Limits: the bounds on connections, calls and keys.

use std::num::NonZeroU32;
use std::time::Duration;

use super::reading::Reading;
use crate::settings::{KeyLimits, Limits};

/// The longest time taken for anything.
const DAY: Duration = Duration::from_secs(86_400);
/// The shortest time taken for what must be done within it.
const INSTANT: Duration = Duration::from_millis(10);

pub(super) fn limits(reading: &mut Reading<'_>, usual: Limits) -> Limits {
    let limits = numbers(reading, usual);
    let limits = Limits { key: key_limits(reading, usual.key), ..limits };
    times(reading, limits)
}

/// The limits with those in number and size as they are set.
fn numbers(reading: &mut Reading<'_>, usual: Limits) -> Limits {
    Limits {
        connections: reading.count(
            "limits.connections",
            "Most connections at a time; further ones wait to be accepted.",
            usual.connections,
            1..=1_000_000,
        ),
        connections_of_one: reading.count(
            "limits.connections-of-one",
            "Most connections at a time from one address; further ones are closed at once. Behind a proxy all clients \
             have one address.",
            usual.connections_of_one,
            1..=1_000_000,
        ),
        streams: reading.count(
            "limits.streams",
            "Most calls at a time on one connection; further ones wait.",
            usual.streams,
            1..=1_000_000,
        ),
        calls: reading.count(
            "limits.calls",
            "Most calls at a time on all connections; further ones are refused.",
            usual.calls,
            1..=1_000_000,
        ),
        watchers: reading.count(
            "limits.watchers",
            "Most callers who watch prescriptions at a time; further ones are refused.",
            usual.watchers,
            0..=1_000_000,
        ),
        replays: reading.count(
            "limits.replays",
            "Most replays at a time; further ones are refused.",
            usual.replays,
            0..=1024,
        ),
        long_messages: reading.count(
            "limits.long-messages",
            "Most messages of more than 256 KiB that are held at a time; further ones are refused.",
            usual.long_messages,
            1..=1_000_000,
        ),
        message_bytes: reading.size(
            "limits.message",
            "Largest message; a larger one is refused.",
            usual.message_bytes,
            1024..=1024 * 1024 * 1024,
        ),
        ..usual
    }
}

/// The limits with those in time as they are set.
fn times(reading: &mut Reading<'_>, usual: Limits) -> Limits {
    Limits {
        preface: reading.time(
            "limits.preface",
            "Time within which a new connection must have sent the preface of HTTP/2, or a request of HTTP/1.1 its head.",
            usual.preface,
            INSTANT..=DAY,
        ),
        idle: reading.time(
            "limits.idle",
            "Time without a call after which a connection is asked to end.",
            usual.idle,
            INSTANT..=DAY,
        ),
        arrival: reading.time(
            "limits.arrival",
            "Time within which the message of a call must have come.",
            usual.arrival,
            INSTANT..=DAY,
        ),
        call: reading.time(
            "limits.call",
            "Longest call; a shorter deadline of the client counts instead.",
            usual.call,
            INSTANT..=DAY,
        ),
        notice: reading.time(
            "drain.notice",
            "Time at the end between saying that the service is not ready and taking no more connections: as long as \
             those who send calls need to notice.",
            usual.notice,
            Duration::ZERO..=DAY,
        ),
        drain: reading.time(
            "drain.limit",
            "Time that open calls get after that before everything is closed.",
            usual.drain,
            Duration::ZERO..=DAY,
        ),
        ..usual
    }
}

fn key_limits(reading: &mut Reading<'_>, usual: KeyLimits) -> KeyLimits {
    let points = NonZeroU32::MIN..=NonZeroU32::MIN.saturating_add(999_999);
    KeyLimits {
        calls: reading.count(
            "limits.key.calls",
            "Most calls at a time with one key, those included whose answer is not taken yet; further ones are refused.",
            usual.calls,
            1..=1_000_000,
        ),
        long_messages: reading.count(
            "limits.key.long-messages",
            "Most messages of more than 256 KiB that are held at a time with one key; further ones are refused.",
            usual.long_messages,
            1..=1_000_000,
        ),
        points: reading.count(
            "limits.key.points",
            "Points a second that one key may spend over time: most methods cost 1, those that work long more (see \
             proto/README.md). Who spends too fast is told how long to wait.",
            usual.points,
            points.clone(),
        ),
        burst: reading.count(
            "limits.key.burst",
            "Points that one key may spend at once after a rest.",
            usual.burst,
            points,
        ),
    }
}
