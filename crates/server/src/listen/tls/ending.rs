//! Ending: until when certificates hold, told before clients find out.

use nextrung_engine::clock::Clock;
use rustls::pki_types::CertificateDer;
use x509_cert::Certificate;
use x509_cert::der::Decode;

use crate::meter::Meter;

/// Before the end of a certificate by so much its end is a warning, seconds: two weeks, common practice, no source.
const SOON: i64 = 14 * DAY;
/// Seconds of a day.
const DAY: i64 = 86_400;

/// When certificates end, seconds since 1970-01-01 UTC; without a value when nothing was given or it says no time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Endings {
    /// The first to end of the service's chain: who checks one checks all of it.
    own: Option<i64>,
    /// The first to end of the authorities by which clients are told.
    clients: Option<i64>,
}

/// How near an end is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Nearness {
    Far,
    /// Within so many days, counted up.
    Soon(i64),
    Over,
}

/// What was told last of each; it is told again when it changes.
#[derive(Debug, Default)]
pub(super) struct Told([Option<Nearness>; 2]);

impl Endings {
    /// Of the service's chain and of clients' authorities.
    pub(super) fn of(chain: &[CertificateDer<'_>], clients: &[CertificateDer<'_>]) -> Self {
        let first = |all: &[CertificateDer<'_>]| all.iter().filter_map(end).min();
        Self { own: first(chain), clients: first(clients) }
    }

    /// Has the meter tell of them, and the log when one has come nearer.
    pub(super) fn tell(self, told: &mut Told, meter: &Meter, clock: &impl Clock) {
        let now = clock.now_ms().div_euclid(1000);
        let ends = [("tls.certificate", self.own), ("tls.clients", self.clients)];
        for ((setting, end), told) in ends.into_iter().zip(&mut told.0) {
            let Some(end) = end else { continue };
            let nearness = near(end - now);
            if told.replace(nearness) == Some(nearness) {
                continue;
            }
            match nearness {
                Nearness::Far => {}
                Nearness::Soon(days) => tracing::warn!(setting, days, "a certificate ends soon"),
                Nearness::Over => tracing::error!(setting, "a certificate has ended"),
            }
            meter.certificate_ends(setting, end);
        }
    }
}

/// How near an end is that comes in so many seconds.
fn near(seconds: i64) -> Nearness {
    match seconds {
        ..=0 => Nearness::Over,
        1..SOON => Nearness::Soon((seconds - 1).div_euclid(DAY) + 1),
        SOON.. => Nearness::Far,
    }
}

/// When a certificate ends.
fn end(certificate: &CertificateDer<'_>) -> Option<i64> {
    let read = Certificate::from_der(certificate).ok()?;
    i64::try_from(read.tbs_certificate.validity.not_after.to_unix_duration().as_secs()).ok()
}

#[cfg(test)]
mod tests {
    use nextrung_domain::date::CivilDate;
    use nextrung_engine::clock::FixedClock;
    use rcgen::{CertificateParams, KeyPair, date_time_ymd};

    use super::*;

    fn until(year: i32) -> CertificateDer<'static> {
        let mut params = CertificateParams::new(vec!["localhost".to_owned()]).unwrap();
        params.not_after = date_time_ymd(year, 1, 1);
        params.self_signed(&KeyPair::generate().unwrap()).unwrap().der().clone()
    }

    #[test]
    fn the_first_to_end_of_the_chain_and_of_the_authorities_count() {
        let endings = Endings::of(&[until(2033), until(2031)], &[until(2033), until(2032)]);
        // `date -u -d 2031-01-01 +%s` and `date -u -d 2032-01-01 +%s`.
        assert_eq!(endings, Endings { own: Some(1_924_992_000), clients: Some(1_956_528_000) });
        assert_eq!(Endings::of(&[], &[]), Endings { own: None, clients: None });
        assert_eq!(end(&CertificateDer::from(&b"no certificate"[..])), None);
        let meter = Meter::new();
        let day = |text: &str| FixedClock { today: CivilDate::parse(text).unwrap() };
        let mut told = Told::default();
        endings.tell(&mut told, &meter, &day("2030-12-31"));
        // Noon of the day before.
        assert_eq!(told.0, [Some(Nearness::Soon(1)), Some(Nearness::Far)]);
        endings.tell(&mut told, &meter, &day("2031-12-20"));
        assert_eq!(told.0, [Some(Nearness::Over), Some(Nearness::Soon(12))]);
        let near_by_days = [0, 1, DAY, DAY + 1, SOON - 1, SOON].map(near);
        let soon = Nearness::Soon;
        assert_eq!(near_by_days, [Nearness::Over, soon(1), soon(1), soon(2), soon(14), Nearness::Far]);
        let page = meter.page();
        for line in [
            "nextrung_certificate_ends_seconds{setting=\"tls.certificate\"} 1924992000",
            "nextrung_certificate_ends_seconds{setting=\"tls.clients\"} 1956528000",
        ] {
            assert!(page.lines().any(|have| have == line), "{line}\n{page}");
        }
    }
}
