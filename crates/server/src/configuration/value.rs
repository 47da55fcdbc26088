//! Values: how each kind of setting is written and read.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use nextrung_domain::date::CivilDate;
use nextrung_store::log::Place;

use crate::front::origin::Origins;
use crate::secret::{HIDDEN, Secret};

/// What stands for no value.
const NONE: &str = "none";

/// A kind of setting that is written as one text.
pub(super) trait Value: Sized {
    /// What a good text looks like.
    const EXPECTED: &'static str;
    /// True when a bad text in its place may not be shown.
    const IS_SECRET: bool = false;

    /// Reads it; nothing when the text is bad.
    fn read(text: &str) -> Option<Self>;

    /// What is wrong with a bad text, where that can be told without showing it.
    fn flaw(_text: &str) -> Option<String> {
        None
    }

    /// Writes it, so that it reads the same again unless it is secret.
    fn write(&self) -> String;
}

impl<T: Value> Value for Option<T> {
    const EXPECTED: &'static str = T::EXPECTED;
    const IS_SECRET: bool = T::IS_SECRET;

    fn read(text: &str) -> Option<Self> {
        if text == NONE { Some(None) } else { T::read(text).map(Some) }
    }

    fn write(&self) -> String {
        self.as_ref().map_or_else(|| NONE.to_owned(), T::write)
    }
}

impl Value for bool {
    const EXPECTED: &'static str = "true or false";

    fn read(text: &str) -> Option<Self> {
        text.parse().ok()
    }

    fn write(&self) -> String {
        self.to_string()
    }
}

impl Value for SocketAddr {
    const EXPECTED: &'static str = "an address with its port, such as 127.0.0.1:7878 or [::1]:7878";

    fn read(text: &str) -> Option<Self> {
        text.parse().ok()
    }

    fn write(&self) -> String {
        self.to_string()
    }
}

impl Value for PathBuf {
    const EXPECTED: &'static str = "a path";

    fn read(text: &str) -> Option<Self> {
        (!text.trim().is_empty()).then(|| Self::from(text))
    }

    fn write(&self) -> String {
        self.display().to_string()
    }
}

impl Value for Place {
    const EXPECTED: &'static str = "a path, or an address such as postgres://USER@HOST:PORT/DATABASE";
    // A bad address may hold a password.
    const IS_SECRET: bool = true;

    fn read(text: &str) -> Option<Self> {
        (!text.trim().is_empty()).then(|| Self::parse(text).ok()).flatten()
    }

    fn flaw(text: &str) -> Option<String> {
        Self::parse(text).err().map(|bad| bad.why().to_owned())
    }

    fn write(&self) -> String {
        self.to_string()
    }
}

impl Value for CivilDate {
    const EXPECTED: &'static str = "a day such as 2026-03-14";

    fn read(text: &str) -> Option<Self> {
        Self::parse(text).ok()
    }

    fn write(&self) -> String {
        self.to_string()
    }
}

impl Value for Secret {
    const EXPECTED: &'static str = "a text that is not empty";
    const IS_SECRET: bool = true;

    fn read(text: &str) -> Option<Self> {
        (!text.trim().is_empty()).then(|| Self::new(text))
    }

    fn write(&self) -> String {
        HIDDEN.to_owned()
    }
}

impl Value for Origins {
    const EXPECTED: &'static str = "origins as browsers write them, separated by commas, such as https://app.example,http://localhost:5173";

    fn read(text: &str) -> Option<Self> {
        Self::read(text)
    }

    fn write(&self) -> String {
        self.write()
    }
}

/// The address of a collector of traces.
pub(super) struct CollectorAddress(pub(super) String);

impl Value for CollectorAddress {
    const EXPECTED: &'static str = "the address of a collector, such as http://127.0.0.1:4317";

    fn read(text: &str) -> Option<Self> {
        let uri: http::Uri = text.parse().ok()?;
        let is_plain =
            uri.scheme_str() == Some("http") && uri.authority().is_some_and(|a| !a.as_str().contains('@'));
        is_plain.then(|| Self(text.to_owned()))
    }

    fn write(&self) -> String {
        self.0.clone()
    }
}

/// Reads a time with its unit.
pub(super) fn duration(text: &str) -> Option<Duration> {
    humantime::parse_duration(text).ok()
}

/// Writes a time with its unit.
pub(super) fn of_duration(time: Duration) -> String {
    humantime::format_duration(time).to_string()
}

/// Units of sizes, the largest first, in bytes.
const UNITS: [(&str, u64); 4] = [("GiB", 1 << 30), ("MiB", 1 << 20), ("KiB", 1 << 10), ("B", 1)];

/// Reads a size with its unit, in bytes.
pub(super) fn size(text: &str) -> Option<u64> {
    let (unit, bytes) = UNITS.iter().find(|(unit, _)| text.ends_with(unit))?;
    let number: u64 = text.strip_suffix(unit)?.trim_end().parse().ok()?;
    number.checked_mul(*bytes)
}

/// Writes a size in the largest unit that leaves a whole number.
pub(super) fn of_size(bytes: u64) -> String {
    let whole = |(_, unit): &&(&str, u64)| bytes >= *unit && bytes.is_multiple_of(*unit);
    let (unit, in_bytes) = UNITS.iter().find(whole).unwrap_or(&("B", 1));
    format!("{}{unit}", bytes / in_bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_and_times_have_units() {
        for (text, bytes) in [("4MiB", 4 << 20), ("512 KiB", 512 << 10), ("1GiB", 1 << 30), ("7B", 7)] {
            assert_eq!(size(text), Some(bytes), "{text}");
        }
        for bad in ["", "4", "4MB", "-1B", "B", "4.5MiB", "99999999999999GiB", "4 mib"] {
            assert_eq!(size(bad), None, "{bad}");
        }
        assert_eq!(duration("500ms"), Some(Duration::from_millis(500)));
        assert_eq!(duration("1m 30s"), Some(Duration::from_secs(90)));
        for bad in ["", "30", "-5s", "5 parsecs"] {
            assert_eq!(duration(bad), None, "{bad}");
        }
    }

    #[test]
    fn what_is_written_reads_the_same() {
        for bytes in [0, 1, 1023, 1024, 1536, 4 << 20, 3 << 30] {
            assert_eq!(size(&of_size(bytes)), Some(bytes));
        }
        assert_eq!(of_size(1536), "1536B");
        assert_eq!(of_size(4 << 20), "4MiB");
        for millis in [0, 5, 1500, 90_000, 86_400_000] {
            let time = Duration::from_millis(millis);
            assert_eq!(duration(&of_duration(time)), Some(time));
        }
        let address: SocketAddr = "[::1]:7".parse().unwrap();
        assert_eq!(<Option<SocketAddr>>::read(&Some(address).write()), Some(Some(address)));
        assert_eq!(<Option<SocketAddr>>::read(NONE), Some(None));
        assert_eq!(<Option<SocketAddr>>::read(""), None);
    }
}
