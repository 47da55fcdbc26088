//! What other programs find on data of others, through the refit as it is used: persons are athletes, items are rungs.

use std::collections::BTreeMap;
use std::sync::Arc;

use nextrung_capacity::params::Parameters;
use nextrung_capacity::smooth::Sweeps;
use nextrung_domain::ability::AbilityKind;
use nextrung_domain::adjustment::{Adjustment, Start, Step};
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft, Setting};
use nextrung_domain::ids::{AbilityId, RungRef};
use nextrung_domain::ladder_file::{NamedText, load_catalog};
use nextrung_domain::measure::Unit;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::refit::dial::Dial;
use nextrung_replay::refit::fit::Fit;
use nextrung_replay::refit::plan::Plan;
use nextrung_replay::refit::{Refitted, Trained, refit};

use crate::cohort::version;

const ITEMS: &str = include_str!("../../../../tests/reference/lsat6.csv");
const COUNTS: &str = include_str!("../../../../tests/reference/synthetic_reps.csv");

const ABILITY: &str = "one";
/// So large a standard deviation that a prior says nothing, so small a one that there is no spread.
const FLAT: f64 = 1e4;
const NONE: f64 = 1e-4;

/// One strength and `rungs` rungs, `item-0` the anchor.
fn ladder(rungs: usize) -> Catalog {
    let abilities = format!(
        "[[ability]]\nid = \"{ABILITY}\"\nname = \"One\"\nkind = \"strength\"\nanchor = \"item/item-0\"\nstart_level = 0.0\n\
         start_sd = 1.0\nsource = \"invented for a test\"\n"
    );
    let mut text = "id = \"item\"\nname = \"Items\"\nversion = 1\nside = \"bent-arm\"\nabout = \"Items.\"\ncautions = [\"None.\"]\n"
        .to_owned();
    for rung in 0..rungs {
        let basis = if rung == 0 { "anchor" } else { "estimate" };
        let sd = if rung == 0 { 0.0 } else { 2.0 };
        text += &format!(
            "[[rung]]\nid = \"item-{rung}\"\nname = \"Item {rung}\"\nunit = \"reps\"\ncues = [\"none\"]\n[[rung.demand]]\nability = \
             \"{ABILITY}\"\ndifficulty = 0.0\nsd = {sd:.1}\nbasis = \"{basis}\"\nsource = \"invented for a test\"\n"
        );
    }
    let file = |name, text| NamedText { name, text };
    load_catalog(file("abilities", &abilities), &[file("items", &text)]).unwrap_or_else(|e| panic!("{e:?}"))
}

/// A set of `done` units, that ended by failing or at its target.
fn set(catalog: &Catalog, number: i64, (rung, done, failed): (usize, i64, bool)) -> SetEntry {
    let draft = SetDraft {
        client_set_id: format!("s{number}"),
        training_date: Some((2026, 1, 5)),
        session: 1,
        set_number: number,
        rung: format!("item/item-{rung}"),
        purpose: Choice::Known(Purpose::Test),
        done: Some((Unit::Reps, done)),
        planned_target: (!failed).then_some(done),
        stop: Choice::Known(if failed { Stop::Strength } else { Stop::Target }),
        ..SetDraft::default()
    };
    let today = CivilDate::from_parts(2026, 1, 6).unwrap_or_else(|e| panic!("{e}"));
    let nobody = ProfileDraft { display_name: "Nobody".to_owned(), ..ProfileDraft::default() };
    let profile = nobody.check(catalog, today).unwrap_or_else(|e| panic!("{e:?}"));
    let checked = draft.check(&Setting { catalog, profile: &profile, today });
    checked.unwrap_or_else(|e| panic!("{e:?}"))
}

/// Nothing moves within an athlete, and nobody departs from anybody: level and noise of a set alone.
fn bare(scale: f64) -> Parameters {
    let mut parameters = Parameters::default();
    for kind in &mut parameters.kinds {
        (kind.scale, kind.day_sd, kind.offset_sd) = (scale, 0.0, NONE);
        (kind.slope_sd, kind.slope_mean, kind.level_sd, kind.fatigue) = (0.0, 0.0, 0.0, 0.0);
    }
    parameters
}

