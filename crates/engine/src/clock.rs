//! Clock: the one place that knows what time it is.

use nextrung_domain::date::CivilDate;

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// What time it is.
pub trait Clock: Send + Sync + 'static {
    /// Milliseconds since 1970-01-01 UTC.
    fn now_ms(&self) -> i64;

    /// The date in UTC.
    fn today(&self) -> CivilDate {
        let days = i32::try_from(self.now_ms().div_euclid(DAY_MS)).unwrap_or(i32::MAX);
        CivilDate::from_day_number(days).unwrap_or(CivilDate::LAST)
    }
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now_ms(&self) -> i64 {
        #[expect(clippy::disallowed_methods, reason = "this is the one Clock")]
        let now = std::time::SystemTime::now();
        let since = now.duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
        i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
    }
}

/// A clock that stands at noon of one day, for demos and tests.
#[derive(Debug, Clone, Copy)]
pub struct FixedClock {
    /// The day.
    pub today: CivilDate,
}

impl Clock for FixedClock {
    fn now_ms(&self) -> i64 {
        i64::from(self.today.day_number()) * DAY_MS + DAY_MS / 2
    }
}
