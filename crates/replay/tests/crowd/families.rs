//! Families: each kind of truth visibly is what it is called.

use std::collections::BTreeSet;

use nextrung_capacity::task::Task;
use nextrung_domain::date::CivilDate;
use nextrung_domain::event::EventBody;
use nextrung_domain::ids::RungRef;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_replay::athlete_log::standing;
use nextrung_replay::simulate::chooser::{Chooser, Look};
use nextrung_replay::simulate::crowd::SimulatedAthlete;
use nextrung_replay::simulate::family::{
    Family, GAPS, GROWTH, MATCHED, MISREPORTED, OWN_CHOICE, PAIN, PLATEAUS, REGULAR, SCATTERED, TIME_OFF,
};
use nextrung_replay::simulate::season::Watcher;
use nextrung_replay::simulate::trainee::Trainee;
use nextrung_replay::simulate::world::PULL;

use crate::scene::{crowd, number, pullers};

const ATHLETES: u64 = 24;

/// What is seen of the truth while somebody trains.
#[derive(Default)]
struct Seen {
    /// As each session begins: the day, and the predictor on the reference rung on a usual day.
    levels: Vec<(CivilDate, f64)>,
    /// Reserve claimed, and what was truly left.
    claims: Vec<(f64, f64)>,
    /// Working sets, and those in band.
    working: (usize, usize),
    /// Squared departure of the true capacity from what was expected on a usual day, ln units, and how often.
    scatter: (f64, f64),
    sets_after_pain: usize,
    hurt_on: Option<CivilDate>,
    reference: Option<Task>,
}

impl Watcher for Seen {
    fn begin(&mut self, trainee: &Trainee<'_>) {
        let task = self.reference.get_or_insert_with(|| {
            let catalog = &trainee.setup.model.catalog;
            Task::new(catalog, catalog.find(&RungRef::parse(PULL.reference).unwrap()).unwrap(), &[], 1.0)
        });
        self.levels.push((trainee.date, trainee.truth.usual(&task.demands()[0])));
    }

    fn set(&mut self, look: &Look<'_, '_>) {
        let done = look.performed;
        let date = look.trainee.date;
        self.sets_after_pain += usize::from(self.hurt_on == Some(date));
        if done.pain.is_some() {
            self.hurt_on = Some(date);
        }
        if look.work.purpose == Purpose::Working {
            let (low, high) = (f64::from(look.band.low), f64::from(look.band.high) + 1.0);
            self.working.0 += 1;
            self.working.1 += usize::from((low..high).contains(&done.capacity));
        }
        if let [one] = look.task.demands()
            && look.work.load_kg == 0.0
            && done.capacity > 0.0
        {
            let form = look.trainee.truth.form(one.ability);
            let off = libm::log(done.capacity) - (done.standing.demands()[0].eta - form);
            self.scatter = (self.scatter.0 + off * off, self.scatter.1 + 1.0);
        }
        let told = look.trainee.log.last().and_then(|set| set.reserve);
        if let Some(claimed) = told
            && done.stop == Stop::Target
        {
            self.claims.push((f64::from(claimed.get()), done.capacity - f64::from(done.units)));
        }
    }
}

fn watch(family: Family, athletes: u64) -> Vec<Seen> {
    let roster = crowd(family, PULL, athletes);
    let one = |number| {
        let mut seen = Seen::default();
        roster.follow(number, &mut seen).unwrap();
        seen
    };
    (0..athletes).map(one).collect()
}

fn sets(athletes: &[SimulatedAthlete]) -> Vec<&SetEntry> {
    athletes.iter().flat_map(|a| standing(&a.log.events)).collect()
}

/// Longest break between two training days of each athlete.
fn longest_breaks(athletes: &[SimulatedAthlete]) -> Vec<i32> {
    let longest = |athlete: &SimulatedAthlete| {
        let days: BTreeSet<i32> =
            standing(&athlete.log.events).into_iter().map(|set| set.date.day_number()).collect();
        let days: Vec<i32> = days.into_iter().collect();
        days.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(0)
    };
    athletes.iter().map(longest).collect()
}

