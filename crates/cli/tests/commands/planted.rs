//! Planted: an athlete every free text of whom is an unusual word of its own, so that it can be looked for anywhere.

use std::collections::BTreeSet;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::logged_set::Done;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use prost_reflect::{DescriptorPool, Kind, MessageDescriptor};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;

use crate::program::run;

/// The athlete with the words.
pub(crate) const ID: &str = "zorvexid";
/// Athletes whose rows stand before and behind those with the words.
pub(crate) const OTHERS: [&str; 2] = ["anders", "zzz"];

/// Where each free text of the contract gets its word. The birth date is looked for as well.
const PLANTED: [(&str, &str); 14] = [
    ("CreateAthleteRequest.athlete_id", ID),
    ("CreateAthleteRequest.request_id", "rikone"),
    ("RecordSetsRequest.request_id", "riktwo"),
    ("CorrectSetRequest.request_id", "rikthree"),
    ("WithdrawSetRequest.request_id", "rikfour"),
    ("PrescribeRequest.request_id", "rikfive"),
    ("UpdateAthleteRequest.request_id", "riksix"),
    ("Athlete.display_name", "quillbar"),
    ("BannedRung.reason", "mossgrint"),
    ("PinnedRung.reason", "pinnvald"),
    ("CappedRung.reason", "kappgrum"),
    ("Confirmation.confirmed_by", "dokktrin"),
    ("LoggedSet.client_set_id", "snurfle"),
    ("LoggedSet.note", "wexnote"),
];
/// Texts of corrections and withdrawals, which have one name in two messages, of an athlete's key, and of what came later.
const MORE: [&str; 5] = ["korregg", "widdrast", "kelltitel", "renamble", "1987-07-23"];

/// Texts of requests about athletes that hold names, words of the ladders or marks of a page, and no text of anybody's.
const BOUND: [&str; 16] = [
    "CreateAthleteRequest.parent",
    "RecordSetsRequest.parent",
    "CorrectSetRequest.name",
    "WithdrawSetRequest.name",
    "PrescribeRequest.parent",
    "Athlete.name",
    "Athlete.equipment",
    "Goal.rung",
    "BannedRung.rung",
    "PinnedRung.rung",
    "CappedRung.rung",
    "LoggedSet.name",
    "LoggedSet.rung",
    "LoggedSet.shadings",
    "LoggedSet.tempo",
    "LoggedSet.change_reason",
];

/// Every word.
pub(crate) fn words() -> Vec<&'static str> {
    PLANTED.iter().map(|(_, word)| *word).chain(MORE).collect()
}

fn texts(kind: &MessageDescriptor, found: &mut BTreeSet<String>) {
    for field in kind.fields() {
        let kind_of_field = field.kind();
        if kind_of_field == Kind::String {
            found.insert(format!("{}.{}", kind.name(), field.name()));
        } else if let Kind::Message(inner) = kind_of_field
            && inner.package_name() == "nextrung.v1"
        {
            texts(&inner, found);
        }
    }
}

/// Fails when a request that writes about an athlete has a text that is neither planted nor known to say nothing of anybody.
pub(crate) fn nothing_is_left_out() {
    let pool = DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET).unwrap();
    let mut found = BTreeSet::new();
    for name in ["CreateAthlete", "UpdateAthlete", "RecordSets", "CorrectSet", "WithdrawSet", "Prescribe"] {
        texts(&pool.get_message_by_name(&format!("nextrung.v1.{name}Request")).unwrap(), &mut found);
    }
    let known = PLANTED.iter().map(|(field, _)| *field).chain(BOUND);
    let reasons = ["CorrectSetRequest.reason", "WithdrawSetRequest.reason"];
    let known: BTreeSet<&str> = known.chain(reasons).collect();
    let new: Vec<&String> = found.iter().filter(|field| !known.contains(field.as_str())).collect();
    assert!(new.is_empty(), "plant a word into {new:?}, or say in BOUND that it holds none");
}

/// Shows a key with every call, where there is one.
#[derive(Clone)]
pub(crate) struct Shown(pub(crate) Option<String>);

impl Interceptor for Shown {
    fn call(&mut self, mut request: tonic::Request<()>) -> Result<tonic::Request<()>, tonic::Status> {
        if let Some(key) = &self.0 {
            request.metadata_mut().insert("authorization", format!("Bearer {key}").parse().unwrap());
        }
        Ok(request)
    }
}

pub(crate) type Way = InterceptedService<Channel, Shown>;

/// The full name of an athlete.
pub(crate) fn name(id: &str) -> String {
    format!("rosters/hall/athletes/{id}")
}

fn profile() -> v1::Athlete {
    let rung = |rung: &str| format!("ladders/pull/rungs/{rung}");
    let reason = |word: &str| format!("{word} elbow");
    let cleared = v1::Confirmation {
        clearance: v1::Clearance::InvertedWork.into(),
        confirmed_date: Some(v1::Date { year: 2026, month: 10, day: 1 }),
        confirmed_by: "dokktrin".to_owned(),
    };
    v1::Athlete {
        display_name: "quillbar".to_owned(),
        birth_date: Some(v1::Date { year: 1987, month: 7, day: 23 }),
        body_mass_kg: Some(61.847),
        equipment: vec!["bar".to_owned(), "band".to_owned()],
        goals: vec![v1::Goal { rung: rung("one-arm-pull-up"), by_date: None }],
        limits: Some(v1::AthleteLimits {
            banned_rungs: vec![v1::BannedRung {
                rung: rung("one-foot-supported"),
                reason: reason("mossgrint"),
            }],
            pinned_rungs: vec![v1::PinnedRung { rung: rung("pull-up"), reason: reason("pinnvald") }],
            capped_rungs: vec![v1::CappedRung { rung: rung("archer"), reason: reason("kappgrum") }],
            ..v1::AthleteLimits::default()
        }),
        clearances: vec![cleared],
        ..v1::Athlete::default()
    }
}