/// A fit to begin from: these steps, with this doubt in the file, and this start.
fn files(catalog: &Catalog, parameters: Parameters, (level, sd): (f64, f64)) -> Fit {
    let mut fit = Fit::of_files(version("files"), catalog, parameters);
    let ability = AbilityId::new(ABILITY).unwrap_or_else(|e| panic!("{e}"));
    fit.adjustment.starts.push(Start { ability, level, sd });
    fit
}

/// The ladder with these difficulties after the anchor, of the same doubt each.
fn with_steps(catalog: &Catalog, steps: &[f64], sd: f64) -> Arc<Catalog> {
    let ability = || AbilityId::new(ABILITY).unwrap_or_else(|e| panic!("{e}"));
    let name = |at: usize| RungRef::parse(&format!("item/item-{at}")).unwrap_or_else(|e| panic!("{e}"));
    let step = |(at, difficulty): (usize, &f64)| Step {
        rung: name(at + 1),
        ability: ability(),
        difficulty: *difficulty,
        sd,
    };
    let adjustment = Adjustment { steps: steps.iter().enumerate().map(step).collect(), starts: Vec::new() };
    Arc::new(catalog.adjusted(&adjustment).unwrap_or_else(|e| panic!("{e:?}")))
}

/// A plan that stops only where nothing moves, at the top of the likelihood as the other programs do.
fn thorough(dials: Vec<Dial>, spreads: bool) -> Plan {
    Plan {
        sweeps: Sweeps { most: 100, tolerance: 1e-12 },
        least_sets: 1,
        least_athletes: 0,
        spreads,
        dials,
        counts_doubt: false,
        weak_sd: FLAT,
        cycles: 8,
        gain: 1e-10,
        still: 1e-9,
        ..Plan::default()
    }
}

fn done(catalog: &Arc<Catalog>, from: &Fit, (roster, plan): (&[Trained], &Plan)) -> Refitted {
    refit(catalog, from, roster, (version("found"), plan)).unwrap_or_else(|e| panic!("{e}"))
}

fn difficulties(found: &Refitted) -> Vec<f64> {
    found.fit.adjustment.steps.iter().map(|step| step.difficulty).collect()
}

/// 1000 persons, five items answered rightly or not. The refit maximises what expectation propagation takes for the evidence:
/// it finds what a separate program of that kind finds (`r16_refit.py.out`). The likelihood itself (the same, and glmer in
/// `r04_irt.R.out`) has its top a hundredth away in the spread and 0.004 in a difficulty; five answers a person are few, and
/// Laplace's method, also in `r04_irt.R.out`, is 0.047 away in the spread and 2.5 in the log likelihood.
/// Difficulties there are relative to a mean level of 0, here to the first item.
#[test]
fn five_items_are_as_hard_as_in_other_programs() {
    let plain = ladder(5);
    let catalog = with_steps(&plain, &[0.0; 4], FLAT);
    let person = |(at, line): (usize, &str)| {
        let answers = line.split(',').map(|cell| cell.trim() == "1").enumerate();
        let sets = answers.map(|(item, right)| {
            let number = i64::try_from(item).unwrap_or(0) + 1;
            set(&catalog, number, (item, i64::from(right), !right))
        });
        Trained { athlete: format!("person-{at}"), sets: sets.collect(), intake: BTreeMap::new() }
    };
    let roster: Vec<Trained> = ITEMS.lines().skip(1).enumerate().map(person).collect();
    assert_eq!(roster.len(), 1000);
    let found =
        done(&catalog, &files(&catalog, bare(1.0), (1.0, 1.0)), (&roster, &thorough(Vec::new(), true)));
    let start = &found.fit.adjustment.starts[0];
    let log_likelihood = found.fit.evidence.map_or(f64::NAN, |evidence| evidence.after);
    let first = -start.level;
    let all = [vec![first], difficulties(&found).iter().map(|step| first + step).collect()].concat();
    println!("sd {}, log likelihood {log_likelihood}, difficulties {all:?}", start.sd);
    let close =
        |found: f64, expected: f64, off: f64| assert!((found - expected).abs() < off, "{found} {expected}");
    let propagated = [-2.726_289_61, -0.996_030_01, -0.238_296_78, -1.303_555_83, -2.095_915_74];
    let likeliest = [-2.730_013_273, -0.998_605_852, -0.239_853_917, -1.306_451_127, -2.099_404_365];
    for ((value, propagated), likeliest) in all.iter().zip(propagated).zip(likeliest) {
        close(*value, propagated, 1e-5);
        close(*value, likeliest, 0.004);
    }
    close(start.sd, 0.746_758_21, 1e-5);
    close(start.sd, 0.755_134_611, 0.01);
    close(log_likelihood, -2_467.277_514_9, 1e-6);
    close(log_likelihood, -2_466.937_599_6, 0.35);
}

