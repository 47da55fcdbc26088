//! Proto: bytes of a request, made values of the domain as the service makes them.

use nextrung_api::v1;
use nextrung_server::convert::words;
use prost::Message;

use crate::allowance::Allowance;
use crate::world::WORLD;
use crate::{contract, door, ladder};
use part::{Page, Within};

mod athlete;
mod part;
mod replay;
mod roster;
mod set;

/// An empty message in a list takes two bytes and has a problem for each field that it must have.
const ALLOWANCE: Allowance = Allowance { held: (1 << 20, 4096), taken: (32 << 20, 16384) };

/// A request and the reading of it. New ones go to the end, so that the corpus keeps its meaning.
pub(crate) struct Request {
    /// Its message.
    pub(crate) name: &'static str,
    judge: fn(&Within, &[u8]),
}

/// Reads a message and hands it on. What it is written as reads as the same again.
fn read<M: Message + Default>(bytes: &[u8], judge: impl FnOnce(M)) {
    let Ok(message) = M::decode(bytes) else { return };
    let written = message.encode_to_vec();
    let again = M::decode(written.as_slice()).map(|again| again.encode_to_vec());
    assert_eq!(again.as_ref(), Ok(&written));
    judge(message);
}

/// The requests, by number.
pub(crate) const REQUESTS: [Request; 31] = [
    Request { name: "CreateAthleteRequest", judge: athlete::create },
    Request { name: "GetAthleteRequest", judge: get_athlete },
    Request { name: "ListAthletesRequest", judge: list_athletes },
    Request { name: "UpdateAthleteRequest", judge: athlete::update },
    Request { name: "EstimateCapacityRequest", judge: estimate_capacity },
    Request { name: "EstimateTrendRequest", judge: estimate_trend },
    Request { name: "EstimateForecastRequest", judge: estimate_forecast },
    Request { name: "ListLaddersRequest", judge: list_ladders },
    Request { name: "GetLadderRequest", judge: get_ladder },
    Request { name: "CheckLadderRequest", judge: check_ladder },
    Request { name: "PrescribeRequest", judge: prescribe },
    Request { name: "GetPrescriptionRequest", judge: get_prescription },
    Request { name: "ListPrescriptionsRequest", judge: list_prescriptions },
    Request { name: "ExplainPrescriptionRequest", judge: explain_prescription },
    Request { name: "SupposePrescriptionRequest", judge: set::suppose },
    Request { name: "PlanWeekRequest", judge: plan_week },
    Request { name: "WatchPrescriptionsRequest", judge: watch_prescriptions },
    Request { name: "ReplayRosterRequest", judge: replay::judge },
    Request { name: "ReviewLimitersRequest", judge: review_limiters },
    Request { name: "ReviewGatesRequest", judge: review_gates },
    Request { name: "CreateRosterRequest", judge: roster::create },
    Request { name: "GetRosterRequest", judge: get_roster },
    Request { name: "ListRostersRequest", judge: list_rosters },
    Request { name: "UpdateRosterRequest", judge: roster::update },
    Request { name: "RecordSetsRequest", judge: set::record },
    Request { name: "ListSetsRequest", judge: list_sets },
    Request { name: "CorrectSetRequest", judge: set::correct },
    Request { name: "WithdrawSetRequest", judge: set::withdraw },
    Request { name: "EraseAthleteRequest", judge: athlete::erase },
    Request { name: "ExportAthleteRequest", judge: export_athlete },
    Request { name: "ListAccessesRequest", judge: list_accesses },
];

/// Judges any bytes: the first is the number of a request, the rest its message.
pub(crate) fn judge(bytes: &[u8]) {
    let Some((number, message)) = bytes.split_first() else { return };
    let Some(request) = REQUESTS.get(usize::from(*number)) else { return };
    contract::load();
    door::judge(request.name, message);
    let within = Within::new(request.name, &WORLD);
    ALLOWANCE.watch(bytes.len(), || (request.judge)(&within, message));
}

fn get_athlete(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::GetAthleteRequest { name }| within.athlete("name", &name));
}

fn list_athletes(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ListAthletesRequest { parent, page_size, page_token }| {
        within.roster("parent", &parent);
        within.page(&Page { size: page_size, token: &page_token });
    });
}

fn estimate_capacity(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::EstimateCapacityRequest { name, date, ladders }| {
        within.athlete("name", &name);
        within.date("date", date);
        ladders.iter().enumerate().for_each(|(at, name)| within.ladder(&format!("ladders[{at}]"), name));
    });
}

