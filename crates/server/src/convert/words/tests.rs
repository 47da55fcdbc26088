//! Words of the contract and of the domain, tested against each other.

use super::*;

/// Every word of the contract by its number, as the domain writes it: `STOP_TARGET` is `target`.
pub(in crate::convert) fn words_of<E>(prefix: &str, name: fn(&E) -> &'static str) -> Vec<(i32, String)>
where
    E: TryFrom<i32>,
{
    let named = (1..).map_while(|number| Some((number, E::try_from(number).ok()?)));
    let word = |member: &E| name(member).strip_prefix(prefix).unwrap().to_lowercase().replace('_', "-");
    named.map(|(number, member)| (number, word(&member))).collect()
}

/// The contract's words are the domain's, in the same order and none left out.
fn is_all<E, T: PartialEq>(
    prefix: &str,
    name: fn(&E) -> &'static str,
    all: &[T],
    word: fn(&T) -> &'static str,
) where
    E: TryFrom<i32>,
{
    let told = words_of(prefix, name);
    let known: Vec<(i32, String)> = all.iter().map(|m| (number(all, m), word(m).to_owned())).collect();
    assert_eq!(told, known);
    assert!(!told.is_empty());
}

#[test]
fn numbers_and_words_are_those_of_the_contract() {
    is_all("STOP_", v1::Stop::as_str_name, &Stop::ALL, |s| s.word());
    is_all("PURPOSE_", v1::Purpose::as_str_name, &Purpose::ALL, |p| p.word());
    is_all("CLEARANCE_", v1::Clearance::as_str_name, &Clearance::ALL, |c| c.word());
    is_all("UNIT_", v1::Unit::as_str_name, &Unit::ALL, |u| u.word());
    is_all("SIDE_", v1::Side::as_str_name, &Side::ALL, |s| s.word());
    is_all("DEMAND_BASIS_", v1::DemandBasis::as_str_name, &Basis::ALL, |b| b.word());
}

#[test]
fn unknown_numbers_are_kept_for_the_message() {
    assert_eq!(stop(0), Choice::Missing);
    assert_eq!(stop(1), Choice::Known(Stop::Target));
    for number in [10, 99, -1, i32::MIN, i32::MAX] {
        assert_eq!(stop(number), Choice::Unknown(number.to_string()));
    }
}

#[test]
fn moments_before_1970_have_their_nanoseconds_forward() {
    assert_eq!(of_moment(1500), prost_types::Timestamp { seconds: 1, nanos: 500_000_000 });
    assert_eq!(of_moment(-1), prost_types::Timestamp { seconds: -1, nanos: 999_000_000 });
}

#[test]
fn days_must_not_end_before_they_begin() {
    let day = |day| Some(v1::Date { year: 2026, month: 3, day });
    assert!(days(day(1), day(1)).is_ok() && days(None, day(1)).is_ok() && days(day(2), None).is_ok());
    assert_eq!(days(day(2), day(1)).unwrap_err()[0].field, "end_date");
    let fields: Vec<String> = days(day(32), day(0)).unwrap_err().into_iter().map(|p| p.field).collect();
    assert_eq!(fields, ["start_date", "end_date"]);
}
