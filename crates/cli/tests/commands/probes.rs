//! Metrics and probes of the running binary.

use std::time::{Duration, Instant};

use nextrung_api::v1;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;

use crate::operated::{ATHLETE, Operated, one_set};

#[tokio::test(flavor = "multi_thread")]
async fn metrics_count_calls_states_folds_and_ranks() {
    let folder = tempfile::tempdir().unwrap();
    let service = Operated::on(folder.path(), &[], &[]);
    service.new_athlete().await;
    let mut log = SetLogServiceClient::new(service.channel().await);
    for number in 0..20 {
        log.record_sets(one_set(number)).await.unwrap();
    }
    let mut bad = one_set(99);
    bad.sets[0].set_number = -1;
    log.record_sets(bad).await.unwrap_err();
    let method = "method=\"nextrung.v1.SetLogService/RecordSets\"";
    for (code, calls) in [("OK", 20.0), ("INVALID_ARGUMENT", 1.0)] {
        service.until(&format!("nextrung_call_seconds_count{{{method},code=\"{code}\"}}"), calls);
    }
    service.until("nextrung_calls_in_flight", 0.0);
    let lookups =
        |result: &str| service.metric(&format!("nextrung_state_lookups_total{{result=\"{result}\"}}"));
    assert_eq!((lookups("miss"), lookups("hit")), (1.0, 20.0));
    assert_eq!(service.metric("nextrung_fold_sets_count"), 1.0);
    assert_eq!(service.metric("nextrung_store_seconds_count{operation=\"append\"}"), 20.0);
    assert_eq!(service.metric("nextrung_foretold_rank_count"), 20.0);
    let mean = service.metric("nextrung_foretold_rank_mean");
    assert!(mean > 0.5 && mean < 1.0, "every target was reached: {mean}");
    assert_eq!(service.metric("nextrung_ready"), 1.0);
    let version = format!("version=\"{}\"", env!("CARGO_PKG_VERSION"));
    assert!(service.page("/metrics").unwrap().1.contains(&version));
}

#[tokio::test(flavor = "multi_thread")]
async fn labels_stay_few_whatever_callers_make_up() {
    let folder = tempfile::tempdir().unwrap();
    let service = Operated::on(folder.path(), &[], &[]);
    let mut client = tonic::client::Grpc::new(service.channel().await);
    for number in 0..30 {
        client.ready().await.unwrap();
        let path = format!("/nextrung.v1.SetLogService/Wren{number}").parse().unwrap();
        let codec: tonic_prost::ProstCodec<v1::ListRostersRequest, v1::ListRostersResponse> =
            Default::default();
        let request = tonic::Request::new(v1::ListRostersRequest::default());
        let status = client.unary(request, path, codec).await.unwrap_err();
        assert_eq!(status.code(), tonic::Code::Unimplemented);
    }
    let (_, page) = service.page("/metrics").unwrap();
    assert!(!page.contains("Wren"), "{page}");
    let series = "nextrung_call_seconds_count{method=\"other\",code=\"UNIMPLEMENTED\"}";
    service.until(series, 30.0);
}

#[test]
fn probes_tell_ready_from_draining_and_other_pages_are_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Operated::on(folder.path(), &["--drain-notice", "4s"], &[]);
    assert_eq!(service.page("/readyz").unwrap(), (200, "ready\n".to_owned()));
    assert_eq!(service.page("/livez").unwrap(), (200, "alive\n".to_owned()));
    assert_eq!(service.page("/").unwrap().0, 404);
    service.signal("TERM");
    let until = Instant::now() + Duration::from_secs(20);
    while service.page("/readyz").unwrap().0 == 200 && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(10));
    }
    assert_eq!(service.page("/readyz").unwrap(), (503, "not ready: draining\n".to_owned()));
    assert_eq!(service.page("/livez").unwrap().0, 200, "draining is no reason to start anew");
    assert_eq!(service.ended(), 0);
    assert_eq!(service.page("/livez"), None);
}

/// A database whose files are emptied under the service answers no more.
#[tokio::test(flavor = "multi_thread")]
async fn a_failing_store_is_told_by_probe_health_and_metrics() {
    use tonic_health::pb::health_client::HealthClient;
    use tonic_health::pb::{HealthCheckRequest, health_check_response::ServingStatus};
    let folder = tempfile::tempdir().unwrap();
    let service = Operated::on(folder.path(), &[], &[]);
    service.new_athlete().await;
    for end in ["", "-wal"] {
        let path = folder.path().join(format!("hall.db{end}"));
        std::fs::File::options().write(true).open(path).unwrap().set_len(0).unwrap();
    }
    let mut log = SetLogServiceClient::new(service.channel().await);
    let list = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..v1::ListSetsRequest::default() };
    log.list_sets(list).await.unwrap_err();
    log.record_sets(one_set(1)).await.unwrap_err();
    let until = Instant::now() + Duration::from_secs(10);
    while service.page("/readyz").unwrap().0 == 200 && Instant::now() < until {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    assert_eq!(service.page("/readyz").unwrap(), (503, "not ready: store\n".to_owned()));
    assert_eq!(service.metric("nextrung_ready"), 0.0);
    let (_, page) = service.page("/metrics").unwrap();
    assert!(page.contains("nextrung_store_errors_total{operation="), "{page}");
    let mut health = HealthClient::new(service.channel().await);
    let request = HealthCheckRequest { service: "nextrung.readiness".to_owned() };
    let mut told = health.check(request.clone()).await.unwrap().into_inner().status();
    while told == ServingStatus::Serving && Instant::now() < until {
        tokio::time::sleep(Duration::from_millis(50)).await;
        told = health.check(request.clone()).await.unwrap().into_inner().status();
    }
    assert_eq!(told, ServingStatus::NotServing);
}