/// 600 invented sets, each of an athlete of their own.
fn counts(catalog: &Catalog) -> Vec<Trained> {
    let one = |(at, line): (usize, &str)| {
        let cells: Vec<&str> = line.split(',').collect();
        let whole = |at: usize| cells[at].parse::<i64>().unwrap_or_else(|e| panic!("{e}"));
        let rung = usize::try_from(whole(0)).unwrap_or_else(|e| panic!("{e}"));
        let sets = vec![set(catalog, 1, (rung, whole(1), whole(2) == 1))];
        Trained { athlete: format!("set-{at}"), sets, intake: BTreeMap::new() }
    };
    COUNTS.lines().skip(1).enumerate().map(one).collect()
}

const SCALE: Dial = Dial::Scale(AbilityKind::Strength);

/// The same difficulty step from each rung to the next, as R `survival` has it (`r02_aft.R.out`): the refit holds the steps at
/// a multiple of one number and finds start and scale; the number is where its evidence is largest.
#[test]
fn counts_on_even_steps_fit_as_in_r() {
    let plain = ladder(4);
    let roster = counts(&plain);
    let plan = thorough(vec![SCALE], false);
    let at = |step: f64| {
        let catalog = with_steps(&plain, &[step, 2.0 * step, 3.0 * step], 0.0);
        done(&catalog, &files(&catalog, bare(0.2), (1.7, NONE)), (&roster, &plan))
    };
    let evidence = |step: f64| at(step).fit.evidence.map_or(f64::NAN, |evidence| evidence.after);
    let mut step = 0.43;
    for width in [0.02, 0.002] {
        let [low, middle, high] = [step - width, step, step + width].map(evidence);
        step += 0.5 * width * (high - low) / (2.0 * middle - low - high);
    }
    let found = at(step).fit;
    let log_likelihood = found.evidence.map_or(f64::NAN, |evidence| evidence.after);
    let (level, scale) = (found.adjustment.starts[0].level, found.parameters.kinds[0].scale);
    println!("{log_likelihood} {level} {step} {scale}");
    assert!((log_likelihood + 701.715_087_185).abs() < 1e-6, "{log_likelihood}");
    assert!((level - 1.746_731_764_8).abs() < 5e-6, "{level}");
    assert!((step - 0.431_040_322_7).abs() < 5e-6, "{step}");
    assert!((scale - 0.190_743_620_4).abs() < 5e-7, "{scale}");
}

/// A difficulty of its own for each rung: `r16_refit.py.out`.
#[test]
fn counts_on_steps_of_their_own_fit_as_by_a_search() {
    let catalog = with_steps(&ladder(4), &[0.0; 3], FLAT);
    let roster = counts(&catalog);
    let found =
        done(&catalog, &files(&catalog, bare(0.3), (1.0, NONE)), (&roster, &thorough(vec![SCALE], false)));
    let level = found.fit.adjustment.starts[0].level;
    let centres = [vec![level], difficulties(&found).iter().map(|step| level - step).collect()].concat();
    let scale = found.fit.parameters.kinds[0].scale;
    let log_likelihood = found.fit.evidence.map_or(f64::NAN, |evidence| evidence.after);
    println!("{log_likelihood} {centres:?} {scale}");
    let expected = [1.765_041_691, 1.275_108_319, 0.930_951_536, 0.436_753_153];
    for (value, expected) in centres.iter().zip(expected) {
        assert!((value - expected).abs() < 1e-6, "{value} {expected}");
    }
    assert!((scale - 0.189_721_341).abs() < 1e-6, "{scale}");
    assert!((log_likelihood + 699.208_879_073).abs() < 1e-6, "{log_likelihood}");
}
