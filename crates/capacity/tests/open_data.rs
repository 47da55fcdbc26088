//! The model with its default parameters, held against published repetitions to failure.
//!
//! Data: Mitter et al. 2024, `data/published/mitter2024_bench_rtf_long.csv` (source and licence beside it): 14 subjects,
//! two protocols, sets to failure at 90, 80 and 70 % of the one-repetition maximum. Subjects 14 and 16 are very probably
//! one person, so they are left out and put in together: 13 people, 28 visits. Dates and rests are not in the file: the
//! sets of a single visit are taken 20 minutes apart, those of a multiple visit three days apart (both assumed).

#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot read its data must fail")]

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::done::Done;
use nextrung_capacity::filter::Scratch;
use nextrung_capacity::load::loaded_units;
use nextrung_capacity::logistic::{Noise, Outlook};
use nextrung_capacity::model::Model;
use nextrung_capacity::outlook::{Strain, TaskOutlook};
use nextrung_capacity::params::{KindParameters, Parameters};
use nextrung_capacity::state::AthleteState;
use nextrung_capacity::task::Task;
use nextrung_capacity::truncated::Gaussian;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::stop::Stop;

const TABLE: &str = include_str!("../../../data/published/mitter2024_bench_rtf_long.csv");

/// Nominal share of the one-repetition maximum, in percent, as rung names carry it.
const LOADS: [u8; 3] = [90, 80, 70];

/// One subject under one protocol.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Visit {
    subject: u32,
    is_single: bool,
    /// Load over the one-repetition maximum and repetitions, in the order of [`LOADS`].
    sets: [(f64, u16); 3],
}

impl Visit {
    fn person(&self) -> u32 {
        if self.subject == 16 { 14 } else { self.subject }
    }

    /// ln of the middle of the unit on which the set failed.
    fn ln_capacity(&self, load: usize) -> f64 {
        libm::log(f64::from(self.sets[load].1) + 0.5)
    }
}

fn visits() -> Vec<Visit> {
    let mut found: BTreeMap<(u32, bool), Visit> = BTreeMap::new();
    for line in TABLE.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [subject, protocol, _, _, share, reps] = cells[..] else { panic!("six columns: {line}") };
        let subject = subject.parse().expect("a subject");
        let share: f64 = share.parse().expect("a share");
        let is_single = protocol == "SV";
        let blank = Visit { subject, is_single, sets: [(0.0, 0); 3] };
        let visit = found.entry((subject, is_single)).or_insert(blank);
        let nearest = LOADS.iter().position(|load| (share - f64::from(*load) / 100.0).abs() < 0.02);
        if let Some(at) = nearest {
            visit.sets[at] = (share, reps.parse().expect("repetitions"));
        }
    }
    found.into_values().collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / f64::from(u32::try_from(values.len()).expect("few values"))
}

/// Mean of `value` over people, each the mean of their visits, and its standard error.
fn over_people(visits: &[Visit], value: impl Fn(&Visit) -> f64) -> (f64, f64) {
    let mut people: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for visit in visits {
        people.entry(visit.person()).or_default().push(value(visit));
    }
    let means: Vec<f64> = people.values().map(|own| mean(own)).collect();
    let centre = mean(&means);
    let squares: Vec<f64> = means.iter().map(|own| (own - centre) * (own - centre)).collect();
    let n = f64::from(u32::try_from(means.len()).expect("few people"));
    (centre, (mean(&squares) / (n - 1.0)).sqrt())
}

