//! Access: every method of the contract against every kind of caller, from the contract's own description.

use nextrung_api::v1;
use nextrung_domain::ids::{AthleteId, RosterId};
use nextrung_server::Settings;
use nextrung_server::access::key_text::KeyText;
use nextrung_server::access::rules::{self, Target};
use nextrung_server::access::{Key, Reach, Role};
use nextrung_store::sqlite::{SqliteOptions, SqliteStore};
use nextrung_store::store::Store;
use prost::Message;
use prost_types::field_descriptor_proto::{Label, Type};
use prost_types::{DescriptorProto, FileDescriptorSet, MethodDescriptorProto};
use tempfile::TempDir;
use tonic::client::Grpc;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::{Code, Request, Status};
use tonic_prost::ProstCodec;
use tonic_types::StatusExt;

use crate::service::Service;

/// Noon of the day on which every service stands.
const NOON_MS: i64 = 20_522 * 86_400_000 + 43_200_000;

/// A method as the contract describes it.
struct Method {
    path: String,
    about: MethodDescriptorProto,
    input: DescriptorProto,
}

/// Every message of the contract, and every method.
fn contract() -> (Vec<DescriptorProto>, Vec<Method>) {
    let set = FileDescriptorSet::decode(v1::FILE_DESCRIPTOR_SET).unwrap();
    let files: Vec<_> = set.file.into_iter().filter(|file| file.package() == "nextrung.v1").collect();
    let messages: Vec<DescriptorProto> = files.iter().flat_map(|file| file.message_type.clone()).collect();
    let mut methods = Vec::new();
    for service in files.iter().flat_map(|file| &file.service) {
        for about in &service.method {
            methods.push(Method {
                path: format!("/nextrung.v1.{}/{}", service.name(), about.name()),
                input: message(&messages, about.input_type()).clone(),
                about: about.clone(),
            });
        }
    }
    (messages, methods)
}

fn message<'m>(messages: &'m [DescriptorProto], full_name: &str) -> &'m DescriptorProto {
    let name = full_name.strip_prefix(".nextrung.v1.").unwrap();
    messages.iter().find(|message| message.name() == name).unwrap()
}

/// Whom a message is about, from its fields alone.
fn target(messages: &[DescriptorProto], message: &DescriptorProto) -> Target {
    let is_name = |name: &str| matches!(name, "name" | "names" | "parent");
    let Some(first) = message.field.iter().find(|field| field.number() == 1) else { return Target::Nobody };
    let others = message.field.iter().filter(|field| field.number() != 1);
    assert!(others.clone().all(|field| !is_name(field.name())), "{} is named late", message.name());
    match (first.r#type(), first.label()) {
        (Type::String, Label::Repeated) if is_name(first.name()) => Target::Names,
        (Type::String, _) if is_name(first.name()) => Target::Name,
        (Type::Message, Label::Optional) => {
            let within = self::message(messages, first.type_name());
            let found = target(messages, within);
            if found == Target::Name { Target::NameWithin } else { Target::Nobody }
        }
        _ => Target::Nobody,
    }
}

#[derive(Clone, PartialEq, Message)]
struct WithName {
    #[prost(string, tag = "1")]
    name: String,
}

#[derive(Clone, PartialEq, Message)]
struct Within {
    #[prost(message, optional, tag = "1")]
    within: Option<WithName>,
}

/// How a call ended; an answer of a stream counts as well.
async fn call(service: &Service, method: &Method, name: &str, key: Option<&str>) -> Result<(), Status> {
    let rule = rules::of(&method.path).unwrap();
    let named = WithName { name: name.to_owned() };
    let bytes = match rule.target {
        Target::Nobody => Vec::new(),
        Target::Name | Target::Names => named.encode_to_vec(),
        Target::NameWithin => Within { within: Some(named) }.encode_to_vec(),
    };
    let mut grpc = Grpc::new(service.channel.clone());
    grpc.ready().await.unwrap();
    let mut request = Request::new(Raw(bytes));
    if let Some(key) = key {
        let value: MetadataValue<Ascii> = format!("Bearer {key}").parse().unwrap();
        request.metadata_mut().insert("authorization", value);
    }
    let path = http::uri::PathAndQuery::try_from(method.path.as_str()).unwrap();
    if method.about.server_streaming() {
        let codec = ProstCodec::<Raw, ()>::default();
        let mut stream = grpc.server_streaming(request, path, codec).await?.into_inner();
        stream.message().await.map(drop)
    } else {
        grpc.unary(request, path, ProstCodec::<Raw, ()>::default()).await.map(drop)
    }
}

