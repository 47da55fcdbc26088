//! Properties of the model over drawn logs: any sets at all, however unlikely, on the fixture catalog.

#[cfg(test)]
#[path = "fixtures/catalog.rs"]
mod catalog;

#[cfg(test)]
#[path = "fixtures/drawn.rs"]
mod drawn;

#[cfg(test)]
mod fold {
    use super::catalog::{ABILITIES, PRESS, PULL, done, model, model_of, task};
    use super::drawn::{RUNGS, RawSet, config, fold, raw_log, read};
    use nextrung_capacity::filter::Scratch;
    use nextrung_capacity::params::Parameters;
    use nextrung_capacity::smooth::{Sweeps, smooth};
    use nextrung_capacity::state::{AbilityState, AthleteState, LEVEL};
    use nextrung_domain::ability::AbilityIx;
    use nextrung_domain::stop::Stop;
    use proptest::prelude::*;
    use proptest::sample::Index;

    const PULLING: AbilityIx = AbilityIx(0);

    /// A text that differs whenever any bit of the state does.
    fn bits(state: &AthleteState) -> String {
        format!("{state:?}")
    }

    fn is_sound(block: &AbilityState) -> bool {
        let values = block.mean.iter().chain(block.covariance.packed());
        values.clone().all(|value| value.is_finite())
            && block.work.is_finite()
            && block.covariance.is_positive_definite()
    }

    /// Most that two beliefs about the same coordinate differ.
    fn apart(one: &AthleteState, other: &AthleteState) -> f64 {
        assert_eq!(one.blocks.len(), other.blocks.len());
        let mut most = 0.0_f64;
        for (a, b) in one.blocks.iter().zip(&other.blocks) {
            assert_eq!((a.ability, a.day, &a.keys), (b.ability, b.day, &b.keys));
            let values =
                a.mean.iter().zip(&b.mean).chain(a.covariance.packed().iter().zip(b.covariance.packed()));
            most = values.map(|(x, y)| (x - y).abs()).fold(most, f64::max);
        }
        most
    }

    /// Rungs whose difficulty is fixed at 0.
    const ANCHORS: [&str; 4] = ["pull/pull-up", "press/wall-press", "press/wall-hold", "press/free-hold"];

    /// Pull-ups are logged as the next rung, so that every difficulty on the ability may move.
    fn without_anchors(mut raw: Vec<RawSet>) -> Vec<RawSet> {
        raw.iter_mut().filter(|set| RUNGS[set.rung] == "pull/pull-up").for_each(|set| set.rung += 1);
        raw
    }

    /// Sets that say no more than "at least", on pulling alone, without load.
    fn bounds_only(mut raw: Vec<RawSet>) -> Vec<RawSet> {
        raw.retain(|set| matches!(set.stop, Stop::Target | Stop::Pain | Stop::Interrupted | Stop::Other));
        raw.iter_mut().for_each(|set| (set.rung, set.mass_ratio, set.reserve) = (set.rung % 4, 1.0, None));
        without_anchors(raw)
    }

    /// The ladder with `by` added to every difficulty on pulling but the anchor's.
    fn harder(ladder: &str, by: f64) -> String {
        let mut pulls = false;
        let mut text = String::new();
        for line in ladder.lines() {
            match line.strip_prefix("difficulty = ").map(|value| value.parse::<f64>().unwrap()) {
                Some(value) if pulls && value != 0.0 => {
                    text.push_str(&format!("difficulty = {}", value + by));
                }
                _ => text.push_str(line),
            }
            pulls = line == "ability = \"vertical-pull\"";
            text.push('\n');
        }
        text
    }

    fn unwearied() -> Parameters {
        let mut parameters = Parameters::default();
        parameters.kinds.iter_mut().for_each(|kind| kind.fatigue = 0.0);
        parameters
    }

