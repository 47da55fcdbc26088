//! The web: gRPC-Web over HTTP/1.1 as browsers send it, written by hand, and what pages may and may not do.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::time::Duration;

use http::{HeaderMap, HeaderName, HeaderValue};
use nextrung_api::v1;
use nextrung_server::Origins;
use prost::Message;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tonic::{Code, Status};

use crate::messages::{athlete, pull_up, roster};
use crate::refusal::{Refusal, refused};
use crate::service::{ATHLETE, ROSTER, Service};
use crate::wire::framed;

const PAGE: &str = "https://app.example";

/// An answer over HTTP/1.1.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) headers: BTreeMap<String, String>,
    pub(crate) body: Vec<u8>,
}

/// Asks on a connection of its own. The host is the address unless the headers name one.
pub(crate) async fn ask(address: SocketAddr, line: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(address).await.unwrap();
    let mut head = format!("{line} HTTP/1.1\r\nconnection: close\r\ncontent-length: {}\r\n", body.len());
    if !headers.iter().any(|(name, _)| *name == "host") {
        head += &format!("host: {address}\r\n");
    }
    for (name, value) in headers {
        head += &format!("{name}: {value}\r\n");
    }
    stream.write_all(format!("{head}\r\n").as_bytes()).await.unwrap();
    // A browser that cannot send all of it reads no answer.
    stream.write_all(body).await.unwrap();
    let mut all = Vec::new();
    stream.read_to_end(&mut all).await.unwrap();
    parsed(&all)
}

pub(crate) fn parsed(all: &[u8]) -> Answer {
    let end = all.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
    let head = std::str::from_utf8(&all[..end]).unwrap();
    let mut lines = head.lines();
    let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
    let headers: BTreeMap<String, String> = lines
        .map(|line| line.split_once(": ").unwrap())
        .map(|(name, value)| (name.to_lowercase(), value.to_owned()))
        .collect();
    let rest = &all[end + 4..];
    let is_chunked = headers.get("transfer-encoding").is_some_and(|how| how == "chunked");
    Answer { status, body: if is_chunked { whole(rest) } else { rest.to_vec() }, headers }
}

/// A body without the marks of its chunks.
fn whole(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    loop {
        let end = rest.windows(2).position(|two| two == b"\r\n").expect("a length");
        let length = usize::from_str_radix(std::str::from_utf8(&rest[..end]).unwrap(), 16).unwrap();
        if length == 0 {
            return body;
        }
        body.extend_from_slice(&rest[end + 2..end + 2 + length]);
        rest = &rest[end + 4 + length..];
    }
}

/// What a call came to: its messages and its status.
fn told(answer: &Answer) -> (Vec<Vec<u8>>, Status) {
    assert_eq!(answer.status, 200, "{answer:?}");
    let (mut messages, mut trailers) = (Vec::new(), answer.headers.clone());
    let mut rest = answer.body.as_slice();
    while let Some(([kind, length @ ..], more)) = rest.split_first_chunk::<5>() {
        let length = usize::try_from(u32::from_be_bytes(*length)).unwrap();
        let (frame, behind) = more.split_at(length);
        rest = behind;
        if *kind == 0 {
            messages.push(frame.to_vec());
        } else {
            let lines = std::str::from_utf8(frame).unwrap().lines();
            trailers.extend(
                lines
                    .filter_map(|line| line.split_once(':'))
                    .map(|(name, value)| (name.to_owned(), value.trim().to_owned())),
            );
        }
    }
    let map: HeaderMap = trailers
        .iter()
        .map(|(name, value)| (HeaderName::try_from(name).unwrap(), HeaderValue::try_from(value).unwrap()))
        .collect();
    (messages, Status::from_header_map(&map).expect("a status"))
}

/// Calls a method as a page would.
async fn call(service: &Service, method: &str, message: &impl Message, more: &[(&str, &str)]) -> Answer {
    let headers = [&[("content-type", "application/grpc-web+proto"), ("x-grpc-web", "1")], more].concat();
    let line = format!("POST /nextrung.v1.{method}");
    ask(service.address(), &line, &headers, &framed(&message.encode_to_vec())).await
}

fn open_to_pages(settings: &mut nextrung_server::Settings) {
    settings.origins = Origins::read(PAGE).unwrap();
}

fn new_roster() -> v1::CreateRosterRequest {
    v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(roster("Hall")),
        request_id: "create-hall".to_owned(),
    }
}

#[tokio::test]
async fn a_page_does_what_any_client_does() {
    let service = Service::with(open_to_pages).await;
    let answer = call(&service, "RosterService/CreateRoster", &new_roster(), &[("origin", PAGE)]).await;
    assert_eq!(answer.headers["access-control-allow-origin"], PAGE);
    assert!(answer.headers["access-control-expose-headers"].contains("grpc-status-details-bin"));
    assert_eq!(answer.headers["vary"], "origin");
    let (messages, status) = told(&answer);
    assert_eq!(status.code(), Code::Ok);
    let made = v1::CreateRosterResponse::decode(messages[0].as_slice()).unwrap().roster.unwrap();
    let request = v1::GetRosterRequest { name: ROSTER.to_owned() };
    assert_eq!(service.rosters().get_roster(request).await.unwrap().into_inner().roster.unwrap(), made);
    assert!(answer.headers.contains_key("x-request-id"), "{answer:?}");
}

