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
    /// The service's own.
    own: Option<i64>,
    /// The first to end of the authorities by which clients are told.
    clients: Option<i64>,
}

impl Endings {
    /// Of the service's chain, its own certificate first, and of clients' authorities.
    pub(super) fn of(chain: &[CertificateDer<'_>], clients: &[CertificateDer<'_>]) -> Self {
        Self { own: chain.first().and_then(end), clients: clients.iter().filter_map(end).min() }
    }

    /// Has the meter and the log tell of them.
    pub(super) fn tell(self, meter: &Meter, clock: &impl Clock) {
        let now = clock.now_ms().div_euclid(1000);
        for (setting, end) in [("tls.certificate", self.own), ("tls.clients", self.clients)] {
            let Some(end) = end else { continue };
            let days = (end - now).div_euclid(DAY);
            if end <= now {
                tracing::error!(setting, "the certificate has ended; those who check it turn away");
            } else if end - now < SOON {
                tracing::warn!(setting, days, "the certificate ends soon");
            }
            meter.certificate_ends(setting, end);
        }
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
    fn the_own_certificate_and_the_first_authority_to_end_count() {
        let chain = [until(2031), until(2030)];
        let endings = Endings::of(&chain, &[until(2033), until(2032)]);
        // `date -u -d 2031-01-01 +%s` and `date -u -d 2032-01-01 +%s`.
        assert_eq!(endings, Endings { own: Some(1_924_992_000), clients: Some(1_956_528_000) });
        assert_eq!(Endings::of(&[], &[]), Endings { own: None, clients: None });
        assert_eq!(end(&CertificateDer::from(&b"no certificate"[..])), None);
        let meter = Meter::new();
        endings.tell(&meter, &FixedClock { today: CivilDate::parse("2030-12-31").unwrap() });
        let page = meter.page();
        for line in [
            "nextrung_certificate_ends_seconds{setting=\"tls.certificate\"} 1924992000",
            "nextrung_certificate_ends_seconds{setting=\"tls.clients\"} 1956528000",
        ] {
            assert!(page.lines().any(|have| have == line), "{line}\n{page}");
        }
    }
}