/// A message that is encoded already.
#[derive(Debug, Clone, PartialEq, Default)]
struct Raw(Vec<u8>);

impl Message for Raw {
    fn encode_raw(&self, buf: &mut impl prost::bytes::BufMut) {
        buf.put_slice(&self.0);
    }

    fn merge_field(
        &mut self,
        _: u32,
        _: prost::encoding::WireType,
        _: &mut impl prost::bytes::Buf,
        _: prost::encoding::DecodeContext,
    ) -> Result<(), prost::DecodeError> {
        Ok(())
    }

    fn encoded_len(&self) -> usize {
        self.0.len()
    }

    fn clear(&mut self) {
        self.0.clear();
    }
}

/// Keys by what is the matter with them.
pub(crate) struct Keys {
    hall: Vec<(Role, String)>,
    pier: Vec<(Role, String)>,
    expired: String,
    revoked: String,
    /// Of an athlete of the hall.
    pub(crate) kite: String,
}

impl Keys {
    /// The key of a role to the hall.
    pub(crate) fn hall(&self, role: Role) -> &str {
        let (_, key) = self.hall.iter().find(|(of, _)| *of == role).unwrap();
        key
    }
}

async fn guarded() -> (Service, Keys) {
    guarded_with(|_| ()).await
}

/// Two rosters with two athletes each, keys to them, and a service that asks for keys.
pub(crate) async fn guarded_with(change: impl FnOnce(&mut Settings)) -> (Service, Keys) {
    let dir = prepared().await;
    let store = SqliteStore::open(dir.path().join("log.sqlite"), SqliteOptions::default()).await.unwrap();
    let keys = Keys {
        hall: made_for("hall", &store).await,
        pier: made_for("pier", &store).await,
        expired: made(&store, Role::Coach, &[("hall", None)], Some(NOON_MS)).await,
        revoked: made(&store, Role::Coach, &[("hall", None)], None).await,
        kite: made(&store, Role::Athlete, &[("hall", Some("kite"))], None).await,
    };
    let revoked = KeyText::parse(&keys.revoked).unwrap();
    store.revoke_key(revoked.id(), NOON_MS - 1).await.unwrap();
    store.close().await.unwrap();
    let asking = |settings: &mut Settings| {
        settings.keys = true;
        change(settings);
    };
    (Service::on(dir, asking).await, keys)
}

async fn prepared() -> TempDir {
    let service = Service::start().await;
    for roster in ["hall", "pier"] {
        let request = v1::CreateRosterRequest {
            roster_id: roster.to_owned(),
            roster: Some(crate::messages::roster(roster)),
            request_id: format!("create-{roster}"),
        };
        service.rosters().create_roster(request).await.unwrap();
        for athlete in ["wren", "kite"] {
            let request = v1::CreateAthleteRequest {
                parent: format!("rosters/{roster}"),
                athlete_id: athlete.to_owned(),
                athlete: Some(crate::messages::athlete()),
                request_id: format!("create-{athlete}"),
            };
            service.athletes().create_athlete(request).await.unwrap();
        }
    }
    service.stop().await
}

pub(crate) async fn made(
    store: &SqliteStore,
    role: Role,
    reaches: &[(&str, Option<&str>)],
    expires_at_ms: Option<i64>,
) -> String {
    let text = KeyText::random().unwrap();
    let reach = |(roster, athlete): &(&str, Option<&str>)| Reach {
        roster: RosterId::new(roster).unwrap(),
        athlete: athlete.map(|athlete| AthleteId::new(athlete).unwrap()),
    };
    let key = Key {
        id: text.id().clone(),
        secret_hash: text.secret_hash(),
        role,
        title: "Test".to_owned(),
        reaches: reaches.iter().map(reach).collect(),
        created_at_ms: NOON_MS - 5,
        expires_at_ms,
        revoked_at_ms: None,
    };
    store.create_key(key).await.unwrap();
    text.reveal()
}

