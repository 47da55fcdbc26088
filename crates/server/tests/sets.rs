//! A set goes through the contract and comes back the same.

#[cfg(test)]
mod round_trip {
    use std::sync::LazyLock;

    use nextrung_api::v1;
    use nextrung_api::v1::logged_set::Done;
    use nextrung_domain::catalog::{Catalog, RungIx};
    use nextrung_domain::date::CivilDate;
    use nextrung_domain::draft::Setting;
    use nextrung_domain::ids::{AthleteId, AthleteRef, RosterId};
    use nextrung_domain::measure::Unit;
    use nextrung_domain::profile_draft::ProfileDraft;
    use nextrung_engine::set_log::{LoggedSet, SetStatus};
    use nextrung_server::convert::{set, words};
    use nextrung_server::ladders::embedded;
    use nextrung_server::names;
    use proptest::option;
    use proptest::prelude::*;
    use proptest::sample::subsequence;

    static CATALOG: LazyLock<Catalog> = LazyLock::new(|| embedded().unwrap());

    fn today() -> CivilDate {
        CivilDate::from_parts(2026, 3, 10).unwrap()
    }

    /// A rung with some of its shadings and a load if it takes one.
    fn work() -> impl Strategy<Value = (RungIx, Vec<String>, f64)> {
        let rungs = u16::try_from(CATALOG.rung_count()).unwrap();
        (0..rungs, -40_i32..400).prop_flat_map(|(rung, tenths)| {
            let rung = RungIx(rung);
            let shadings: Vec<String> = CATALOG.rung(rung).shadings.iter().map(ToString::to_string).collect();
            let load = CATALOG.rung(rung).load_share.as_ref().map_or(0.0, |_| f64::from(tenths) / 10.0);
            let most = shadings.len();
            let some = subsequence(shadings, 0..=most).prop_map(|mut some| {
                some.sort();
                some
            });
            (Just(rung), some, Just(load))
        })
    }

    /// How it ended: units done, planned target, stop, reserve, pain, agreeing with each other.
    fn ending() -> impl Strategy<Value = (i32, Option<i32>, i32, Option<i32>, Option<i32>)> {
        (0..=300_i32, option::of(1..=300_i32), 1..=9_i32, option::of(0..=10_i32), option::of(1..=10_i32))
            .prop_map(|(done, target, stop, reserve, pain)| {
                let target = if stop == i32::from(v1::Stop::Target) {
                    Some(target.unwrap_or(1).min(done.max(1)))
                } else if stop == i32::from(v1::Stop::Chosen) {
                    target.filter(|target| *target > done)
                } else {
                    target
                };
                let done = if stop == 1 { done.max(1) } else { done };
                let reserve = reserve.map(|r| if (2..=5).contains(&stop) { 0 } else { r });
                (done, target, stop, reserve, pain)
            })
    }

    fn message() -> impl Strategy<Value = v1::LoggedSet> {
        let place = (0..20_000_i32, 1..=9_i32, 1..=200_i32);
        let words = (1..=5_i32, "[A-Za-z0-9._:-]{1,64}", "([0-9X]{4})?", ".{0,200}");
        let numbers = (option::of(0..=3600_i32), option::of(20_000..=300_000_i32));
        (work(), ending(), place, words, numbers).prop_map(|(work, ending, place, words, numbers)| {
            let (rung, shadings, load_kg) = work;
            let (done, planned_target, stop, reps_in_reserve, pain) = ending;
            let (days_ago, session, set_number) = place;
            let (purpose, client_set_id, tempo, note) = words;
            let (rest_seconds, grams) = numbers;
            let done = match CATALOG.rung(rung).unit {
                Unit::Reps => Done::Reps(done),
                Unit::HoldSeconds => Done::HoldSeconds(done),
                Unit::LoweringSeconds => Done::LoweringSeconds(done),
            };
            v1::LoggedSet {
                client_set_id,
                training_date: Some(words::of_date(today().plus_days(1 - days_ago))),
                session,
                set_number,
                rung: names::of_rung(&CATALOG.name(rung)),
                purpose,
                shadings,
                done: Some(done),
                planned_target,
                stop,
                reps_in_reserve,
                rest_seconds,
                load_kg,
                // Where a load is given the body mass of the profile would be filled in.
                body_mass_kg: grams.or((load_kg != 0.0).then_some(70_000)).map(|g| f64::from(g) / 1000.0),
                tempo,
                pain,
                note,
                ..v1::LoggedSet::default()
            }
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        #[test]
        fn message_draft_entry_message(sent in message(), sequence in 1_u64..1 << 40, arrived_at_ms in 0..1_i64 << 42) {
            let named = ProfileDraft { display_name: "Wren".to_owned(), ..ProfileDraft::default() };
            let profile = named.check(&CATALOG, today()).unwrap();
            let setting = Setting { catalog: &CATALOG, profile: &profile, today: today() };
            let entry = set::draft(sent.clone()).check(&setting);
            prop_assert!(entry.is_ok(), "{sent:?}: {entry:?}");
            let athlete = AthleteRef {
                roster: RosterId::new("hall").unwrap(),
                athlete: AthleteId::new("wren").unwrap(),
            };
            let logged = LoggedSet {
                set: entry.unwrap(),
                first_sequence: sequence,
                arrived_at_ms,
                status: SetStatus::Corrected { reason: "why".to_owned() },
            };
            let back = set::of_logged(&athlete, &logged);
            let wanted = v1::LoggedSet {
                name: format!("rosters/hall/athletes/wren/sets/{}", sent.client_set_id),
                sequence: words::of_position(sequence),
                arrival_time: Some(words::of_moment(arrived_at_ms)),
                state: v1::SetState::Corrected.into(),
                change_reason: "why".to_owned(),
                ..sent
            };
            prop_assert_eq!(&back, &wanted);
            // What came back is taken again as the same set.
            prop_assert_eq!(set::draft(back).check(&setting).unwrap(), logged.set);
        }
    }
}