#[test]
fn time_off_leaves_gaps_and_costs_strength() {
    let away = longest_breaks(&pullers(TIME_OFF, ATHLETES));
    let matched = longest_breaks(&pullers(MATCHED, ATHLETES));
    let long =
        |breaks: &[i32]| number(breaks.iter().filter(|days| **days > 14).count()) / number(breaks.len());
    assert!(long(&away) > 0.5 && long(&matched) < 0.1, "{away:?} {matched:?}");
    let (mut change, mut breaks) = (0.0, 0.0);
    for seen in watch(TIME_OFF, ATHLETES) {
        for pair in seen.levels.windows(2).filter(|pair| pair[1].0.days_since(pair[0].0) > 28) {
            change += pair[1].1 - pair[0].1;
            breaks += 1.0;
        }
    }
    println!("{breaks} breaks of over four weeks, {:.3} ln units each", change / breaks);
    assert!(breaks >= 8.0 && change / breaks < -0.05, "{change} in {breaks}");
}

#[test]
fn gaps_lack_sets_and_come_late_with_corrections_and_withdrawals() {
    let (gaps, matched) = (pullers(GAPS, ATHLETES), pullers(MATCHED, ATHLETES));
    let share = |athletes: &[SimulatedAthlete]| {
        let performed: u32 = athletes.iter().map(|a| a.performed).sum();
        number(sets(athletes).len()) / f64::from(performed)
    };
    // 85 % of the sessions and 92 % of their sets: 78 %, give or take what sessions scatter.
    assert!((0.72..0.84).contains(&share(&gaps)), "{}", share(&gaps));
    assert_eq!(share(&matched).to_bits(), 1.0_f64.to_bits());
    let out_of_order = |athletes: &[SimulatedAthlete]| {
        let is_late = |a: &&SimulatedAthlete| !standing(&a.log.events).is_sorted_by_key(|set| set.place());
        athletes.iter().filter(is_late).count()
    };
    assert!(out_of_order(&gaps) >= 20, "{} of {ATHLETES} logs out of training order", out_of_order(&gaps));
    assert_eq!(out_of_order(&matched), 0);
    let count = |athletes: &[SimulatedAthlete], hit: fn(&EventBody) -> bool| {
        athletes.iter().flat_map(|a| &a.log.events).filter(|event| hit(&event.body)).count()
    };
    let corrected = |body: &EventBody| matches!(body, EventBody::Corrected { .. });
    let withdrawn = |body: &EventBody| matches!(body, EventBody::Withdrawn { .. });
    assert!(count(&gaps, corrected) > 20 && count(&gaps, withdrawn) > 10);
    assert_eq!((count(&matched, corrected), count(&matched, withdrawn)), (0, 0));
}

#[test]
fn pain_ends_sets_and_days_and_keeps_away() {
    let hurt = pullers(PAIN, ATHLETES);
    let all = sets(&hurt);
    let stops: Vec<&&SetEntry> = all.iter().filter(|set| set.stop == Stop::Pain).collect();
    let share = number(stops.len()) / number(all.len());
    println!("{} pain stops of {} sets", stops.len(), all.len());
    assert!((0.001..0.02).contains(&share), "{share}");
    assert!(stops.iter().all(|set| set.pain.is_some_and(|pain| (3..=8).contains(&pain.get()))));
    assert!(sets(&pullers(MATCHED, ATHLETES)).iter().all(|set| set.stop != Stop::Pain));
    let seen = watch(PAIN, ATHLETES);
    assert_eq!(seen.iter().map(|s| s.sets_after_pain).sum::<usize>(), 0, "pain ends the day");
    let sessions = |family| watch(family, ATHLETES).iter().map(|s| s.levels.len()).sum::<usize>();
    assert!(sessions(PAIN) < sessions(MATCHED), "days are missed after");
}

#[test]
fn reserve_is_claimed_far_too_low_and_in_three_words() {
    let told = |family| {
        let claims: Vec<(f64, f64)> = watch(family, ATHLETES).into_iter().flat_map(|s| s.claims).collect();
        assert!(claims.len() > 100, "{} claims", claims.len());
        let (claimed, left) = claims.iter().fold((0.0, 0.0), |sum, c| (sum.0 + c.0, sum.1 + c.1));
        (claimed / left, claims)
    };
    let ((wrong, claims), (usual, _)) = (told(MISREPORTED), told(MATCHED));
    println!("claimed {wrong:.2} of what was left, {usual:.2} in the matched family");
    assert!(wrong < 0.6 && wrong < usual - 0.25, "{wrong} {usual}");
    assert!(claims.iter().all(|(claimed, _)| [0.0, 2.0, 5.0].contains(claimed)));
}

