//! Connections on which no call could be made, and certificates that come to their end, as the operator sees them.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use crate::operated::Operated;
use crate::program::run;
use crate::secured::{vouched, vouched_until};

#[test]
fn each_connection_in_vain_is_counted_by_why() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["service", "caller"] {
        vouched(folder.path(), name);
    }
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let files = [path("service.pem"), path("service.key"), path("caller.authority.pem")];
    let [certificate, key, clients] = files.each_ref().map(String::as_str);
    let tls = ["--tls-certificate", certificate, "--tls-key", key, "--tls-clients", clients];
    let limits = ["--limits-preface", "3s", "--limits-connections-of-one", "2"];
    let service = Operated::on(folder.path(), &[&tls[..], &limits].concat(), &[]);
    let address = service.url.strip_prefix("http://").unwrap();
    let count = |why: &str| format!("nextrung_connections_in_vain_total{{why=\"{why}\"}}");

    let authority = path("service.authority.pem");
    let url = service.url.replace("http", "https");
    let ask = ["roster", "list", "--server", &url, "--authority", &authority];
    assert_eq!(run(&ask).code, 3, "a certificate is asked for");
    // It tries more than once; what has ended is counted.
    service.until("nextrung_connections", 0.0);
    let without = service.metric(&count("handshake"));
    assert!(without >= 1.0, "{}", service.log());
    let distrusting = ["roster", "list", "--server", &url, "--authority", clients];
    assert_eq!(run(&distrusting).code, 3, "an authority that did not vouch for the service");
    service.until("nextrung_connections", 0.0);
    let turned_away = service.metric(&count("handshake"));
    assert!(turned_away > without, "{}", service.log());
    let own = ["--certificate", &path("caller.pem"), "--certificate-key", &path("caller.key")];
    run(&[&ask[..], &own].concat()).page();
    let mut plain = TcpStream::connect(address).unwrap();
    plain.write_all(b"GET / HTTP/1.1\r\nhost: hall\r\n\r\n").unwrap();
    drop(plain.read_to_end(&mut Vec::new()));
    drop(plain);
    service.until(&count("handshake"), turned_away + 1.0);

    drop(TcpStream::connect(address).unwrap());
    service.until(&count("gone"), 1.0);
    service.until("nextrung_connections", 0.0);
    let silent = [TcpStream::connect(address).unwrap(), TcpStream::connect(address).unwrap()];
    service.until("nextrung_connections", 2.0);
    let third = TcpStream::connect(address).unwrap();
    service.until(&count("crowded"), 1.0);
    service.until(&count("silent"), 2.0);
    service.until("nextrung_connections", 0.0);
    drop((silent, third));
    assert_eq!(service.metric(&count("handshake")), turned_away + 1.0);
    assert_eq!(service.metric(&count("gone")), 1.0);
}

#[test]
fn a_certificate_that_ends_soon_or_has_ended_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (certificate, key) = (path("service.pem"), path("service.key"));
    let flags = ["--tls-certificate", &certificate, "--tls-key", &key];
    let day = 86_400;
    let now = clock(&folder);
    // A change is looked for every 5 s, so one service tells of all.
    vouched_until(folder.path(), "service", Some(now + 60 * day));
    let service = Operated::on(folder.path(), &flags, &[]);
    let told = || {
        let of = |line: &serde_json::Value| line["setting"] == "tls.certificate";
        let lines = service.lines().into_iter().filter(of);
        lines.map(|line| line.to_string()).collect::<Vec<_>>()
    };
    let series = "nextrung_certificate_ends_seconds{setting=\"tls.certificate\"}";
    let is = |days: u64| service.until(series, f64::from(u32::try_from(now + days * day).unwrap()));
    is(60);
    assert_eq!(told(), Vec::<String>::new());
    vouched_until(folder.path(), "service", Some(now + 5 * day));
    is(5);
    assert!(
        told().len() == 1 && told()[0].contains("WARN") && told()[0].contains("ends soon"),
        "{:?}",
        told()
    );
    // Nobody replaces this one.
    let soon = clock(&folder) + 12;
    vouched_until(folder.path(), "service", Some(soon));
    service.until(series, f64::from(u32::try_from(soon).unwrap()));
    let end = Instant::now() + Duration::from_secs(40);
    while !told().last().unwrap().contains("has ended") && Instant::now() < end {
        std::thread::sleep(Duration::from_millis(100));
    }
    let last = told().pop().unwrap();
    assert!(last.contains("ERROR") && last.contains("has ended"), "{:?}", told());
}

/// Now, by the clock of the files, seconds since 1970 began in UTC.
fn clock(folder: &tempfile::TempDir) -> u64 {
    let path = folder.path().join("now");
    std::fs::write(&path, "").unwrap();
    let made = path.metadata().unwrap().modified().unwrap();
    made.duration_since(std::time::UNIX_EPOCH).unwrap().as_secs()
}
