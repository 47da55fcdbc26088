//! Sample: bounded, the same in any order, and the sum of its parts.

use nextrung_replay::hazard::sample::RowSample;
use proptest::prelude::*;

use crate::scene::{Heard, heard, sample};

#[test]
fn what_fits_is_kept_whole() {
    let sets = heard(10, 3);
    let all = sample(&sets, 1_000_000);
    assert_eq!(all.seen(), all.kept());
    // Sets on which nothing was done and nothing failed have no rows; there are none here.
    assert_eq!(all.kept().sets, 400);
}

#[test]
fn room_is_a_bound_that_is_nearly_used() {
    let sets = heard(50, 3);
    for room in [40, 100, 1000, 3000] {
        let some = sample(&sets, room);
        let (kept, room) = (some.kept().rows, u64::try_from(room).expect("small"));
        assert!(kept <= room && kept + 40 > room, "{kept} of {room}");
        assert_eq!(some.seen().sets, 2000);
    }
}

#[test]
fn the_sample_is_fair() {
    // Whether a set is kept does not hang on what was done: the mean of what was done is that of all sets.
    let sets = heard(250, 3);
    let mean = |done: &[u16]| {
        let n = f64::from(u32::try_from(done.len()).expect("few"));
        let mean = done.iter().map(|d| f64::from(*d)).sum::<f64>() / n;
        let squares: f64 = done.iter().map(|d| (f64::from(*d) - mean) * (f64::from(*d) - mean)).sum();
        (mean, (squares / n).sqrt(), n)
    };
    let all: Vec<u16> = sets.iter().map(|set| set.done).collect();
    let kept: Vec<u16> = sample(&sets, 20_000).sets().map(|set| set.done).collect();
    let ((all, sd, _), (kept, _, n)) = (mean(&all), mean(&kept));
    assert!(n > 1000.0 && n < 5000.0, "{n}");
    assert!((all - kept).abs() < 4.0 * sd / n.sqrt(), "{all} and {kept}");
}

#[test]
fn a_set_heard_twice_stays_as_it_was_first() {
    let mut sets = heard(1, 3);
    let mut again = sample(&sets, 10_000);
    let before: Vec<_> = again.sets().cloned().collect();
    sets.iter_mut().for_each(|set| set.done += 1);
    sets.iter().for_each(|set| set.tell(&mut again));
    assert_eq!(again.sets().cloned().collect::<Vec<_>>(), before);
    assert_eq!(again.seen().sets, 80);
}

#[test]
fn earlier_blocks_can_be_had_from_the_whole() {
    let sets = heard(10, 3);
    let early: Vec<Heard> = heard(10, 3).into_iter().filter(|set| set.block < 2).collect();
    assert_eq!(sample(&sets, 1_000_000).before(2), sample(&early, 1_000_000));
    let some = sample(&sets, 1000).before(2);
    assert_eq!(some.seen(), sample(&early, 1000).seen());
    assert!(some.kept().sets > 0 && some.sets().all(|set| set.block < 2));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn order_and_parts_do_not_matter(order in Just((0..400_usize).collect::<Vec<_>>()).prop_shuffle(), cut in 0..400_usize, room in 40..3000_usize) {
        let sets = heard(10, 3);
        let whole = sample(&sets, room);
        let part = |numbers: &[usize]| {
            let mut part = RowSample::new(room);
            numbers.iter().for_each(|number| sets[*number].tell(&mut part));
            part
        };
        let (mut first, mut second) = (part(&order[..cut]), part(&order[cut..]));
        prop_assert_eq!(&part(&order), &whole);
        let lone = first.clone();
        first.merge(&second);
        second.merge(&lone);
        prop_assert_eq!(&first, &whole);
        prop_assert_eq!(&second, &whole);
    }
}
