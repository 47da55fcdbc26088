//! Operations: where the service listens, one service a database, health and reflection.

use nextrung_api::v1;
use nextrung_server::{Settings, StartError, start};
use tokio_stream::StreamExt;
use tonic::Code;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::health_client::HealthClient;
use tonic_health::pb::{HealthCheckRequest, HealthCheckResponse};
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;
use tonic_reflection::pb::v1::{ServerReflectionRequest, ServerReflectionResponse};

use crate::service::{Service, loopback};

/// Every service of the contract.
const SERVICES: [&str; 8] = [
    "nextrung.v1.AthleteService",
    "nextrung.v1.CapacityService",
    "nextrung.v1.LadderService",
    "nextrung.v1.PrescriptionService",
    "nextrung.v1.ReplayService",
    "nextrung.v1.ReviewService",
    "nextrung.v1.RosterService",
    "nextrung.v1.SetLogService",
];

#[tokio::test]
async fn addresses_that_others_can_reach_are_refused_with_the_reason() {
    let dir = tempfile::tempdir().unwrap();
    for listen in ["0.0.0.0:0", "[::]:0", "192.168.0.1:0", "[2001:db8::1]:0"] {
        let database = dir.path().join("log.sqlite");
        let refused = start(Settings::new(listen.parse().unwrap(), &database)).await.err().unwrap();
        assert!(matches!(refused, StartError::NotLoopback { .. }), "{refused:?}");
        let text = refused.to_string();
        assert!(
            text.contains(listen) && text.contains("keys and TLS") && text.contains("127.0.0.1"),
            "{text}"
        );
        assert!(!database.exists(), "nothing was made");
    }
    let running = start(Settings::new("[::1]:0".parse().unwrap(), dir.path().join("six.sqlite"))).await;
    assert!(running.unwrap().local_addr().is_ipv6());
}

#[tokio::test]
async fn a_second_service_on_the_same_database_is_refused_while_the_first_runs() {
    let service = Service::start().await;
    let second = start(Settings::new(loopback(), service.database())).await.err().unwrap();
    assert!(matches!(second, StartError::InUse { .. }), "{second:?}");
    assert!(second.to_string().contains("log.sqlite"), "{second}");
    service.new_athlete().await;
    let dir = service.stop().await;
    Service::on(dir, |_| ()).await.listed().await;
}

#[tokio::test]
async fn a_port_in_use_is_told() {
    let service = Service::start().await;
    let dir = tempfile::tempdir().unwrap();
    let second = start(Settings::new(service.address(), dir.path().join("log.sqlite"))).await;
    assert!(matches!(second.err().unwrap(), StartError::Listen { .. }));
}

#[tokio::test]
async fn a_dropped_service_gives_its_database_back() {
    let service = Service::start().await;
    service.new_athlete().await;
    let database = service.database();
    let dir = service.abandon();
    let running = loop {
        match start(Settings::new(loopback(), &database)).await {
            Ok(running) => break running,
            Err(StartError::InUse { .. }) => tokio::task::yield_now().await,
            Err(error) => panic!("{error}"),
        }
    };
    running.stop().await.unwrap();
    drop(dir);
}

fn about(service: &str) -> HealthCheckRequest {
    HealthCheckRequest { service: service.to_owned() }
}

#[tokio::test]
async fn health_knows_every_service_and_tells_watchers_of_the_stop() {
    let service = Service::start().await;
    let mut health = HealthClient::new(service.channel.clone());
    let is = |answer: HealthCheckResponse, status: ServingStatus| answer.status() == status;
    let mut watching = Vec::new();
    for name in SERVICES.into_iter().chain([""]) {
        let answer = health.check(about(name)).await.unwrap().into_inner();
        assert!(is(answer, ServingStatus::Serving), "{name}");
        let mut watch = health.watch(about(name)).await.unwrap().into_inner();
        assert!(is(watch.next().await.unwrap().unwrap(), ServingStatus::Serving), "{name}");
        watching.push(watch);
    }
    assert_eq!(health.check(about("no.such.Service")).await.unwrap_err().code(), Code::NotFound);
    let stopping = tokio::spawn(service.stop());
    for mut watch in watching {
        assert!(is(watch.next().await.unwrap().unwrap(), ServingStatus::NotServing));
        assert!(watch.next().await.is_none(), "the stream ends");
    }
    stopping.await.unwrap();
}

async fn reflect(service: &Service, request: MessageRequest) -> MessageResponse {
    let request = ServerReflectionRequest { host: String::new(), message_request: Some(request) };
    let mut client = ServerReflectionClient::new(service.channel.clone());
    let answers = client.server_reflection_info(tokio_stream::once(request)).await.unwrap();
    let answer: ServerReflectionResponse = answers.into_inner().next().await.unwrap().unwrap();
    answer.message_response.unwrap()
}

#[tokio::test]
async fn reflection_lists_every_service_and_shows_the_comments() {
    let service = Service::start().await;
    let MessageResponse::ListServicesResponse(list) =
        reflect(&service, MessageRequest::ListServices("*".to_owned())).await
    else {
        panic!("no list")
    };
    let mut names: Vec<String> = list.service.into_iter().map(|s| s.name).collect();
    names.sort();
    let mut wanted: Vec<&str> = SERVICES.to_vec();
    wanted.extend(["grpc.health.v1.Health", "grpc.reflection.v1.ServerReflection"]);
    wanted.sort_unstable();
    assert_eq!(names, wanted);
    let symbol = MessageRequest::FileContainingSymbol("nextrung.v1.LoggedSet".to_owned());
    let MessageResponse::FileDescriptorResponse(files) = reflect(&service, symbol).await else {
        panic!("no file")
    };
    let text = String::from_utf8_lossy(&files.file_descriptor_proto[0]).into_owned();
    assert!(text.contains("How the set ended"), "comments are served");
}

/// Whoever makes paths of the contract, such as a proxy, finds them there.
#[tokio::test]
async fn reflection_keeps_the_paths_of_methods() {
    let service = &Service::start().await;
    let file = |request| async move {
        let MessageResponse::FileDescriptorResponse(files) = reflect(service, request).await else {
            panic!("no file")
        };
        let [file] = <[Vec<u8>; 1]>::try_from(files.file_descriptor_proto).unwrap();
        let is_own = v1::FILE_DESCRIPTOR_SET.windows(file.len()).any(|own| *own == file);
        assert!(is_own, "served as it was compiled");
        String::from_utf8_lossy(&file).into_owned()
    };
    let symbol = MessageRequest::FileContainingSymbol("nextrung.v1.AthleteService.GetAthlete".to_owned());
    let athletes = file(symbol).await;
    assert!(athletes.contains("/v1/{name=rosters/*/athletes/*}"), "{athletes}");
    for (name, told) in [("annotations", "google.protobuf.MethodOptions"), ("http", "additional_bindings")] {
        let text = file(MessageRequest::FileByFilename(format!("google/api/{name}.proto"))).await;
        assert!(text.contains(told), "{name}");
    }
}
