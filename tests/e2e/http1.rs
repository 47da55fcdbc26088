//! HTTP/1.1: its connections are bounded as those of HTTP/2 are, and end with the service.

use std::time::{Duration, Instant};

use nextrung_api::v1;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::browser::{Browser, Version, call};
use crate::service::{ATHLETE, Service};

/// What a connection that sends this hears until the service ends it, and how long that takes.
async fn ended(service: &Service, sent: &[&str], pause: Duration) -> (String, Duration) {
    let mut stream = TcpStream::connect(service.address()).await.unwrap();
    let begun = Instant::now();
    for piece in sent {
        // Who is shut out already cannot write.
        let _ = stream.write_all(piece.as_bytes()).await;
        tokio::time::sleep(pause).await;
    }
    let mut said = Vec::new();
    let _ = stream.read_to_end(&mut said).await;
    (String::from_utf8_lossy(&said).into_owned(), begun.elapsed())
}

async fn hasty() -> Service {
    Service::with(|settings| {
        settings.limits.preface = LIMIT;
        settings.limits.arrival = LIMIT;
    })
    .await
}

/// Each limit of a hasty service.
const LIMIT: Duration = Duration::from_secs(1);
/// What lasts longer is not bounded by it: some seconds go into sending slowly, more of them on a busy machine.
const AT_LAST: Duration = Duration::from_secs(30);

const HEAD: &str = "POST /nextrung.v1.LadderService/ListLadders HTTP/1.1\r\nhost: localhost\r\n\
                    content-type: application/grpc-web+proto\r\n";

#[tokio::test]
async fn slow_headers_and_bodies_and_silence_end_in_time() {
    let service = hasty().await;
    let slow = ["G"; 200];
    for sent in [&[] as &[&str], &["GET"], &[HEAD], &slow] {
        let (said, took) = ended(&service, sent, Duration::from_millis(20)).await;
        assert!(took < AT_LAST, "{sent:?} stayed for {took:?}");
        assert!(said.is_empty() || said.starts_with("HTTP/1.1 4"), "{said}");
    }
    // A body that does not come, then one that comes a byte at a time.
    let head = format!("{HEAD}content-length: 1000000\r\n\r\n");
    let trickle: Vec<&str> = [head.as_str()].into_iter().chain(["\0"; 200]).collect();
    for sent in [&trickle[..1], &trickle] {
        let (said, took) = ended(&service, sent, Duration::from_millis(20)).await;
        assert!(took < AT_LAST, "{took:?}");
        assert!(said.contains("grpc-status: 4\r\n") || said.is_empty(), "{said}");
    }
    let (said, _) = ended(&service, &trickle[..1], Duration::ZERO).await;
    assert!(said.contains("the%20message%20did%20not%20come%20within"), "{said}");
}

#[tokio::test]
async fn an_idle_connection_ends_and_one_with_a_call_does_not() {
    // Whichever time is shorter: that for the head of a call, or that without one.
    let patient = Service::with(|settings| settings.limits.idle = LIMIT).await;
    let service = hasty().await;
    service.new_athlete().await;
    let get = format!("{HEAD}content-length: 5\r\n\r\n\0\0\0\0\0");
    for service in [&patient, &service] {
        let (said, took) = ended(service, &[&get, &get], Duration::from_millis(100)).await;
        assert_eq!(said.matches("HTTP/1.1 200").count(), 2, "{said}");
        assert!(took < AT_LAST, "{took:?}");
    }
    let watch = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], date: None };
    let mut browser = Browser::connect(service.address(), Version::One).await;
    let response = browser.begin(call("PrescriptionService/WatchPrescriptions", &watch)).await;
    let mut body = response.into_body();
    http_body_util::BodyExt::frame(&mut body).await.unwrap().unwrap();
    let quiet = tokio::time::timeout(2 * LIMIT, http_body_util::BodyExt::frame(&mut body)).await;
    assert!(quiet.is_err(), "{quiet:?}");
}

#[tokio::test]
async fn headers_are_bounded_in_length_and_number() {
    let service = hasty().await;
    let long = format!("{HEAD}x-long: {}\r\n\r\n", "x".repeat(40_000));
    let many = format!("{HEAD}{}\r\n", "x-many: 1\r\n".repeat(200));
    for sent in [&long, &many] {
        let (said, _) = ended(&service, &[sent], Duration::ZERO).await;
        assert!(said.is_empty() || said.starts_with("HTTP/1.1 431"), "{said}");
    }
    let short = format!("{HEAD}x-long: {}\r\ncontent-length: 5\r\n\r\n\0\0\0\0\0", "x".repeat(8_000));
    let (said, _) = ended(&service, &[&short], Duration::ZERO).await;
    assert!(said.starts_with("HTTP/1.1 200"), "{said}");
}

/// A browser that cannot send all of it reads no answer.
#[tokio::test]
async fn a_message_over_the_limit_is_taken_to_its_end_before_the_answer() {
    let service = Service::start().await;
    // More than a system keeps of a connection that nobody reads from, so that who sends it all has been read.
    let body = vec![0; 15 << 20];
    let mut stream = TcpStream::connect(service.address()).await.unwrap();
    let head = format!("{HEAD}connection: close\r\ncontent-length: {}\r\n\r\n", body.len());
    stream.write_all(head.as_bytes()).await.unwrap();
    stream.write_all(&body).await.unwrap();
    let mut said = Vec::new();
    stream.read_to_end(&mut said).await.unwrap();
    let said = String::from_utf8_lossy(&said);
    assert!(said.contains("grpc-status: 8\r\n") && said.contains("too%20large"), "{said}");
}

#[tokio::test]
async fn what_is_no_http_is_closed() {
    let service = hasty().await;
    for garbage in ["\u{16}\u{3}\u{1}\u{2}", "nothing\r\n\r\n", "PRI * HTTP/2.0\r\n\r\nNO\r\n\r\n"] {
        let (said, took) = ended(&service, &[garbage], Duration::ZERO).await;
        assert!(took < AT_LAST, "{took:?}");
        assert!(said.is_empty() || said.starts_with("HTTP/1.1 400"), "{said}");
    }
}

#[tokio::test]
async fn a_stop_ends_idle_connections_at_once_and_lets_calls_finish() {
    let service = Service::start().await;
    let mut idle = TcpStream::connect(service.address()).await.unwrap();
    let get = format!("{HEAD}content-length: 5\r\n\r\n\0\0\0\0\0");
    idle.write_all(get.as_bytes()).await.unwrap();
    let mut first = [0; 15];
    idle.read_exact(&mut first).await.unwrap();
    assert_eq!(&first, b"HTTP/1.1 200 OK");
    let stopped = tokio::time::timeout(AT_LAST, service.stop()).await;
    assert!(stopped.is_ok(), "an idle connection is waited for");
    let mut rest = Vec::new();
    idle.read_to_end(&mut rest).await.unwrap();
}