#[tokio::test]
async fn an_error_reaches_a_page_with_all_its_fields() {
    let service = Service::start().await;
    service.new_athlete().await;
    let bad =
        v1::LoggedSet { set_number: -1, rung: "ladders/pull/rungs/pulup".to_owned(), stop: 77, ..pull_up(1) };
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![pull_up(1), bad],
        request_id: "r".to_owned(),
        validate_only: false,
    };
    let over_grpc = refused(service.log().record_sets(request.clone()).await);
    assert!(over_grpc.violations.len() >= 3, "{over_grpc:?}");
    let (messages, status) = told(&call(&service, "SetLogService/RecordSets", &request, &[]).await);
    assert!(messages.is_empty());
    assert_eq!(Refusal::of(&status), over_grpc);
    let missing = v1::GetRosterRequest { name: "rosters/nowhere".to_owned() };
    let (_, status) = told(&call(&service, "RosterService/GetRoster", &missing, &[]).await);
    assert_eq!(Refusal::of(&status), refused(service.rosters().get_roster(missing).await));
    let (_, status) = told(&call(&service, "RosterService/Nothing", &new_roster(), &[]).await);
    assert_eq!(status.code(), Code::Unimplemented);
}

#[tokio::test]
async fn a_stream_comes_piece_by_piece() {
    let service = Service::start().await;
    service.new_athlete().await;
    let request = v1::ExportAthleteRequest { name: ATHLETE.to_owned() };
    let (messages, status) = told(&call(&service, "AthleteService/ExportAthlete", &request, &[]).await);
    assert_eq!(status.code(), Code::Ok);
    assert!(messages.len() >= 2, "{} pieces", messages.len());
    for message in &messages {
        assert!(v1::ExportAthleteResponse::decode(message.as_slice()).unwrap().piece.is_some());
    }
}

#[tokio::test]
async fn messages_may_come_as_text() {
    let service = Service::start().await;
    // Base64 of a frame with an empty message.
    let headers = [("content-type", "application/grpc-web-text"), ("accept", "application/grpc-web-text")];
    let line = "POST /nextrung.v1.LadderService/ListLadders";
    let answer = ask(service.address(), line, &headers, b"AAAAAAA=").await;
    assert_eq!(
        (answer.status, answer.headers["content-type"].as_str()),
        (200, "application/grpc-web-text+proto")
    );
    let is_text = |byte: &u8| byte.is_ascii_alphanumeric() || b"+/=".contains(byte);
    assert!(answer.body.len() > 1000 && answer.body.iter().all(is_text), "{} bytes", answer.body.len());
}

#[tokio::test]
async fn limits_hold_for_pages() {
    let service = Service::start().await;
    service.new_athlete().await;
    let noted = v1::LoggedSet { note: "x".repeat(5 << 20), ..pull_up(1) };
    let request = v1::RecordSetsRequest {
        parent: ATHLETE.to_owned(),
        sets: vec![noted],
        request_id: "r".to_owned(),
        validate_only: false,
    };
    let (_, status) = told(&call(&service, "SetLogService/RecordSets", &request, &[]).await);
    assert_eq!(Refusal::of(&status).reason, "MESSAGE_TOO_LARGE");
}

#[tokio::test]
async fn keys_are_asked_of_pages_too() {
    let service = Service::with(|settings| settings.keys = true).await;
    let (_, status) = told(&call(&service, "RosterService/CreateRoster", &new_roster(), &[]).await);
    assert_eq!(Refusal::of(&status).reason, "KEY_MISSING");
    let wrong = format!("Bearer nextrung-{:016x}-{}", 7, "0".repeat(64));
    let more = [("authorization", wrong.as_str())];
    let (_, status) = told(&call(&service, "RosterService/CreateRoster", &new_roster(), &more).await);
    assert_eq!(Refusal::of(&status).reason, "KEY_UNKNOWN");
}

#[tokio::test]
async fn a_browser_is_told_which_pages_may_call() {
    let service = Service::with(open_to_pages).await;
    let line = "OPTIONS /nextrung.v1.RosterService/CreateRoster";
    let asked = |origin: &'static str| [("origin", origin), ("access-control-request-method", "POST")];
    let answer = ask(service.address(), line, &asked(PAGE), b"").await;
    assert_eq!((answer.status, answer.headers["access-control-allow-origin"].as_str()), (204, PAGE));
    assert!(answer.headers["access-control-allow-headers"].contains("authorization"));
    for other in ["https://other.example", "null"] {
        let answer = ask(service.address(), line, &asked(other), b"").await;
        assert_eq!(answer.status, 403);
        assert!(!answer.headers.contains_key("access-control-allow-origin"), "{answer:?}");
        // And whoever calls without asking is not answered either.
        let answer = call(&service, "RosterService/CreateRoster", &new_roster(), &[("origin", other)]).await;
        assert_eq!(answer.status, 403);
    }
    let request = v1::GetRosterRequest { name: ROSTER.to_owned() };
    assert_eq!(refused(service.rosters().get_roster(request).await).code, Code::NotFound, "nothing was done");
}