/// Three rungs of one strength whose difficulties were met by `people`: the mean difference of ln capacity from 80 %, with
/// its standard error. The start is their mean too, as wide as the starts of the real abilities.
fn model_of(people: &[Visit], parameters: Parameters) -> Model {
    let start = over_people(people, |visit| visit.ln_capacity(1)).0;
    let abilities = format!(
        "[[ability]]\nid = \"bench\"\nname = \"Bench press\"\nkind = \"strength\"\nanchor = \"bench/at-80\"\n\
         start_level = {start}\nstart_sd = 0.9\nsource = \"the other people of the file\"\n"
    );
    let mut ladder = "id = \"bench\"\nname = \"Bench press\"\nversion = 1\nside = \"bent-arm\"\n\
                      about = \"Shares of the one-repetition maximum.\"\ncautions = []\n"
        .to_owned();
    for at in [2, 1, 0] {
        let (difficulty, sd) = over_people(people, |visit| visit.ln_capacity(1) - visit.ln_capacity(at));
        let basis = if at == 1 { "anchor" } else { "derived" };
        ladder += &format!(
            "[[rung]]\nid = \"at-{load}\"\nname = \"{load} %\"\nunit = \"reps\"\ncues = [\"to failure\"]\n\
             [[rung.demand]]\nability = \"bench\"\ndifficulty = {difficulty}\nsd = {sd}\nbasis = \"{basis}\"\n\
             source = \"the other people of the file\"\n",
            load = LOADS[at],
        );
    }
    let ladders = [NamedText { name: "bench.toml", text: &ladder }];
    let catalog = load_catalog(NamedText { name: "abilities.toml", text: &abilities }, &ladders);
    Model::new(Arc::new(catalog.expect("a sound ladder")), parameters)
}

fn task(model: &Model, load: usize) -> Task {
    let name = RungRef::parse(&format!("bench/at-{}", LOADS[load])).expect("a rung's name");
    Task::new(&model.catalog, model.catalog.find(&name).expect("a rung"), &[], 1.0)
}

/// What the filter expects at 90 % after this visit's sets at 80 and 70 %.
fn expectation(model: &Model, visit: &Visit) -> TaskOutlook {
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    let mut day = 20_000;
    for load in [1, 2] {
        let done = Done {
            day,
            session: 1,
            units: visit.sets[load].1,
            target: None,
            stop: Stop::Strength,
            reserve: None,
            rest_seconds: Some(1200),
        };
        state.observe(model, &mut scratch, (&task(model, load), &done));
        day += if visit.is_single { 0 } else { 3 };
    }
    if !visit.is_single {
        state = state.on(&model.parameters, day);
    }
    state.outlook(model, &task(model, 0))
}

/// One prediction of the repetitions at 90 % beside what was done.
#[derive(Debug, Clone, Copy)]
struct Prediction {
    visit: Visit,
    /// Whole repetitions at the 10, 50 and 90 % quantiles of the capacity: a count is its whole part.
    low: f64,
    median: f64,
    high: f64,
    /// Share of the count done that a central 80 % interval holds when its ends may fall inside a count: the overlap of
    /// `P(K < done) .. P(K <= done)` with `0.1 .. 0.9`, over its length. Under a right model its mean is 0.8; the share of
    /// counts within `low ..= high` is larger, since whole ends take in more than they must.
    held: f64,
    /// ln of the chance given to the count done.
    log_score: f64,
}

impl Prediction {
    fn miss(&self) -> f64 {
        (self.median - f64::from(self.visit.sets[0].1)).abs()
    }
}

fn leave_one_person_out(parameters: &Parameters) -> Vec<Prediction> {
    let all = visits();
    let predict = |visit: &Visit| {
        let others: Vec<Visit> = all.iter().filter(|v| v.person() != visit.person()).copied().collect();
        let expected = expectation(&model_of(&others, parameters.clone()), visit);
        let done = f64::from(visit.sets[0].1);
        let below = 1.0 - expected.at_least(done, Strain::NONE);
        let up_to = 1.0 - expected.at_least(done + 1.0, Strain::NONE);
        Prediction {
            visit: *visit,
            low: expected.quantile(0.1).floor(),
            median: expected.quantile(0.5).floor(),
            high: expected.quantile(0.9).floor(),
            held: (up_to.min(0.9) - below.max(0.1)).max(0.0) / (up_to - below),
            log_score: libm::log(up_to - below),
        }
    };
    all.iter().map(predict).collect()
}