/// A set, of the one with the words or of somebody else.
fn set(number: i32, is_planted: bool) -> v1::LoggedSet {
    let (id, note) = if is_planted { ("snurfle", "wexnote in the shoulder") } else { ("s", "easy") };
    v1::LoggedSet {
        client_set_id: format!("{id}-{number}"),
        training_date: Some(v1::Date { year: 2026, month: 1 + number / 140, day: 1 + number / 5 % 28 }),
        session: 1,
        set_number: 1 + number % 5,
        rung: "ladders/pull/rungs/pull-up".to_owned(),
        purpose: v1::Purpose::Working.into(),
        done: Some(Done::Reps(4 + number % 3)),
        planned_target: Some(9),
        stop: v1::Stop::Strength.into(),
        body_mass_kg: Some(61.8),
        note: note.to_owned(),
        ..v1::LoggedSet::default()
    }
}

/// The roster, which belongs to nobody.
pub(crate) async fn hall(way: &Way) {
    let request = v1::CreateRosterRequest {
        roster_id: "hall".to_owned(),
        roster: Some(v1::Roster { title: "The hall".to_owned(), ..v1::Roster::default() }),
        request_id: "hall".to_owned(),
    };
    RosterServiceClient::new(way.clone()).create_roster(request).await.unwrap();
}

/// The athletes and their sets, written by turns, so that rows of all of them share pages of the database and are moved about.
pub(crate) async fn live(way: &Way) {
    for id in [OTHERS[0], ID, OTHERS[1]] {
        let (athlete, request_id) = if id == ID {
            (profile(), "rikone".to_owned())
        } else {
            (v1::Athlete { display_name: id.to_owned(), ..v1::Athlete::default() }, format!("add-{id}"))
        };
        let request = v1::CreateAthleteRequest {
            parent: "rosters/hall".to_owned(),
            athlete_id: id.to_owned(),
            athlete: Some(athlete),
            request_id,
        };
        AthleteServiceClient::new(way.clone()).create_athlete(request).await.unwrap();
    }
    let mut log = SetLogServiceClient::new(way.clone());
    for first in (0..300).step_by(10) {
        for id in [OTHERS[1], ID, OTHERS[0]] {
            let request = v1::RecordSetsRequest {
                parent: name(id),
                sets: (first..first + 10).map(|number| set(number, id == ID)).collect(),
                request_id: format!("{}-{first}", if id == ID { "riktwo" } else { id }),
                validate_only: false,
            };
            log.record_sets(request).await.unwrap();
        }
        prescribe(way, ID, &format!("rikfive-{first}")).await;
    }
    amend(way).await;
}

async fn amend(way: &Way) {
    let mut log = SetLogServiceClient::new(way.clone());
    let request = v1::CorrectSetRequest {
        name: format!("{}/sets/snurfle-7", name(ID)),
        replacement: Some(v1::LoggedSet { client_set_id: String::new(), pain: Some(5), ..set(7, true) }),
        reason: "korregg".to_owned(),
        request_id: "rikthree".to_owned(),
    };
    log.correct_set(request).await.unwrap();
    let request = v1::WithdrawSetRequest {
        name: format!("{}/sets/snurfle-8", name(ID)),
        reason: "widdrast".to_owned(),
        request_id: "rikfour".to_owned(),
    };
    log.withdraw_set(request).await.unwrap();
    let renamed =
        v1::Athlete { name: name(ID), display_name: "renamble".to_owned(), ..v1::Athlete::default() };
    let request = v1::UpdateAthleteRequest {
        athlete: Some(renamed),
        update_mask: Some(prost_types::FieldMask { paths: vec!["display_name".to_owned()] }),
        request_id: "riksix".to_owned(),
    };
    AthleteServiceClient::new(way.clone()).update_athlete(request).await.unwrap();
}

/// A prescription that is kept, explained.
pub(crate) async fn prescribe(way: &Way, id: &str, request_id: &str) -> v1::Explanation {
    let mut prescriptions = PrescriptionServiceClient::new(way.clone());
    let request = v1::PrescribeRequest {
        parent: name(id),
        date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
        request_id: request_id.to_owned(),
        validate_only: false,
    };
    let made = prescriptions.prescribe(request).await.unwrap().into_inner().prescription.unwrap();
    let request = v1::ExplainPrescriptionRequest { name: made.name };
    prescriptions.explain_prescription(request).await.unwrap().into_inner().explanation.unwrap()
}

/// A key made on a database, as the program makes it; a service on it takes it at once.
pub(crate) fn key(database: &str, flags: &[&str]) -> String {
    let made = run(&[&["key", "make"], flags, &["--database", database, "--json"]].concat());
    made.json()["secret"].as_str().unwrap().to_owned()
}