/// A key of every role to one roster, the athlete's to its Wren.
async fn made_for(roster: &str, store: &SqliteStore) -> Vec<(Role, String)> {
    let mut keys = Vec::new();
    for role in Role::ALL {
        let reaches: &[(&str, Option<&str>)] = match role {
            Role::Operator => &[],
            Role::Athlete => &[(roster, Some("wren"))],
            Role::Coach | Role::Analyst => &[(roster, None)],
        };
        keys.push((role, made(store, role, reaches, None).await));
    }
    keys
}

fn reason(status: &Status) -> String {
    status.get_error_details().error_info().map(|info| info.reason.clone()).unwrap_or_default()
}

/// A name in the hall as the method takes it: of an athlete where athletes may call, else of the roster.
fn name(rule: &rules::Rule, whose: &str) -> String {
    if rule.roles.contains(&Role::Athlete) {
        format!("rosters/hall/athletes/{whose}")
    } else {
        "rosters/hall".to_owned()
    }
}

#[test]
fn every_method_has_a_rule_and_every_rule_a_method() {
    let (messages, methods) = contract();
    assert_eq!(methods.len(), rules::RULES.len());
    for method in &methods {
        let rule = rules::of(&method.path);
        let rule = rule
            .unwrap_or_else(|| panic!("{} has no rule: say who may call it in access/rules.rs", method.path));
        // A ladder is nobody's.
        let is_of_ladders = method.path.contains("LadderService");
        let wanted = if is_of_ladders { Target::Nobody } else { target(&messages, &method.input) };
        assert_eq!(rule.target, wanted, "{}", method.path);
        assert!(!method.about.client_streaming(), "{}: streams in are not looked at", method.path);
    }
}

#[tokio::test]
async fn every_method_is_closed_to_those_without_a_right_to_it() {
    let (service, keys) = guarded().await;
    let unknown = KeyText::random().unwrap().reveal();
    let mut half = keys.hall[1].1.clone();
    half.replace_range(half.len() - 1.., if half.ends_with('0') { "1" } else { "0" });
    let strangers: [(Option<&str>, &str); 6] = [
        (None, "KEY_MISSING"),
        (Some("let-me-in"), "KEY_UNKNOWN"),
        (Some(&unknown), "KEY_UNKNOWN"),
        (Some(&half), "KEY_UNKNOWN"),
        (Some(&keys.expired), "KEY_EXPIRED"),
        (Some(&keys.revoked), "KEY_REVOKED"),
    ];
    for method in contract().1 {
        let rule = rules::of(&method.path).unwrap();
        let name = name(rule, "wren");
        for (key, wanted) in strangers {
            let refused = call(&service, &method, &name, key).await.unwrap_err();
            assert_eq!(
                (refused.code(), reason(&refused).as_str()),
                (Code::Unauthenticated, wanted),
                "{}",
                method.path
            );
        }
        for (role, key) in &keys.hall {
            let refused = call(&service, &method, &name, Some(key)).await;
            if rule.roles.contains(role) {
                let closed = refused
                    .is_err_and(|s| matches!(s.code(), Code::PermissionDenied | Code::Unauthenticated));
                assert!(!closed, "{} is closed to {}", method.path, role.word());
            } else {
                let refused = refused.unwrap_err();
                let told = (refused.code(), reason(&refused));
                assert_eq!(
                    told,
                    (Code::PermissionDenied, "ROLE_MISSING".to_owned()),
                    "{} {}",
                    method.path,
                    role.word()
                );
            }
        }
        let mut others: Vec<&(Role, String)> =
            keys.pier.iter().filter(|(role, _)| rule.roles.contains(role)).collect();
        let kite = (Role::Athlete, keys.kite.clone());
        others.extend(rule.roles.contains(&Role::Athlete).then_some(&kite));
        for (role, key) in others {
            if rule.target == Target::Nobody || *role == Role::Operator {
                continue;
            }
            for name in [name.clone(), name.replace("hall", "gone")] {
                let refused = call(&service, &method, &name, Some(key)).await.unwrap_err();
                let told = (refused.code(), reason(&refused));
                assert_eq!(
                    told,
                    (Code::PermissionDenied, "OUT_OF_REACH".to_owned()),
                    "{} {}",
                    method.path,
                    role.word()
                );
            }
        }
    }
    service.stop().await;
}