fn mean_of(predictions: &[Prediction], value: impl Fn(&Prediction) -> f64) -> f64 {
    mean(&predictions.iter().map(value).collect::<Vec<_>>())
}

#[test]
fn the_file_holds_what_was_published() {
    let all = visits();
    assert_eq!(all.len(), 28);
    // Means of the reference values, computed from the file; single visit, then multiple visit.
    for (is_single, means) in [(true, [4.86, 9.43, 14.43]), (false, [4.86, 9.86, 16.29])] {
        for (load, expected) in means.into_iter().enumerate() {
            let own: Vec<f64> =
                all.iter().filter(|v| v.is_single == is_single).map(|v| f64::from(v.sets[load].1)).collect();
            assert!((mean(&own) - expected).abs() < 0.005, "{} %: {}", LOADS[load], mean(&own));
        }
    }
}

#[test]
#[expect(clippy::print_stdout, reason = "the predictions are the evidence for the default parameters")]
fn repetitions_at_ninety_percent_are_foretold_from_lighter_sets() {
    let found = leave_one_person_out(&Parameters::default());
    for p in &found {
        let protocol = if p.visit.is_single { "single" } else { "multiple" };
        let done = p.visit.sets[0].1;
        println!(
            "subject {:2} {protocol:8} done {done} median {} in {}..={}",
            p.visit.subject, p.median, p.low, p.high
        );
    }
    let miss = mean_of(&found, Prediction::miss);
    let held = mean_of(&found, |p| p.held);
    let is_within =
        |p: &Prediction| p.low <= f64::from(p.visit.sets[0].1) && f64::from(p.visit.sets[0].1) <= p.high;
    let whole = mean_of(&found, |p| f64::from(u8::from(is_within(p))));
    println!("mean absolute error {miss:.3}, 80 % interval holds {held:.3} ({whole:.3} with whole ends)");
    assert!(miss < 1.0, "mean absolute error {miss} repetitions");
    assert!((0.7..=0.9).contains(&held), "the central 80 % interval holds {held}");
}

/// The evidence for `offset_sd`: twice the default holds too much and is less likely, a third of it too little.
#[test]
fn other_departures_fit_worse() {
    let defaults = Parameters::default();
    let with = |factor: f64| {
        let mut parameters = defaults.clone();
        let strength = &mut parameters.kinds[AbilityKind::Strength.index()];
        *strength = KindParameters { offset_sd: factor * strength.offset_sd, ..*strength };
        leave_one_person_out(&parameters)
    };
    let score = |found: &[Prediction]| mean_of(found, |p| p.log_score);
    let chosen = with(1.0);
    for (factor, is_too_wide) in [(2.0, true), (1.0 / 3.0, false)] {
        let other = with(factor);
        assert!(score(&other) < score(&chosen), "{factor}: {} against {}", score(&other), score(&chosen));
        let held = mean_of(&other, |p| p.held);
        assert!(if is_too_wide { held > 0.9 } else { held < 0.7 }, "{factor}: {held}");
    }
}

/// Standard deviation of whole repetitions from test to test of one person whose ln capacity is `level`: a new day's form
/// and a new set's noise each time. The difference of two tests over the square root of two has this deviation.
fn test_to_test_sd(p: &KindParameters, level: f64) -> f64 {
    let noise: Noise = p.noise();
    let outlook = Outlook::new(Gaussian { mean: level, variance: p.day_sd * p.day_sd }, noise);
    let at_least: Vec<f64> = (1..=100).map(|k| outlook.survival(libm::log(f64::from(k)))).collect();
    // E K = sum of P(K >= k); E K^2 = sum of (2k - 1) P(K >= k).
    let first: f64 = at_least.iter().sum();
    let second: f64 = at_least.iter().zip(1..).map(|(chance, k)| f64::from(2 * k - 1) * chance).sum();
    (second - first * first).sqrt()
}

