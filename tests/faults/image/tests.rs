//! The model of a disk without power, by hand.

use super::*;

fn create(name: &str) -> Step {
    Step::Create { name: name.to_owned() }
}

fn write(offset: usize, data: &[u8]) -> Step {
    Step::Write { name: "a".to_owned(), offset, data: data.to_vec() }
}

fn sync() -> Step {
    Step::Sync { name: "a".to_owned() }
}

fn failed() -> Step {
    Step::FailedSync { name: "a".to_owned() }
}

/// What a file is found to hold over many cuts; nothing where it is not there.
fn seen(steps: &[Step]) -> BTreeSet<Option<Vec<u8>>> {
    let mut image = Image::default();
    steps.iter().for_each(|step| image.apply(step));
    let mut dice = Dice::new(7, 7);
    let mut seen = BTreeSet::new();
    for _ in 0..300 {
        let folder = crate::power_cut::memory();
        image.cut(folder.path(), &mut dice);
        seen.insert(std::fs::read(folder.path().join("a")).ok());
    }
    seen
}

fn all(wanted: &[&[u8]]) -> BTreeSet<Option<Vec<u8>>> {
    wanted.iter().map(|bytes| Some(bytes.to_vec())).collect()
}

#[test]
fn what_was_synced_is_there() {
    let steps = [create("a"), write(0, b"one"), sync(), Step::SyncFolder];
    assert_eq!(seen(&steps), all(&[b"one"]));
}

#[test]
fn a_file_may_be_missing_until_its_folder_is_synced() {
    let steps = [create("a"), write(0, b"one"), sync()];
    assert_eq!(seen(&steps), [None, Some(b"one".to_vec())].into());
    let gone = [create("a"), Step::SyncFolder, Step::Unlink { name: "a".to_owned() }];
    assert_eq!(seen(&gone), [None, Some(Vec::new())].into());
    assert_eq!(seen(&[&gone[..], &[Step::SyncFolder]].concat()), [None].into());
}

#[test]
fn what_was_not_synced_may_be_there_or_not() {
    let steps = [create("a"), Step::SyncFolder, write(0, b"one"), sync(), write(1, b"a")];
    assert_eq!(seen(&steps), all(&[b"one", b"oae"]));
    let shorter = Step::Truncate { name: "a".to_owned(), length: 1 };
    assert_eq!(seen(&[&steps[..4], &[shorter]].concat()), all(&[b"one", b"o"]));
}

#[test]
fn a_write_is_torn_between_sectors_and_never_within_one() {
    let steps = [create("a"), Step::SyncFolder, write(0, &[1; 1024]), sync(), write(500, &[2; 24])];
    let (mut first, mut second) = (vec![1; 1024], vec![1; 1024]);
    first[500..512].fill(2);
    second[512..524].fill(2);
    let mut both = first.clone();
    both[512..524].fill(2);
    assert_eq!(seen(&steps), all(&[&[1; 1024], &first, &second, &both]));
}

#[test]
fn what_a_failed_sync_dropped_no_later_one_writes() {
    let begun = [create("a"), write(0, &[1; 2 * PAGE]), sync(), Step::SyncFolder];
    let steps = [&begun[..], &[write(0, &[2; 2 * PAGE]), failed(), sync()]].concat();
    let old = Some(vec![1; 2 * PAGE]);
    assert!(seen(&steps).contains(&old), "it may not be there");
    // Written to once more, a page is written whole.
    let steps = [&steps[..], &[write(5, &[3]), sync()]].concat();
    let found = seen(&steps);
    let is_half =
        |bytes: &Option<Vec<u8>>| bytes.as_ref().is_some_and(|b| b[0] == 2 && b[5] == 3 && b[PAGE - 1] == 2);
    assert!(found.iter().all(is_half), "the page that was written to is there");
    let dropped = found.iter().flatten().filter(|bytes| bytes[PAGE] == 1).count();
    assert!(dropped > 0, "the other may not be");
}