#[tokio::test]
async fn health_and_the_contract_are_open_and_nothing_else() {
    let (service, keys) = guarded().await;
    let asked = tonic_health::pb::HealthCheckRequest { service: String::new() };
    let mut health = tonic_health::pb::health_client::HealthClient::new(service.channel.clone());
    assert!(health.check(asked).await.is_ok());
    for path in ["/nextrung.v1.RosterService/DropRoster", "/%6Eextrung.v1.RosterService/GetRoster", "/a/b"] {
        for key in [None, Some(&keys.hall[0].1)] {
            let mut grpc = Grpc::new(service.channel.clone());
            grpc.ready().await.unwrap();
            let mut request = Request::new(Raw(Vec::new()));
            if let Some(key) = key {
                let value: MetadataValue<Ascii> = format!("Bearer {key}").parse().unwrap();
                request.metadata_mut().insert("authorization", value);
            }
            let path = http::uri::PathAndQuery::try_from(path).unwrap();
            let refused = grpc.unary(request, path, ProstCodec::<Raw, ()>::default()).await.unwrap_err();
            assert_eq!((refused.code(), reason(&refused).as_str()), (Code::Unimplemented, "METHOD_UNKNOWN"));
        }
    }
    service.stop().await;
}

#[tokio::test]
async fn a_list_of_rosters_shows_those_within_reach() {
    let (service, keys) = guarded().await;
    for (role, key) in &keys.pier {
        let mut request = Request::new(v1::ListRostersRequest::default());
        let value: MetadataValue<Ascii> = format!("Bearer {key}").parse().unwrap();
        request.metadata_mut().insert("authorization", value);
        let found = service.rosters().list_rosters(request).await;
        let wanted: &[&str] = match role {
            Role::Operator => &["rosters/hall", "rosters/pier"],
            Role::Coach | Role::Analyst => &["rosters/pier"],
            Role::Athlete => {
                assert_eq!(found.unwrap_err().code(), Code::PermissionDenied);
                continue;
            }
        };
        let names: Vec<String> =
            found.unwrap().into_inner().rosters.into_iter().map(|roster| roster.name).collect();
        assert_eq!(names, wanted);
    }
    service.stop().await;
}

#[tokio::test]
async fn one_name_out_of_reach_closes_a_list_of_names() {
    let (service, keys) = guarded().await;
    let mine = "rosters/hall/athletes/wren".to_owned();
    for (others, is_open) in [(vec![], true), (vec!["rosters/pier/athletes/wren".to_owned()], false)] {
        let names = [vec![mine.clone()], others].concat();
        let mut request = Request::new(v1::WatchPrescriptionsRequest { names, date: None });
        let value: MetadataValue<Ascii> = format!("Bearer {}", keys.hall[1].1).parse().unwrap();
        request.metadata_mut().insert("authorization", value);
        let told = service.prescriptions().watch_prescriptions(request).await;
        assert_eq!(told.is_ok(), is_open, "{told:?}");
        if let Err(refused) = told {
            assert_eq!(reason(&refused), "OUT_OF_REACH");
        }
    }
    service.stop().await;
}

#[tokio::test]
async fn a_key_revoked_while_the_service_runs_is_refused_from_then_on() {
    let (service, keys) = guarded().await;
    let (_, methods) = contract();
    let get = methods.iter().find(|method| method.path.ends_with("/GetAthlete")).unwrap();
    let (name, key) = ("rosters/hall/athletes/wren", keys.hall[1].1.as_str());
    call(&service, get, name, Some(key)).await.unwrap();
    let id = KeyText::parse(key).unwrap().id().to_string();
    nextrung_server::access::keeper::revoke(&service.database().into(), &id).await.unwrap();
    let refused = call(&service, get, name, Some(key)).await.unwrap_err();
    assert_eq!(reason(&refused), "KEY_REVOKED");
    service.stop().await;
}
