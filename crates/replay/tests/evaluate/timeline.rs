//! Timeline: however sets arrive and go, the fold is that of the log as it stands.

use std::sync::LazyLock;

use nextrung_domain::ids::ClientSetId;
use nextrung_domain::set::SetEntry;
use nextrung_replay::evaluate::entry::Entry;
use nextrung_replay::evaluate::run::service_rules;
use nextrung_replay::evaluate::timeline::{Fold, Timeline};
use proptest::prelude::*;

use super::scene::{catalog, crowd, named, recorded};

/// Remembers what it took in.
#[derive(Debug, Clone, PartialEq, Default)]
struct Seen(Vec<ClientSetId>);

impl Fold for Seen {
    fn take(&mut self, entry: &Entry) {
        self.0.push(entry.set.client_set_id.clone());
    }
}

static SETS: LazyLock<Vec<Entry>> = LazyLock::new(|| {
    let (model, policy) = service_rules(catalog());
    let logs = crowd(vec![named("matched")], (1, 20), 6);
    let sets = logs[0].log.events.iter().filter_map(|event| Some((event.sequence, recorded(event)?.clone())));
    let entry = |(sequence, set): (u64, SetEntry)| Entry::new(&model, &policy, set, (sequence, 0)).unwrap();
    sets.map(entry).take(300).collect()
});

#[derive(Debug, Clone)]
enum Operation {
    Insert(usize),
    Remove(usize),
    Seek(usize),
    Step,
}

fn operations() -> impl Strategy<Value = Vec<Operation>> {
    let one = prop_oneof![
        6 => (0..300_usize).prop_map(Operation::Insert),
        1 => (0..300_usize).prop_map(Operation::Remove),
        1 => (0..400_usize).prop_map(Operation::Seek),
        4 => Just(Operation::Step),
    ];
    proptest::collection::vec(one, 1..400)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_fold_is_that_of_the_sets_before_it(operations in operations()) {
        let mut timeline = Timeline::new(Seen::default());
        let mut standing: Vec<&Entry> = Vec::new();
        for operation in operations {
            match operation {
                Operation::Insert(at) => {
                    let entry = &SETS[at];
                    if !standing.iter().any(|other| other.key == entry.key) {
                        let place = timeline.insert(entry.clone());
                        let expected = standing.partition_point(|other| other.key < entry.key);
                        standing.insert(expected, entry);
                        prop_assert_eq!(place, expected);
                        prop_assert_eq!(timeline.fold().0.len(), place);
                    }
                }
                Operation::Remove(at) => {
                    let id = &SETS[at].set.client_set_id;
                    let removed = timeline.remove(id);
                    let place = standing.iter().position(|entry| entry.set.client_set_id == *id);
                    prop_assert_eq!(removed.is_some(), place.is_some());
                    if let Some(place) = place {
                        standing.remove(place);
                    }
                }
                Operation::Seek(to) => drop(timeline.seek(to)),
                Operation::Step => timeline.step(|fold, entry| fold.take(entry)),
            }
            let taken = timeline.fold().0.len();
            let expected: Vec<&ClientSetId> = standing[..taken].iter().map(|entry| &entry.set.client_set_id).collect();
            prop_assert_eq!(timeline.fold().0.iter().collect::<Vec<_>>(), expected);
            prop_assert_eq!(timeline.next().map(|next| next.key), standing.get(taken).map(|next| next.key));
        }
    }
}
