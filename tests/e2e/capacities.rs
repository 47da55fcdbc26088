//! Capacities: what an athlete is estimated to do.

use nextrung_api::v1;

use crate::messages::{PULL_UP, date, strings};
use crate::prescriptions::trained;
use crate::refusal::{bad_fields, refused};
use crate::service::ATHLETE;

fn request(ladders: &[&str]) -> v1::EstimateCapacityRequest {
    v1::EstimateCapacityRequest {
        name: ATHLETE.to_owned(),
        date: Some(date(2026, 3, 11)),
        ladders: strings(ladders),
    }
}

#[tokio::test]
async fn capacity_is_told_rung_by_rung_with_the_abilities_behind_it() {
    let service = trained().await;
    let answer = service.capacities().estimate_capacity(request(&["ladders/pull"])).await.unwrap();
    let found = answer.into_inner();
    assert_eq!((found.date, found.log_position), (Some(date(2026, 3, 11)), 10));
    assert!(!found.model_version.is_empty());
    let get = v1::GetLadderRequest { name: "ladders/pull".to_owned() };
    let ladder = service.ladders().get_ladder(get).await.unwrap().into_inner().ladder.unwrap();
    let names = |rungs: &[v1::RungCapacity]| rungs.iter().map(|r| r.rung.clone()).collect::<Vec<_>>();
    assert_eq!(names(&found.rungs), ladder.rungs.iter().map(|r| r.name.clone()).collect::<Vec<_>>());
    let pull_up = found.rungs.iter().find(|r| r.rung == PULL_UP).unwrap();
    assert!((4.0..8.0).contains(&pull_up.median_units), "{pull_up:?}");
    let levels: Vec<f64> = pull_up.intervals.iter().map(|i| i.level).collect();
    assert_eq!(levels, [0.5, 0.8, 0.95]);
    let nested = pull_up.intervals.windows(2).all(|w| w[1].low <= w[0].low && w[0].high <= w[1].high);
    assert!(nested, "{pull_up:?}");
    let mut demanded: Vec<String> =
        ladder.rungs.iter().flat_map(|r| r.demands.iter().map(|d| d.ability.clone())).collect();
    demanded.sort();
    demanded.dedup();
    let told: Vec<String> = found.abilities.iter().map(|a| a.ability.clone()).collect();
    assert_eq!(told, demanded, "every ability those rungs demand, in the order of the ids");
    assert!(found.abilities.iter().all(|a| a.level_sd > 0.0 && !a.anchor_rung.is_empty()));
}

#[tokio::test]
async fn without_ladders_every_rung_is_told() {
    let service = trained().await;
    let found = service.capacities().estimate_capacity(request(&[])).await.unwrap().into_inner();
    let list = v1::ListLaddersRequest { page_size: 1000, ..Default::default() };
    let ladders = service.ladders().list_ladders(list).await.unwrap().into_inner().ladders;
    assert_eq!(found.rungs.len(), ladders.iter().map(|l| l.rungs.len()).sum::<usize>());
    assert_eq!(found.abilities.len(), 12);
}

#[tokio::test]
async fn every_bad_field_of_a_request_is_named() {
    let service = trained().await;
    let spoilt = v1::EstimateCapacityRequest {
        name: "wren".to_owned(),
        date: None,
        ..request(&["pull", "ladders/pulll", "ladders/pull", "ladders/pull"])
    };
    let refusal = refused(service.capacities().estimate_capacity(spoilt).await);
    assert_eq!(refusal.fields(), ["name", "date", "ladders[0]", "ladders[1]", "ladders[3]"]);
    assert!(refusal.about("ladders[1]").contains("did you mean `pull`?"), "{refusal:?}");
    for day in [date(1990, 6, 14), date(2027, 3, 12)] {
        let spoilt = v1::EstimateCapacityRequest { date: Some(day), ..request(&[]) };
        assert_eq!(bad_fields(service.capacities().estimate_capacity(spoilt).await), ["date"]);
    }
}