    proptest! {
        #![proptest_config(config(200))]

        #[test]
        fn any_log_leaves_finite_beliefs_and_positive_covariances(raw in raw_log(0..300)) {
            let model = model(Parameters::default());
            let mut state = AthleteState::new(&model.parameters);
            let mut scratch = Scratch::default();
            for (at, (task, done)) in read(&model, &raw).iter().enumerate() {
                let reading = state.observe(&model, &mut scratch, (task, done));
                prop_assert!(reading.log_mass.is_finite(), "set {at}: {done:?}");
                if at % 10 == 0 {
                    prop_assert!(state.blocks.iter().all(is_sound), "set {at}: {done:?}");
                }
            }
            prop_assert!(state.blocks.iter().all(is_sound));
            prop_assert!((0.0..=1.0).contains(&state.chosen_near()));
        }

        #[test]
        fn any_log_can_be_smoothed(raw in raw_log(0..60)) {
            let model = model(Parameters::default());
            let smoothed = smooth(&model, &read(&model, &raw), Sweeps::default());
            prop_assert!(smoothed.log_evidence.is_finite());
            let mut nodes = smoothed.abilities.iter().flat_map(|ability| &ability.nodes);
            prop_assert!(nodes.all(is_sound));
        }

        #[test]
        fn a_gap_in_two_parts_is_one_gap(raw in raw_log(1..60), first in 1..30_i32, second in 1..200_i32) {
            let model = model(Parameters::default());
            let state = fold(&model, &read(&model, &raw));
            let day = state.blocks.iter().map(|b| b.day).max().unwrap();
            let whole = state.on(&model.parameters, day + first + second);
            let halves = state.on(&model.parameters, day + first).on(&model.parameters, day + first + second);
            prop_assert!(apart(&whole, &halves) < 1e-10, "{}", apart(&whole, &halves));
        }

        /// Whatever the trend was: past two weeks without work the estimate falls and the doubt grows.
        #[test]
        fn time_off_never_makes_stronger_than_its_grace(raw in raw_log(1..60), off in 0..200_i32, more in 1..200_i32) {
            let model = model(Parameters::default());
            let state = fold(&model, &read(&model, &raw));
            for block in &state.blocks {
                let level = |days: i32| {
                    let mut later = block.clone();
                    later.enter(&model.parameters, block.last_work.max(block.day) + 14 + days, 1);
                    later.about(LEVEL)
                };
                let (before, after) = (level(off), level(off + more));
                prop_assert!(after.mean < before.mean, "{before:?} {after:?}");
                prop_assert!(after.variance > before.variance, "{before:?} {after:?}");
            }
        }

        #[test]
        fn the_same_log_gives_the_same_bits_also_when_resumed(raw in raw_log(1..120), part in any::<Index>()) {
            let model = model(Parameters::default());
            let sets = read(&model, &raw);
            let whole = fold(&model, &sets);
            prop_assert_eq!(bits(&whole), bits(&fold(&model, &sets)));
            let (before, after) = sets.split_at(part.index(sets.len()));
            let checkpoint = fold(&model, before);
            let mut resumed = checkpoint.clone();
            let mut scratch = Scratch::default();
            for (task, done) in after {
                resumed.observe(&model, &mut scratch, (task, done));
            }
            prop_assert_eq!(bits(&whole), bits(&resumed));
            prop_assert_eq!(bits(&checkpoint), bits(&fold(&model, before)));
        }

        /// Adding the same number to every difficulty on an ability and to its start changes nothing that can be seen.
        #[test]
        fn difficulties_are_relative(raw in raw_log(1..80), by in -2.0..2.0_f64) {
            let raw = without_anchors(raw);
            let here = model(Parameters::default());
            let start = format!("start_level = {}", 1.4 + by);
            let abilities = ABILITIES.replacen("start_level = 1.4", &start, 1);
            let there = model_of([&abilities, &harder(PULL, by), PRESS], Parameters::default());
            let (one, other) = (fold(&here, &read(&here, &raw)), fold(&there, &read(&there, &raw)));
            for rung in RUNGS.iter().filter(|rung| !ANCHORS.contains(rung)) {
                let (a, b) = (one.outlook(&here, &task(&here, rung, &[])), other.outlook(&there, &task(&there, rung, &[])));
                for (a, b) in a.demands().zip(b.demands()) {
                    prop_assert!((a.belief.mean - b.belief.mean).abs() < 1e-8, "{rung}: {:?} {:?}", a.belief, b.belief);
                    prop_assert!((a.belief.variance - b.belief.variance).abs() < 1e-9);
                }
            }
            if let (Some(a), Some(b)) = (one.block(PULLING), other.block(PULLING)) {
                prop_assert!((b.mean[LEVEL] - a.mean[LEVEL] - by).abs() < 1e-8);
            }
        }

        /// Bounds scale: to reach `times` as many units on rungs easier by its logarithm tells the same. (A failure
        /// does not scale, since it lies within one unit; nor does fatigue, which counts half a unit more.)
        #[test]
        fn bounds_scale_with_the_unit(raw in raw_log(1..80), times in 2..6_u16) {
            let raw = bounds_only(without_anchors(raw));
            let more = raw.iter().map(|set| RawSet { units: set.units * times, ..set.clone() });
            let more: Vec<RawSet> = more.collect();
            let parameters = unwearied();
            let here = model(parameters.clone());
            let easier = harder(PULL, -libm::log(f64::from(times)));
            let there = model_of([ABILITIES, &easier, PRESS], parameters);
            let (one, other) = (fold(&here, &read(&here, &raw)), fold(&there, &read(&there, &more)));
            prop_assert!(apart(&one, &other) < 1e-8, "{}", apart(&one, &other));
        }

        #[test]
        fn a_departure_met_late_is_one_had_from_the_start(raw in raw_log(1..80)) {
            let model = model(Parameters::default());
            let sets = read(&model, &raw);
            let late = fold(&model, &sets);
            let mut early = AthleteState::new(&model.parameters);
            for block in &late.blocks {
                let place = early.place_of(&model, block.ability, block.first_day);
                for rung in RUNGS.iter().rev() {
                    let task = task(&model, rung, &["slow", "light-band", "deficit"]);
                    for demand in task.demands().iter().filter(|d| d.ability == block.ability) {
                        early.blocks[place].row_mut(model.parameters.of(demand.kind), demand);
                    }
                }
            }
            let mut scratch = Scratch::default();
            for (task, done) in &sets {
                early.observe(&model, &mut scratch, (task, done));
            }
            for rung in RUNGS {
                let task = task(&model, rung, &["light-band"]);
                let (a, b) = (late.outlook(&model, &task), early.outlook(&model, &task));
                for (a, b) in a.demands().zip(b.demands()) {
                    prop_assert!((a.belief.mean - b.belief.mean).abs() < 1e-8, "{rung}: {:?} {:?}", a.belief, b.belief);
                    prop_assert!((a.belief.variance - b.belief.variance).abs() < 1e-9);
                }
            }
        }

        #[test]
        fn a_set_leaves_other_abilities_as_they_were(raw in raw_log(1..80), units in 0..20_u16) {
            let model = model(Parameters::default());
            let before = fold(&model, &read(&model, &raw));
            let day = before.blocks.iter().map(|b| b.day).max().unwrap();
            let mut after = before.clone();
            let press = task(&model, "press/wall-press", &[]);
            after.observe(&model, &mut Scratch::default(), (&press, &done(day + 5, units, Stop::Strength)));
            for block in before.blocks.iter().filter(|b| b.ability != press.demands()[0].ability) {
                prop_assert_eq!(format!("{block:?}"), format!("{:?}", after.block(block.ability).unwrap()));
            }
        }
    }
}