#[test]
fn own_choices_are_not_the_services() {
    let share = |family| {
        let seen = watch(family, ATHLETES);
        let count = |part: fn(&Seen) -> usize| number(seen.iter().map(part).sum::<usize>());
        count(|s| s.working.1) / count(|s| s.working.0)
    };
    assert_eq!(OWN_CHOICE.chooser, Chooser::Own);
    let (own, service) = (share(OWN_CHOICE), share(MATCHED));
    println!("in band: {own:.3} by own choice, {service:.3} by the service");
    assert!(own < 0.5 * service, "{own} {service}");
    let athletes = pullers(OWN_CHOICE, ATHLETES);
    let all = sets(&athletes);
    let open = all.iter().filter(|set| set.target.is_none()).count();
    let at_zero = all.iter().filter(|set| set.done == 0).count();
    let easy = all.iter().filter(|set| set.stop == Stop::Target).count();
    assert!(open > all.len() / 10, "some go to the limit");
    assert!(at_zero > all.len() / 50, "some are too hard: {at_zero} of {}", all.len());
    assert!(easy > all.len() / 5, "some are easy: {easy} of {}", all.len());
}

/// What rounding may move a level by.
const FLAT: f64 = 1e-12;

/// Changes of the usual predictor from session to session.
fn steps(family: Family) -> Vec<f64> {
    let seen = watch(family, ATHLETES);
    seen.iter().flat_map(|s| s.levels.windows(2).map(|pair| pair[1].1 - pair[0].1)).collect()
}

#[test]
fn plateaus_are_flat_and_then_jump() {
    let moves = steps(PLATEAUS);
    let flat = number(moves.iter().filter(|step| step.abs() < FLAT).count()) / number(moves.len());
    let up: Vec<f64> = moves.iter().copied().filter(|step| *step > FLAT).collect();
    println!("{flat:.3} flat, {} jumps of {:.3}", up.len(), up.iter().sum::<f64>() / number(up.len()));
    // One in fifteen training days is followed by a jump.
    assert!((0.88..0.97).contains(&flat), "{flat}");
    assert!((0.07..0.13).contains(&(up.iter().sum::<f64>() / number(up.len()))));
    assert!(
        steps(MATCHED).iter().filter(|step| step.abs() < FLAT).count() < 30,
        "a trend never stands still"
    );
}

#[test]
fn growth_follows_the_work_done() {
    let gain = |family: Family| {
        let seen = watch(family, ATHLETES);
        let gains: Vec<f64> = seen.iter().map(|s| s.levels[s.levels.len() - 1].1 - s.levels[0].1).collect();
        gains.iter().sum::<f64>() / number(gains.len())
    };
    let (service, own) = (gain(GROWTH), gain(GROWTH.and(OWN_CHOICE)));
    println!("gained in 16 weeks: {service:.3} by the service's choice, {own:.3} by own choice");
    assert!(service > 0.15 && service < 0.5, "{service}");
    assert!(own < 0.8 * service, "{own} {service}");
    assert!(steps(GROWTH).iter().all(|step| *step > -1e-9), "no noise and no time off: nobody gets weaker");
}

#[test]
fn scatter_is_as_wide_as_said() {
    let spread = |family| {
        let seen = watch(family, ATHLETES);
        let (squares, count) =
            seen.iter().fold((0.0, 0.0), |sum, s| (sum.0 + s.scatter.0, sum.1 + s.scatter.1));
        (squares / count).sqrt()
    };
    let (wide, usual, narrow) = (spread(SCATTERED), spread(MATCHED), spread(REGULAR));
    println!("noise and form: {wide:.3}, {usual:.3}, {narrow:.3} ln units");
    // sqrt((1.81 x 0.040)^2 + 0.045^2) = 0.0852 for strength.
    assert!((usual / 0.0852 - 1.0).abs() < 0.15, "{usual}");
    assert!((wide / usual / 1.7 - 1.0).abs() < 0.15 && (narrow / usual / 0.6 - 1.0).abs() < 0.15);
}
