//! Scene: everything behind a door, and JSON before it, without a network.

use std::sync::Arc;

use http::{HeaderMap, Method, Request, StatusCode};
use http_body_util::{BodyExt, Full};
use nextrung_domain::date::CivilDate;
use nextrung_store::log::Place;
use prost::Message;
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tonic::body::Body;

use crate::access::Access;
use crate::access::keeper::{NewKey, make};
use crate::access::register::Register;
use crate::door::Door;
use crate::front::Front;
use crate::front::origin::Origins;
use crate::json::Json;
use crate::json::frames::Frames;
use crate::listen::peers::Peer;
use crate::meter::Meter;
use crate::readiness::Readiness;
use crate::server::{engine, routes};
use crate::service::Api;
use crate::settings::Settings;
use crate::side_port::Desk;
use crate::witness::Witness;

/// The athlete that [`Scene::trained`] makes.
pub(super) const ATHLETE: &str = "rosters/hall/athletes/wren";

/// A service without a port.
pub(super) struct Scene {
    door: Door,
    json: Json,
    pub(super) peer: Peer,
    place: Place,
    _dir: TempDir,
}

/// What came of a request.
#[derive(Debug)]
pub(super) struct Answer {
    pub(super) status: StatusCode,
    pub(super) headers: HeaderMap,
    pub(super) text: String,
}

impl Answer {
    /// Its one document.
    pub(super) fn document(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    /// The reason of its error.
    pub(super) fn reason(&self) -> String {
        let detail = self.detail("ErrorInfo");
        assert_eq!(detail["domain"], "nextrung");
        detail["reason"].as_str().unwrap().to_owned()
    }

    /// The names of its bad fields.
    pub(super) fn fields(&self) -> Vec<String> {
        let violations = self.detail("BadRequest")["fieldViolations"].as_array().unwrap().clone();
        violations.iter().map(|bad| bad["field"].as_str().unwrap().to_owned()).collect()
    }

    fn detail(&self, kind: &str) -> Value {
        let kind = format!("type.googleapis.com/google.rpc.{kind}");
        let error = &self.document()["error"];
        assert_eq!(error["code"], json!(self.status.as_u16()), "{error}");
        let details = error["details"].as_array().unwrap();
        details.iter().find(|detail| detail["@type"] == *kind).unwrap_or_else(|| panic!("{error}")).clone()
    }
}

impl Scene {
    pub(super) async fn start() -> Self {
        Self::with(|_| ()).await
    }

    /// One with other settings than the usual ones.
    pub(super) async fn with(change: impl FnOnce(&mut Settings)) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let place = Place::File(dir.path().join("log.sqlite"));
        let mut settings = Settings::new(([127, 0, 0, 1], 0).into(), place.clone());
        settings.today = CivilDate::from_parts(2026, 3, 10).ok();
        change(&mut settings);
        let (limits, keys) = (settings.limits, settings.keys);
        let desk = Desk { meter: Arc::new(Meter::new()), readiness: Arc::new(Readiness::starting()) };
        let engine = Arc::new(engine(settings, &desk).await.unwrap());
        let (watchers, replays) =
            (Arc::new(Semaphore::new(limits.watchers)), Arc::new(Semaphore::new(limits.replays)));
        let api =
            Api { engine, tasks: TaskTracker::new(), watchers, replays, stop: CancellationToken::new() };
        let (_, routes) = routes(&api, limits.message_bytes).unwrap();
        let access = keys.then(|| Access::new(&api.engine, &limits));
        let register = Register::begin(api.engine.shared_store(), api.engine.shared_clock());
        let door = Door::new(routes, access, (limits, Witness::new(desk.meter, register)));
        Self { json: Json::new(door.clone()), door, peer: Peer::alone(), place, _dir: dir }
    }

