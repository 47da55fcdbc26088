//! JSON: answers of the service in the canonical JSON form of protocol buffers, from the contract's own descriptors.

use nextrung_api::v1;
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage};
use serde_json::Value;

use crate::failure::Failure;

/// A message of the contract that is printed.
pub(crate) trait Printed: Message {
    /// Its full name in the contract.
    const NAME: &'static str;
}

macro_rules! printed {
    ($($kind:ident),+ $(,)?) => {
        $(impl Printed for v1::$kind {
            const NAME: &'static str = concat!("nextrung.v1.", stringify!($kind));
        })+

        #[cfg(test)]
        const PRINTED: &[&str] = &[$(<v1::$kind as Printed>::NAME),+];
    };
}

printed! {
    Athlete,
    CheckLadderResponse,
    EraseAthleteResponse,
    EstimateCapacityResponse,
    EstimateTrendResponse,
    Explanation,
    ExportAthleteResponse,
    GateReview,
    GoalForecast,
    Ladder,
    LimiterReview,
    ListAccessesResponse,
    ListAthletesResponse,
    ListLaddersResponse,
    ListPrescriptionsResponse,
    ListRostersResponse,
    ListSetsResponse,
    LoggedSet,
    Prescription,
    RecordSetsResponse,
    ReplaySummary,
    Roster,
    SupposePrescriptionResponse,
    WatchPrescriptionsResponse,
    WeekPlan,
}

/// A message as canonical JSON.
pub(crate) fn value<M: Printed>(message: &M) -> Result<Value, Failure> {
    let pool = DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET).map_err(|error| Failure::internal(&error))?;
    let kind = pool
        .get_message_by_name(M::NAME)
        .ok_or_else(|| Failure::internal(&format!("the contract has no message {}", M::NAME)))?;
    let bytes = message.encode_to_vec();
    let dynamic =
        DynamicMessage::decode(kind, bytes.as_slice()).map_err(|error| Failure::internal(&error))?;
    serde_json::to_value(dynamic).map_err(|error| Failure::internal(&error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_printed_message_is_in_the_contract() {
        let pool = DescriptorPool::decode(v1::FILE_DESCRIPTOR_SET).unwrap();
        for name in PRINTED {
            assert!(pool.get_message_by_name(name).is_some(), "{name}");
        }
    }

    #[test]
    fn enums_are_names_and_fields_are_camel_case() {
        let set = v1::LoggedSet {
            client_set_id: "a".to_owned(),
            stop: i32::from(v1::Stop::Target),
            planned_target: Some(0),
            done: Some(v1::logged_set::Done::HoldSeconds(12)),
            sequence: 7,
            ..v1::LoggedSet::default()
        };
        let expected = serde_json::json!({
            "clientSetId": "a", "stop": "STOP_TARGET", "plannedTarget": 0, "holdSeconds": 12, "sequence": "7",
        });
        assert_eq!(value(&set).unwrap(), expected);
    }
}
