//! Tests of the flags that describe an athlete.

use clap::Parser;

use super::*;

#[derive(Parser)]
struct Flags {
    #[command(flatten)]
    profile: ProfileFlags,
    #[command(flatten)]
    clearing: ClearingFlags,
}

fn apply(flags: &[&str], athlete: &mut v1::Athlete) -> Vec<&'static str> {
    let flags = Flags::try_parse_from([&["x"], flags].concat()).unwrap();
    let mut changed = flags.profile.apply(athlete);
    changed.extend(flags.clearing.apply(athlete));
    changed
}

#[test]
fn no_flag_changes_nothing() {
    let mut athlete = v1::Athlete { body_mass_kg: Some(70.0), ..v1::Athlete::default() };
    let before = athlete.clone();
    assert!(apply(&[], &mut athlete).is_empty());
    assert_eq!(athlete, before);
}

#[test]
fn each_flag_sets_its_field_and_names_it() {
    let mut athlete = v1::Athlete::default();
    let flags = [
        "--name=Wren",
        "--birth-date=2001-02-03",
        "--body-mass=61.5",
        "--goal=pull/one-arm-pull-up@2027-03-01",
        "--goal=press/floor",
        "--equipment=bar,band",
        "--days=mon,fri",
        "--max-pain=2",
        "--ban=pull/archer=elbow",
        "--clearance=exit-practised=coach",
        "--confirmed-on=2026-11-01",
        "--band=reps=3-6,1-2",
    ];
    let changed = apply(&flags, &mut athlete);
    let expected = [
        "display_name",
        "birth_date",
        "body_mass_kg",
        "goals",
        "equipment",
        "available_weekdays",
        "limits",
        "clearances",
        "bands",
    ];
    assert_eq!(changed, expected);
    assert_eq!(athlete.goals[0].rung, "ladders/pull/rungs/one-arm-pull-up");
    assert_eq!(athlete.goals[0].by_date, Some(v1::Date { year: 2027, month: 3, day: 1 }));
    assert_eq!(athlete.goals[1].by_date, None);
    assert_eq!(athlete.available_weekdays, [1, 5]);
    let limits = athlete.limits.unwrap();
    assert_eq!((limits.max_pain, limits.max_minutes), (Some(2), None));
    assert_eq!(limits.banned_rungs[0].reason, "elbow");
    assert_eq!(athlete.clearances[0].confirmed_date, Some(v1::Date { year: 2026, month: 11, day: 1 }));
}

#[test]
fn one_limit_leaves_the_others_and_the_bans_alone() {
    let mut athlete = v1::Athlete::default();
    apply(&["--max-pain=2", "--ban=pull/archer=elbow"], &mut athlete);
    apply(&["--max-minutes=60", "--ban=pull/archer=shoulder"], &mut athlete);
    let limits = athlete.limits.unwrap();
    assert_eq!((limits.max_pain, limits.max_minutes), (Some(2), Some(60)));
    assert_eq!(limits.banned_rungs.len(), 1);
    assert_eq!(limits.banned_rungs[0].reason, "shoulder");
}

#[test]
fn what_is_taken_away_is_gone() {
    let mut athlete = v1::Athlete::default();
    apply(
        &["--goal=a/b", "--ban=pull/archer=elbow", "--clearance=inverted-work=physician", "--body-mass=70"],
        &mut athlete,
    );
    let flags = ["--unban=pull/archer", "--revoke=inverted-work", "--clear=goals", "--clear=body-mass"];
    let changed = apply(&flags, &mut athlete);
    assert_eq!(changed, ["limits", "clearances", "goals", "body_mass_kg"]);
    assert!(athlete.goals.is_empty() && athlete.clearances.is_empty() && athlete.body_mass_kg.is_none());
    assert!(athlete.limits.unwrap().banned_rungs.is_empty());
}

#[test]
fn flags_that_cannot_be_read_are_wrong_usage() {
    for flag in
        ["--goal=a/b@soon", "--ban=a/b", "--clearance=yoga=me", "--days=someday", "--confirmed-on=2026-11-01"]
    {
        assert!(Flags::try_parse_from(["x", flag]).is_err(), "{flag}");
    }
}
