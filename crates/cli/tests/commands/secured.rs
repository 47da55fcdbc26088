//! A service with TLS, as the command line reaches it, and what is said where it does not.

use std::path::Path;
use std::time::Duration;

use rcgen::{
    BasicConstraints, CertificateParams, CertifiedIssuer, DistinguishedName, DnType, IsCa, KeyPair,
    date_time_ymd,
};

use crate::program::{Ended, Served, run};

/// Writes an authority of this test's own, and a certificate that it vouches for, with its key.
pub(crate) fn vouched(folder: &Path, name: &str) {
    vouched_until(folder, name, None);
}

/// The same with a certificate that ends so many seconds after 1970 began in UTC.
pub(crate) fn vouched_until(folder: &Path, name: &str, end: Option<u64>) {
    let mut params = CertificateParams::new(Vec::new()).unwrap();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, name);
    params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
    let authority = CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap();
    let key = KeyPair::generate().unwrap();
    let mut params = CertificateParams::new(vec!["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
    if let Some(end) = end {
        params.not_after = date_time_ymd(1970, 1, 1) + Duration::from_secs(end);
    }
    let certificate = params.signed_by(&key, &authority).unwrap();
    let write = |end: &str, text: String| std::fs::write(folder.join(format!("{name}{end}")), text).unwrap();
    write(".authority.pem", authority.pem());
    write(".pem", certificate.pem());
    write(".key", key.serialize_pem());
}

/// A service that asks for certificates, and a way to ask it with some flags.
fn scene() -> (Served, impl Fn(&Served, &str, &[&str]) -> Ended) {
    let folder = tempfile::tempdir().unwrap();
    for name in ["service", "caller", "stranger"] {
        vouched(folder.path(), name);
    }
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let files = [path("service.pem"), path("service.key"), path("caller.authority.pem")];
    let [certificate, key, clients] = files.each_ref().map(String::as_str);
    let flags = ["--tls-certificate", certificate, "--tls-key", key, "--tls-clients", clients];
    let served = Served::with(folder, "hall.db", &flags);
    let ask = |served: &Served, scheme: &str, flags: &[&str]| {
        let url = served.url.replace("http", scheme);
        let path = |name: &str| served.folder.path().join(name).to_str().unwrap().to_owned();
        let flags: Vec<String> = flags
            .iter()
            .map(|word| if word.starts_with("--") { (*word).to_owned() } else { path(word) })
            .collect();
        let flags: Vec<&str> = flags.iter().map(String::as_str).collect();
        run(&[&["roster", "list", "--server", &url], &flags[..]].concat())
    };
    (served, ask)
}

#[test]
fn who_shows_the_certificate_that_is_asked_for_is_let_in() {
    let (served, ask) = scene();
    let known = ["--authority", "service.authority.pem"];
    let with = |name: &str| {
        let (certificate, key) = (format!("{name}.pem"), format!("{name}.key"));
        let own = ["--certificate", &certificate, "--certificate-key", &key];
        ask(&served, "https", &[&known[..], &own].concat())
    };
    with("caller").page();
    let without = ask(&served, "https", &known);
    assert_eq!(without.code, 3, "{}", without.stderr);
    assert!(without.said().contains("--certificate and --certificate-key"), "{}", without.stderr);
    let stranger = with("stranger");
    assert_eq!(stranger.code, 3, "{}", stranger.stderr);
    assert!(stranger.said().contains("--certificate and --certificate-key"), "{}", stranger.stderr);
    let half = ask(&served, "https", &[&known[..], &["--certificate", "caller.pem"]].concat());
    assert!(half.code == 2 && half.said().contains("--certificate-key"), "{}", half.stderr);
    let missing = ["--certificate", "none.pem", "--certificate-key", "caller.key"];
    let missing = ask(&served, "https", &[&known[..], &missing].concat());
    assert!(missing.code == 2 && missing.said().contains("none.pem cannot be read"), "{}", missing.stderr);
}

#[test]
fn what_is_wrong_with_the_way_is_said_with_its_remedy() {
    let (served, ask) = scene();
    let plain = ask(&served, "http", &[]);
    assert_eq!(plain.code, 3, "{}", plain.stderr);
    assert!(plain.said().contains("write https:// in place of http://"), "{}", plain.stderr);
    let unknown = ask(&served, "https", &["--authority", "stranger.authority.pem"]);
    assert_eq!(unknown.code, 3, "{}", unknown.stderr);
    assert!(unknown.said().contains("with --authority or NEXTRUNG_AUTHORITY"), "{}", unknown.stderr);
    let open = Served::fresh();
    let url = open.url.replace("http", "https");
    let none = run(&["roster", "list", "--server", &url]);
    assert_eq!(none.code, 3, "{}", none.stderr);
    assert!(none.said().contains("write http:// in place of https://"), "{}", none.stderr);
}