#[cfg(test)]
mod outlook {
    use super::catalog::{model, rung};
    use super::drawn::{RUNGS, config, fold, raw_log, read};
    use nextrung_capacity::outlook::Strain;
    use nextrung_capacity::params::Parameters;
    use nextrung_capacity::task::Task;
    use nextrung_domain::band::Band;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(config(200))]

        #[test]
        fn chances_are_chances(
            raw in raw_log(0..60),
            (ratio, work, margin, gap) in (0.5..1.6_f64, 0.0..4.0_f64, 0.0..0.3_f64, 0..500_i32),
            (low, more) in (1..30_u16, 0..30_u16),
        ) {
            let model = model(Parameters::default());
            let strain = Strain { work, margin };
            let state = fold(&model, &read(&model, &raw));
            let day = state.blocks.iter().map(|b| b.day).max().unwrap_or(0);
            let state = state.on(&model.parameters, day + gap);
            for name in RUNGS {
                let outlook = state.outlook(&model, &Task::new(&model.catalog, rung(&model, name), &[], ratio));
                let mut before = 1.0;
                for units in 0..80 {
                    let now = outlook.at_least(f64::from(units), strain);
                    prop_assert!((0.0..=before).contains(&now), "{name}: {now} after {before} at {units}");
                    before = now;
                }
                let band = Band { low, high: low + more };
                let (inside, easy) = outlook.in_and_above(band, strain);
                let hard = 1.0 - outlook.at_least(f64::from(low), strain);
                let sum = inside + easy + hard;
                prop_assert!((sum - 1.0).abs() < 1e-12, "{name}: {sum}");
                let endings = outlook.endings(low + more, strain);
                let chances = endings.failed.iter().chain([&endings.reached]);
                prop_assert!(chances.clone().all(|chance| (0.0..=1.0).contains(chance)), "{name}: {endings:?}");
                prop_assert!((chances.sum::<f64>() - 1.0).abs() < 1e-12, "{name}: {endings:?}");
                prop_assert!((endings.reached - outlook.at_least(f64::from(low + more), strain)).abs() < 1e-12);
            }
        }
    }
}