#[tokio::test]
async fn without_keys_a_service_is_called_by_its_own_name() {
    let service = Service::with(open_to_pages).await;
    let list = v1::ListLaddersRequest::default();
    let named = async |host: &'static str| {
        call(&service, "LadderService/ListLadders", &list, &[("host", host)]).await.status
    };
    // A name of somebody's own making that leads here, as in DNS rebinding.
    assert_eq!(named("rebound.example:7878").await, 421);
    for own in ["localhost:7878", "app.example"] {
        assert_eq!(named(own).await, 200, "{own}");
    }
    let keyed = Service::with(|settings| settings.keys = true).await;
    let answer = call(&keyed, "LadderService/ListLadders", &list, &[("host", "nextrung.example")]).await;
    assert_eq!(answer.status, 200, "who must show a key may use any name");
}

#[tokio::test]
async fn who_speaks_none_of_the_protocols_is_told() {
    let service = Service::start().await;
    let answer = ask(service.address(), "GET /", &[], b"").await;
    assert_eq!(answer.status, 404);
    assert!(String::from_utf8(answer.body).unwrap().contains("gRPC-Web"));
    let grpc = [("content-type", "application/grpc")];
    let line = "POST /nextrung.v1.LadderService/ListLadders";
    let answer = ask(service.address(), line, &grpc, &framed(b"")).await;
    assert_eq!(answer.status, 404, "gRPC wants HTTP/2");
}

#[tokio::test]
async fn who_dawdles_over_http_1_is_shut_out() {
    let service = Service::with(|settings| {
        settings.limits.preface = Duration::from_millis(300);
        settings.limits.idle = Duration::from_millis(600);
        settings.limits.arrival = Duration::from_millis(400);
    })
    .await;
    let shut_out = async |sent: &[u8]| {
        let mut stream = TcpStream::connect(service.address()).await.unwrap();
        stream.write_all(sent).await.unwrap();
        let mut all = Vec::new();
        let end = tokio::time::timeout(Duration::from_secs(5), stream.read_to_end(&mut all)).await;
        assert!(end.is_ok(), "still open after {:?}", String::from_utf8_lossy(sent));
        String::from_utf8_lossy(&all).into_owned()
    };
    assert_eq!(shut_out(b"").await, "");
    assert_eq!(shut_out(b"PO").await, "");
    shut_out(b"POST /nextrung.v1.LadderService/ListLadders HTTP/1.1\r\nhost: 127.0.0.1\r\n").await;
    // Answered, and then idle.
    let idle = shut_out(b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n").await;
    assert!(idle.starts_with("HTTP/1.1 404"), "{idle}");
    let late = shut_out(
        b"POST /nextrung.v1.LadderService/ListLadders HTTP/1.1\r\nhost: 127.0.0.1\r\n\
          content-type: application/grpc-web\r\ncontent-length: 5\r\nconnection: close\r\n\r\n\0\0",
    )
    .await;
    assert!(late.contains("grpc-status: 4") || late.contains("grpc-status:4"), "{late}");
    let long = format!("GET / HTTP/1.1\r\nhost: 127.0.0.1\r\nx-long: {}\r\n\r\n", "x".repeat(40_000));
    let long = shut_out(long.as_bytes()).await;
    assert!(long.is_empty() || long.starts_with("HTTP/1.1 431"), "{long}");
}

#[tokio::test]
async fn a_stop_waits_for_no_open_page() {
    let service = Service::start().await;
    let mut stream = TcpStream::connect(service.address()).await.unwrap();
    stream.write_all(b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n").await.unwrap();
    let mut first = [0; 12];
    stream.read_exact(&mut first).await.unwrap();
    assert_eq!(&first, b"HTTP/1.1 404");
    tokio::time::timeout(Duration::from_secs(5), service.stop()).await.expect("it stops");
}

#[tokio::test]
async fn a_watching_page_is_told() {
    let service = Service::start().await;
    service.new_roster().await;
    service.add_athlete("wren", athlete()).await;
    let request = v1::WatchPrescriptionsRequest { names: vec![ATHLETE.to_owned()], ..Default::default() };
    let body = framed(&request.encode_to_vec());
    let mut stream = TcpStream::connect(service.address()).await.unwrap();
    let head = format!(
        "POST /nextrung.v1.PrescriptionService/WatchPrescriptions HTTP/1.1\r\nhost: 127.0.0.1\r\n\
         content-type: application/grpc-web\r\ncontent-length: {}\r\n\r\n",
        body.len()
    );
    stream.write_all(&[head.as_bytes(), &body].concat()).await.unwrap();
    let mut heard = Vec::new();
    // The first answer comes while the stream goes on.
    while !heard.windows(ATHLETE.len()).any(|part| part == ATHLETE.as_bytes()) {
        let read = tokio::time::timeout(Duration::from_secs(5), stream.read_buf(&mut heard)).await;
        assert!(read.expect("in time").unwrap() > 0, "{}", String::from_utf8_lossy(&heard));
    }
}