    /// Asks with a verb and a path, with JSON or without a body.
    pub(super) async fn ask(&self, call: (Method, &str), key: Option<&str>, body: Option<Value>) -> Answer {
        let mut request = Request::builder().method(call.0).uri(call.1);
        if let Some(key) = key {
            request = request.header("authorization", format!("Bearer {key}"));
        }
        if body.is_some() {
            request = request.header("content-type", "application/json");
        }
        let body = body.map_or_else(Body::empty, |body| Body::new(Full::from(body.to_string())));
        self.send(request.body(body).unwrap()).await
    }

    pub(super) async fn get(&self, path: &str) -> Answer {
        self.ask((Method::GET, path), None, None).await
    }

    pub(super) async fn post(&self, path: &str, body: Value) -> Answer {
        self.ask((Method::POST, path), None, Some(body)).await
    }

    /// The answer to a request, read to its end.
    pub(super) async fn send(&self, request: Request<Body>) -> Answer {
        let (head, body) = self.begin(request).await.into_parts();
        let bytes = body.collect().await.unwrap().to_bytes();
        Answer {
            status: head.status,
            headers: head.headers,
            text: String::from_utf8(bytes.to_vec()).unwrap(),
        }
    }

    /// The answer to a request, of which nothing is read yet.
    pub(super) async fn begin(&self, request: Request<Body>) -> http::Response<Body> {
        assert!(Json::takes(&request));
        self.json.answer(request, &self.peer).await
    }

    /// What stands before the door for pages of an origin.
    pub(super) fn front(&self, origin: &str) -> Front {
        Front::new(self.door.clone(), Origins::read(origin).unwrap(), true)
    }

    /// The one message of an answer over gRPC.
    pub(super) async fn grpc<A: Message + Default>(&self, path: &str, message: &impl Message) -> A {
        let message = message.encode_to_vec();
        let length = u32::try_from(message.len()).unwrap().to_be_bytes();
        let frame = [&[0], length.as_slice(), &message].concat();
        let request = Request::post(path).header("content-type", "application/grpc").header("te", "trailers");
        let request = request.body(Body::new(Full::from(frame))).unwrap();
        let Ok(answer) = self.door.answer(request, &self.peer).await;
        A::decode(Frames::of(answer.into_body()).next().await.unwrap().unwrap()).unwrap()
    }

    /// A key of a role to the hall; an operator's is to nobody.
    pub(super) async fn key(&self, role: &str) -> String {
        let key = NewKey {
            role: role.to_owned(),
            title: "Test".to_owned(),
            rosters: if role == "operator" { vec![] } else { vec!["hall".to_owned()] },
            athlete: None,
            expires_at_ms: None,
        };
        make(&self.place, key).await.unwrap().0.reveal()
    }

    /// A roster with an athlete, an invented adult, whose sets of a day are recorded.
    pub(super) async fn trained(&self) {
        let made = self.post("/v1/rosters?rosterId=hall&requestId=r-1", json!({"title": "Hall"})).await;
        assert_eq!(made.status, StatusCode::OK, "{made:?}");
        let athlete = json!({
            "displayName": "Wren",
            "birthDate": {"year": 1990, "month": 6, "day": 15},
            "bodyMassKg": 70,
            "equipment": ["bar", "box", "rings", "wall"],
        });
        let made = self.post("/v1/rosters/hall/athletes?athleteId=wren&requestId=r-2", athlete).await;
        assert_eq!(made.status, StatusCode::OK, "{made:?}");
        let sets: Vec<Value> = (1..=3).map(pull_up).collect();
        let made =
            self.post(&format!("/v1/{ATHLETE}/sets:record"), json!({"sets": sets, "requestId": "r-3"})).await;
        assert_eq!(made.status, StatusCode::OK, "{made:?}");
    }
}

/// A working set of pull-ups that strength ended after five.
pub(super) fn pull_up(number: i32) -> Value {
    json!({
        "clientSetId": format!("wren:2026-03-02:{number}"),
        "trainingDate": {"year": 2026, "month": 3, "day": 2},
        "setNumber": number,
        "rung": "ladders/pull/rungs/pull-up",
        "purpose": "PURPOSE_WORKING",
        "reps": 5,
        "stop": "STOP_STRENGTH",
    })
}
