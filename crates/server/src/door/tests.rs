//! Tests of the door, before a service that answers when it is told to.

use std::task::{Context, Poll};

use http_body_util::Full;
use nextrung_domain::ids::RosterId;
use nextrung_store::log::Place;
use nextrung_store::record::NewRoster;
use nextrung_store::store::Store;
use tempfile::TempDir;
use tonic::server::NamedService;
use tonic_types::StatusExt;

use super::*;
use crate::access::keeper::{NewKey, make};
use crate::access::register::Register;
use crate::access::room::LONG;
use crate::meter::Meter;
use crate::readiness::Readiness;
use crate::server::engine;
use crate::settings::Settings;
use crate::side_port::Desk;

/// Answers a call for each permit that it is given.
#[derive(Clone)]
struct Slow {
    begun: Arc<Semaphore>,
    may_end: Arc<Semaphore>,
}

impl NamedService for Slow {
    const NAME: &'static str = "nextrung.v1.SetLogService";
}

impl Service<Request<Body>> for Slow {
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = std::pin::Pin<Box<dyn Future<Output = Result<Response<Body>, Infallible>> + Send>>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, _: Request<Body>) -> Self::Future {
        let Self { begun, may_end } = self.clone();
        Box::pin(async move {
            begun.add_permits(1);
            may_end.acquire().await.unwrap().forget();
            Ok(Response::new(Body::empty()))
        })
    }
}

/// A door before a [`Slow`] service, with room for one long message, of a key too where keys are asked for.
struct Scene {
    door: Door,
    slow: Slow,
    key: Option<String>,
    _dir: TempDir,
}

impl Scene {
    async fn start(with_keys: bool) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let place = Place::File(dir.path().join("log.sqlite"));
        let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), place.clone());
        settings.limits.key.long_messages = 1;
        settings.limits.long_messages = if with_keys { 2 } else { 1 };
        let limits = settings.limits;
        let desk = Desk { meter: Arc::new(Meter::new()), readiness: Arc::new(Readiness::starting()) };
        let engine = engine(settings, &desk).await.unwrap();
        let store = engine.shared_store();
        let hall = RosterId::new("hall").unwrap();
        store
            .create_roster(
                NewRoster { id: hall, title: "Hall".to_owned(), bands: None, created_at_ms: 0 },
                None,
            )
            .await
            .unwrap();
        let coach = NewKey {
            role: "coach".to_owned(),
            title: "Test".to_owned(),
            rosters: vec!["hall".to_owned()],
            athlete: None,
            expires_at_ms: None,
        };
        let key = if with_keys { Some(make(&place, coach).await.unwrap().0.reveal()) } else { None };
        let slow = Slow { begun: Arc::new(Semaphore::new(0)), may_end: Arc::new(Semaphore::new(0)) };
        let access = with_keys.then(|| Access::new(&engine, &limits));
        let register = Register::begin(store, engine.shared_clock());
        let witness = Witness::new(desk.meter, register);
        let door = Door::new(Routes::new(slow.clone()), access, (limits, witness));
        Self { door, slow, key, _dir: dir }
    }

    /// Records with a message of so many bytes; the reason of a refusal.
    async fn record(&self, bytes: usize) -> Option<String> {
        // A field that nobody knows, field 15 of bytes, behind the name of an athlete.
        let name = b"rosters/hall/athletes/wren";
        let mut message = vec![0x0a, u8::try_from(name.len()).unwrap()];
        message.extend_from_slice(name);
        message.push(0x7a);
        prost::encoding::encode_varint(u64::try_from(bytes).unwrap(), &mut message);
        message.resize(message.len() + bytes, b'x');
        let length = u32::try_from(message.len()).unwrap().to_be_bytes();
        let frame = [&[0], length.as_slice(), &message].concat();
        let mut request = Request::post("/nextrung.v1.SetLogService/RecordSets")
            .header("content-type", "application/grpc")
            .header("te", "trailers");
        if let Some(key) = &self.key {
            request = request.header("authorization", format!("Bearer {key}"));
        }
        let request = request.body(Body::new(Full::from(frame))).unwrap();
        let Ok(answer) = self.door.answer(request, &Peer::alone()).await;
        let status = Status::from_header_map(answer.headers())?;
        Some(status.get_details_error_info().unwrap().reason)
    }

    /// Has a long message answered, and asks with others while it is not yet.
    async fn room_is_held_until_the_answer(&self, refusal: &str) {
        let long = self.record(LONG);
        let others = async {
            self.slow.begun.acquire().await.unwrap().forget();
            assert_eq!(self.record(LONG).await.as_deref(), Some(refusal));
            self.slow.may_end.add_permits(2);
            assert_eq!(self.record(10).await, None, "a short message needs no room");
        };
        let both = async { tokio::join!(long, others).0 };
        let refused = tokio::time::timeout(Duration::from_secs(10), both).await;
        assert_eq!(refused.expect("an answer to all"), None);
        self.slow.may_end.add_permits(1);
        assert_eq!(self.record(LONG).await, None, "the room is free again");
    }
}

#[tokio::test]
async fn a_long_message_of_a_key_takes_its_room_until_it_is_answered() {
    Scene::start(true).await.room_is_held_until_the_answer("KEY_TOO_BUSY").await;
}

#[tokio::test]
async fn a_long_message_without_a_key_takes_its_room_until_it_is_answered() {
    Scene::start(false).await.room_is_held_until_the_answer("TOO_BUSY").await;
}

#[test]
fn deadlines_are_read_in_every_unit() {
    let read = |text: &str| {
        let mut headers = HeaderMap::new();
        headers.insert("grpc-timeout", HeaderValue::from_str(text).unwrap());
        client_deadline(&headers)
    };
    assert_eq!(read("250m"), Some(Duration::from_millis(250)));
    assert_eq!(read("2S"), Some(Duration::from_secs(2)));
    assert_eq!(read("3M"), Some(Duration::from_secs(180)));
    assert_eq!(read("1H"), Some(Duration::from_secs(3600)));
    assert_eq!(read("7u"), Some(Duration::from_micros(7)));
    assert_eq!(read("99999999n"), Some(Duration::from_nanos(99_999_999)));
    for bad in ["", "S", "5", "123456789m", "-1S", "+1S", "1x"] {
        assert_eq!(read(bad), None, "{bad}");
    }
}