/// Standard error of measurement a week apart: 0.7 reps (0.5 to 0.9) at 90 %, 1.1 (0.8 to 1.4) at 70 %; Mitter, Csapo,
/// Bauer, Tschan 2022, PLoS ONE 17(5):e0268074. The model has one scale in ln units for all loads, the paper's errors grow
/// slower than the repetitions do: the default sits between, low at 90 % and high at 70 %.
#[test]
#[expect(clippy::print_stdout, reason = "the figures are the evidence for the default parameters")]
fn repeated_tests_scatter_as_published() {
    let p = *Parameters::default().of(AbilityKind::Strength);
    let all = visits();
    for (load, published, (low, high)) in [(0, 0.7, (0.5, 0.9)), (2, 1.1, (0.8, 1.4))] {
        let level = over_people(&all, |visit| visit.ln_capacity(load)).0;
        let sd = test_to_test_sd(&p, level);
        println!("{} %: {sd:.3} repetitions, published {published}", LOADS[load]);
        assert!((low..=high).contains(&sd), "{} %: {sd}", LOADS[load]);
    }
}

/// Mean absolute error at 90 and 80 % of a rule that turns a share of the one-repetition maximum into repetitions; what it
/// is held against is the mean of a subject's two tests.
fn error_of(rule: impl Fn(f64) -> f64) -> [f64; 2] {
    let all = visits();
    [0, 1].map(|load| {
        let misses = all.chunks_exact(2).map(|tests| {
            assert_eq!(tests[0].subject, tests[1].subject);
            let done = 0.5 * (f64::from(tests[0].sets[load].1) + f64::from(tests[1].sets[load].1));
            (rule(tests[0].sets[load].0) - done).abs()
        });
        mean(&misses.collect::<Vec<_>>())
    })
}

/// The rules as published forms (reference values, section 2), solved for the repetitions.
#[test]
#[expect(clippy::print_stdout, reason = "the figures are the evidence for the rule in use")]
fn the_rule_in_use_is_the_best_of_the_simple_ones() {
    type Rule = fn(f64) -> f64;
    let others: [(&str, Rule); 6] = [
        ("Epley", |share| 30.0 * (1.0 / share - 1.0)),
        ("Brzycki", |share| 37.0 - 36.0 * share),
        ("Lombardi", |share| libm::pow(share, -10.0)),
        ("Lander", |share| (101.3 - 100.0 * share) / 2.671_23),
        ("Mayhew", |share| libm::log((100.0 * share - 52.2) / 41.9) / -0.055),
        ("Wathan", |share| libm::log((100.0 * share - 48.8) / 53.8) / -0.075),
    ];
    let in_use = error_of(|share| loaded_units(0.0, share));
    println!("O'Conner: {:.3} at 90 %, {:.3} at 80 %", in_use[0], in_use[1]);
    for (error, expected) in in_use.into_iter().zip([0.900, 1.004]) {
        assert!((error - expected).abs() < 0.001, "{error}, computed apart from the file as {expected}");
    }
    for (name, rule) in others {
        let error = error_of(rule);
        println!("{name}: {:.3} at 90 %, {:.3} at 80 %", error[0], error[1]);
        assert!(in_use[0] + in_use[1] < error[0] + error[1], "{name}: {error:?}");
    }
}

/// Pull-ups at 80 % of the pull-up maximum: men 8.1 (sd 1.9), women 10.5 (2.2); Johnson et al. 2009, JSCR. The rule says 10
/// for both: clearly within the women's spread, at the edge of the men's, which is therefore printed and not asserted.
#[test]
#[expect(clippy::print_stdout, reason = "a comparison that is too loose to assert on")]
fn pull_ups_at_eighty_percent_are_near_the_published() {
    let reps = loaded_units(0.0, 0.8);
    println!("at 80 %: {reps:.1}; men 8.1 (1.9), women 10.5 (2.2)");
    assert!((reps - 10.5).abs() < 2.2, "{reps}");
}
