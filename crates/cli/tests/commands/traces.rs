//! Traces: spans of the running binary as a collector of this test receives them.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::{Arc, Mutex};

use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use opentelemetry_proto::tonic::collector::trace::v1::trace_service_server::{
    TraceService, TraceServiceServer,
};
use opentelemetry_proto::tonic::collector::trace::v1::{
    ExportTraceServiceRequest, ExportTraceServiceResponse,
};
use opentelemetry_proto::tonic::trace::v1::Span;
use tokio::net::TcpListener;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::{Request, Response, Status};

use crate::operated::{Operated, one_set};

const TRACE: &str = "4bf92f3577b34da6a3ce929d0e0e4736";
const PARENT: &str = "00f067aa0ba902b7";

/// What a collector was sent.
#[derive(Clone, Default)]
struct Collector {
    spans: Arc<Mutex<Vec<Span>>>,
    /// Texts of the header `authorization`, and all that was sent, as text.
    headers: Arc<Mutex<Vec<String>>>,
    texts: Arc<Mutex<String>>,
}

#[tonic::async_trait]
impl TraceService for Collector {
    async fn export(
        &self,
        request: Request<ExportTraceServiceRequest>,
    ) -> Result<Response<ExportTraceServiceResponse>, Status> {
        let header = request.metadata().get("authorization").map(|text| text.to_str().unwrap().to_owned());
        self.headers.lock().unwrap().extend(header);
        self.texts.lock().unwrap().push_str(&format!("{:?}", request.get_ref()));
        let sent = request.into_inner().resource_spans.into_iter().flat_map(|resource| resource.scope_spans);
        self.spans.lock().unwrap().extend(sent.flat_map(|scope| scope.spans));
        Ok(Response::new(ExportTraceServiceResponse::default()))
    }
}

impl Collector {
    /// Begins to collect; gives the address.
    async fn open(&self) -> String {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let server = tonic::transport::Server::builder().add_service(TraceServiceServer::new(self.clone()));
        tokio::spawn(server.serve_with_incoming(TcpListenerStream::new(listener)));
        address
    }

    fn spans(&self) -> Vec<Span> {
        self.spans.lock().unwrap().clone()
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Records a set as the caller of a trace; `sampled` is the flag of W3C's traceparent.
async fn record(service: &Operated, number: i32, sampled: &str) {
    let mut request = Request::new(one_set(number));
    request.metadata_mut().insert("traceparent", format!("00-{TRACE}-{PARENT}-{sampled}").parse().unwrap());
    SetLogServiceClient::new(service.channel().await).record_sets(request).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_callers_trace_goes_on_into_the_store_and_reaches_the_collector() {
    let (folder, collector) = (tempfile::tempdir().unwrap(), Collector::default());
    let address = collector.open().await;
    let secret = [("NEXTRUNG_TRACE_AUTHORIZATION", "Bearer sesame")];
    let flags = ["--trace-collector", &address, "--log-level", "trace"];
    let mut service = Operated::on(folder.path(), &flags, &secret);
    service.new_athlete().await;
    record(&service, 1, "01").await;
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    let spans = collector.spans();
    let call = spans.iter().find(|span| span.name == "nextrung.v1.SetLogService/RecordSets").unwrap();
    assert_eq!((hex(&call.trace_id), hex(&call.parent_span_id)), (TRACE.to_owned(), PARENT.to_owned()));
    assert_eq!(call.kind, 2, "of a server");
    let append = spans.iter().find(|span| span.name == "append").unwrap();
    assert_eq!((&append.trace_id, &append.parent_span_id), (&call.trace_id, &call.span_id));
    let logged = service.lines().into_iter().find(|line| line["spans"][0]["trace"] == TRACE);
    assert!(logged.is_some(), "the log has the same id");
    // Spans of calls that began here have traces of their own, and the log knows them.
    let own = spans.iter().find(|span| span.name == "nextrung.v1.RosterService/CreateRoster").unwrap();
    assert!(own.parent_span_id.is_empty() && hex(&own.trace_id) != TRACE);
    assert!(service.log().contains(&hex(&own.trace_id)));
    assert_eq!(collector.headers.lock().unwrap().first().map(String::as_str), Some("Bearer sesame"));
    assert!(!service.log().contains("sesame"));
    let texts = collector.texts.lock().unwrap().clone();
    for word in ["wren", "Wren", "hall", "s-1", "q-1", "pull-up"] {
        assert!(!texts.contains(word), "{word}: {texts}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_callers_trace_goes_on_from_json_too() {
    let (folder, collector) = (tempfile::tempdir().unwrap(), Collector::default());
    let address = collector.open().await;
    let mut service = Operated::on(folder.path(), &["--trace-collector", &address], &[]);
    let place = service.url.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(place).unwrap();
    let head = format!(
        "GET /v1/rosters HTTP/1.1\r\nhost: {place}\r\ntraceparent: 00-{TRACE}-{PARENT}-01\r\nconnection: close\r\n\r\n"
    );
    stream.write_all(head.as_bytes()).unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    let spans = collector.spans();
    let call = spans.iter().find(|span| span.name == "nextrung.v1.RosterService/ListRosters").unwrap();
    assert_eq!((hex(&call.trace_id), hex(&call.parent_span_id)), (TRACE.to_owned(), PARENT.to_owned()));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_caller_or_the_settings_leave_out_is_not_sent() {
    let (folder, collector) = (tempfile::tempdir().unwrap(), Collector::default());
    let address = collector.open().await;
    let flags = ["--trace-collector", &address, "--trace-percent", "0"];
    let mut service = Operated::on(folder.path(), &flags, &[]);
    service.new_athlete().await;
    record(&service, 1, "00").await;
    record(&service, 2, "01").await;
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    let names: Vec<String> =
        collector.spans().into_iter().filter(|span| span.kind == 2).map(|span| span.name).collect();
    assert_eq!(names, ["nextrung.v1.SetLogService/RecordSets"], "the one that its caller wants");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_collector_that_is_not_there_holds_nothing_up() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &["--trace-collector", "http://127.0.0.1:9"], &[]);
    service.new_athlete().await;
    record(&service, 1, "01").await;
    let began = std::time::Instant::now();
    service.signal("TERM");
    assert_eq!(service.ended(), 0);
    assert!(began.elapsed() < std::time::Duration::from_secs(10), "{:?}", began.elapsed());
}
