//! Grouping: threads and parts give the same figures as one thread over the whole, to the bit.

use nextrung_replay::evaluate::crew::Crew;
use nextrung_replay::evaluate::learned::Learned;
use nextrung_replay::evaluate::part::Part;
use nextrung_replay::evaluate::run::Replay;
use nextrung_replay::evaluate::source::Traced;
use nextrung_replay::simulate::family;

use super::scene::{crowd, figures, replay, scored};

fn roster() -> Vec<Traced> {
    crowd(family::all().to_vec(), (13, 12), 21)
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let logs = roster();
    let bytes = |threads: usize| {
        let replay = Replay { crew: Crew::of(threads), ..replay() };
        serde_json::to_string(&figures(&replay, &logs)).unwrap()
    };
    let one = bytes(1);
    assert_eq!(one, bytes(2));
    assert_eq!(one, bytes(5));
}

#[test]
fn parts_join_to_the_whole_in_any_order_and_through_files() {
    let (logs, replay) = (roster(), replay());
    let (whole, athletes) = scored(&replay, &logs);
    let through_file = |learned: Learned| -> Learned {
        serde_json::from_str(&serde_json::to_string(&learned).unwrap()).unwrap()
    };
    let parts: Vec<Vec<Traced>> =
        [&logs[8..], &logs[..3], &logs[3..8]].iter().map(|part| part.to_vec()).collect();
    let mut learned = Learned::default();
    for part in &parts {
        learned.join(through_file(replay.learn(part, &mut |_| true).unwrap()));
    }
    learned.settle();
    let learned = through_file(learned);
    let mut joined = Part::default();
    for part in &parts {
        let scored = replay.score(&learned, part, None, &mut |_| true).unwrap();
        joined.join(serde_json::from_str(&serde_json::to_string(&scored).unwrap()).unwrap());
    }
    assert_eq!(joined, whole);
    assert_eq!(learned.athletes, athletes);
    assert_eq!(
        replay.summary(&joined, athletes, Vec::new()).unwrap(),
        replay.summary(&whole, athletes, Vec::new()).unwrap()
    );
}