fn estimate_trend(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::EstimateTrendRequest { name, end_date, start_date, rungs }| {
        within.athlete("name", &name);
        within.date("end_date", end_date);
        within.optional_date("start_date", start_date);
        rungs.iter().for_each(|rung| within.rung(rung));
    });
}

fn estimate_forecast(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::EstimateForecastRequest { name, date, rung, weeks: _ }| {
        within.athlete("name", &name);
        within.date("date", date);
        within.rung(&rung);
    });
}

fn list_ladders(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ListLaddersRequest { page_size, page_token }| {
        within.page(&Page { size: page_size, token: &page_token });
    });
}

fn get_ladder(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::GetLadderRequest { name }| within.ladder("name", &name));
}

fn check_ladder(_: &Within, bytes: &[u8]) {
    read(bytes, |v1::CheckLadderRequest { file_name: _, content }| ladder::judge_text(&content));
}

fn prescribe(within: &Within, bytes: &[u8]) {
    read(bytes, |mut message: v1::PrescribeRequest| {
        within.request("Prescribe", std::mem::take(&mut message.request_id), &message);
        let v1::PrescribeRequest { parent, date, request_id: _, validate_only: _ } = message;
        within.athlete("parent", &parent);
        within.date("date", date);
    });
}

fn get_prescription(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::GetPrescriptionRequest { name }| within.prescription("name", &name));
}

fn list_prescriptions(within: &Within, bytes: &[u8]) {
    read(bytes, |message| {
        let v1::ListPrescriptionsRequest { parent, page_size, page_token, start_date, end_date } = message;
        within.athlete("parent", &parent);
        within.page(&Page { size: page_size, token: &page_token });
        within.days(start_date, end_date);
    });
}

fn explain_prescription(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ExplainPrescriptionRequest { name }| within.prescription("name", &name));
}

fn plan_week(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::PlanWeekRequest { parent, start_date, from_date }| {
        within.athlete("parent", &parent);
        within.date("start_date", start_date);
        within.optional_date("from_date", from_date);
    });
}

fn watch_prescriptions(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::WatchPrescriptionsRequest { names, date }| {
        within.optional_date("date", date);
        names.iter().enumerate().for_each(|(at, name)| within.athlete(&format!("names[{at}]"), name));
    });
}

fn review_limiters(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ReviewLimitersRequest { name, end_date, start_date, rung }| {
        within.athlete("name", &name);
        within.date("end_date", end_date);
        within.optional_date("start_date", start_date);
        within.rung(&rung);
    });
}

fn review_gates(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ReviewGatesRequest { name, date, rung }| {
        within.athlete("name", &name);
        within.date("date", date);
        within.rung(&rung);
    });
}

fn export_athlete(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ExportAthleteRequest { name }| within.athlete("name", &name));
}

/// About a roster or one of its athletes.
fn list_accesses(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ListAccessesRequest { parent, page_size, page_token }| {
        if parent.contains("/athletes/") {
            within.athlete("parent", &parent);
        } else {
            within.roster("parent", &parent);
        }
        within.page(&Page { size: page_size, token: &page_token });
    });
}

fn get_roster(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::GetRosterRequest { name }| within.roster("name", &name));
}

fn list_rosters(within: &Within, bytes: &[u8]) {
    read(bytes, |v1::ListRostersRequest { page_size, page_token }| {
        within.page(&Page { size: page_size, token: &page_token });
    });
}

fn list_sets(within: &Within, bytes: &[u8]) {
    read(bytes, |message| {
        let v1::ListSetsRequest { parent, page_size, page_token, start_date, end_date, include_withdrawn: _ } =
            message;
        within.athlete("parent", &parent);
        within.page(&Page { size: page_size, token: &page_token });
        let days = within.days(start_date, end_date);
        let (from, to) = days.map_or((None, None), |days| (days.from, days.to));
        assert!(from.zip(to).is_none_or(|(from, to)| from <= to));
        assert!(from.is_none_or(|from| Some(words::of_date(from)) == start_date));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_request_of_the_contract_is_judged() {
        let told: Vec<String> = contract::requests().iter().map(|one| one.name().to_owned()).collect();
        let mut judged: Vec<&str> = REQUESTS.iter().map(|request| request.name).collect();
        let mut told: Vec<&str> = told.iter().map(String::as_str).collect();
        told.sort_unstable();
        judged.sort_unstable();
        assert_eq!(judged, told);
    }
}
