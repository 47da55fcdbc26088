//! Requests for a replay, tested.

use super::*;
use crate::ladders::embedded;

fn message() -> v1::ReplayRosterRequest {
    v1::ReplayRosterRequest { name: "rosters/hall".to_owned(), ..v1::ReplayRosterRequest::default() }
}

fn asked(message: v1::ReplayRosterRequest) -> Read<Asked> {
    read(message, &embedded().unwrap(), &Policy::default())
}

fn advised(variant: v1::PolicyVariant) -> Read<Asked> {
    asked(v1::ReplayRosterRequest { with_advice: true, policy_variants: vec![variant], ..message() })
}

fn fields(read: Read<Asked>) -> Vec<String> {
    read.unwrap_err().into_iter().map(|problem| problem.field).collect()
}

#[test]
fn what_is_not_said_is_everything_with_the_usual_seed() {
    let found = asked(message()).unwrap();
    assert_eq!(found.selection, Selection::default());
    assert!(found.athletes.is_empty() && found.variants.is_empty() && !found.with_advice && !found.with_rows);
    assert_eq!((found.seed, found.roster.as_str()), (USUAL_SEED, "hall"));
    assert_eq!(asked(v1::ReplayRosterRequest { seed: Some(0), ..message() }).unwrap().seed, 0);
}

#[test]
fn selections_are_read_whole() {
    let day = |month, day| Some(v1::Date { year: 2026, month, day });
    let selection = v1::ReplaySelection {
        start_date: day(1, 2),
        end_date: day(3, 4),
        ladders: vec!["ladders/row".to_owned(), "ladders/pull".to_owned()],
        athletes: vec!["rosters/hall/athletes/wren".to_owned()],
        warm_up_days: 3650,
    };
    let found = asked(v1::ReplayRosterRequest { selection: Some(selection), ..message() }).unwrap();
    let Selection { from, to, ladders, athletes, warm_up_days } = found.selection;
    assert_eq!((from.unwrap().parts(), to.unwrap().parts()), ((2026, 1, 2), (2026, 3, 4)));
    assert_eq!(ladders.iter().map(LadderId::as_str).collect::<Vec<_>>(), ["pull", "row"]);
    assert_eq!((athletes.into_iter().collect::<Vec<_>>(), warm_up_days), (vec!["wren".to_owned()], 3650));
    assert_eq!(found.athletes.iter().map(AthleteId::as_str).collect::<Vec<_>>(), ["wren"]);
    let selection = Some(v1::ReplaySelection { warm_up_days: 3651, ..v1::ReplaySelection::default() });
    let late = v1::ReplayRosterRequest { selection, ..message() };
    assert_eq!(fields(asked(late)), ["selection.warm_up_days"]);
    let athletes = (0..=MOST_ATHLETES).map(|n| format!("rosters/hall/athletes/a{n}")).collect();
    let selection = Some(v1::ReplaySelection { athletes, ..v1::ReplaySelection::default() });
    let many = v1::ReplayRosterRequest { selection, ..message() };
    assert_eq!(fields(asked(many)), ["selection.athletes"]);
}

#[test]
fn each_number_of_a_variant_goes_to_its_own_rule() {
    let variant = v1::PolicyVariant {
        name: "bold".to_owned(),
        bands: None,
        keep_margin: Some(0.01),
        tie_margin: Some(0.02),
        plain_enough: Some(0.03),
        shading_cost: Some(0.04),
        load_cost: Some(0.05),
        step_rungs: Some(6),
        attempt_floor: Some(0.07),
        attempt_ceiling: Some(0.08),
        test_doubt: Some(9.0),
    };
    let found = advised(variant.clone()).unwrap();
    let usual = Policy::default();
    let wanted = Policy {
        keep_margin: 0.01,
        tie_margin: 0.02,
        plain_enough: 0.03,
        shading_cost: 0.04,
        load_cost: 0.05,
        step_rungs: 6,
        attempt_floor: 0.07,
        attempt_ceiling: 0.08,
        test_doubt: 9.0,
        ..usual.clone()
    };
    assert_eq!(found.variants[0].on(usual.bands), ("bold".to_owned(), wanted));
    assert_eq!(found.variants[0].message, variant);
}

#[test]
fn bands_of_a_variant_come_before_those_in_force() {
    let band = |low, high| Some(v1::Band { low, high });
    let pair = v1::BandPair { working: band(6, 8), attempt: band(2, 3) };
    let bands = Some(v1::Bands { reps: Some(pair), ..v1::Bands::default() });
    let other = v1::PolicyVariant { name: "other".to_owned(), bands, ..v1::PolicyVariant::default() };
    let margin = v1::PolicyVariant {
        name: "margin".to_owned(),
        keep_margin: Some(0.5),
        ..v1::PolicyVariant::default()
    };
    let mut in_force = Bands::default();
    in_force.reps.working.high = 30;
    let high = |variant| advised(variant).unwrap().variants[0].on(in_force).1.bands.reps.working.high;
    assert_eq!((high(other.clone()), high(margin)), (8, 30));
    let upside_down = v1::BandPair { working: band(8, 6), attempt: band(2, 3) };
    let bands = Some(v1::Bands { reps: Some(upside_down), ..v1::Bands::default() });
    let wrong = v1::PolicyVariant { bands, ..other };
    assert_eq!(fields(advised(wrong)), ["policy_variants[0].bands.reps"]);
}

#[test]
fn variants_must_differ_and_have_names_of_their_own() {
    let named = |name: &str, keep_margin| v1::PolicyVariant {
        name: name.to_owned(),
        keep_margin: Some(keep_margin),
        ..v1::PolicyVariant::default()
    };
    for name in ["", "Bold", "a-", "two-for-two", "rep-band", "service"] {
        assert_eq!(fields(advised(named(name, 0.5))), ["policy_variants[0].name"], "{name}");
    }
    assert_eq!(fields(advised(named("usual", Policy::default().keep_margin))), ["policy_variants[0]"]);
    let twice = vec![named("a", 0.1), named("a", 0.2)];
    let twice = v1::ReplayRosterRequest { with_advice: true, policy_variants: twice, ..message() };
    assert_eq!(fields(asked(twice)), ["policy_variants[1].name"]);
    let ends = |floor, ceiling| v1::PolicyVariant {
        attempt_floor: floor,
        attempt_ceiling: ceiling,
        ..named("ends", 0.5)
    };
    for (floor, ceiling) in [(Some(0.7), None), (None, Some(0.2)), (Some(0.4), Some(0.3))] {
        let found = fields(advised(ends(floor, ceiling)));
        assert_eq!(found, ["policy_variants[0].attempt_floor"], "{floor:?} {ceiling:?}");
    }
    assert!(advised(ends(Some(0.7), Some(0.7))).is_ok());
}
