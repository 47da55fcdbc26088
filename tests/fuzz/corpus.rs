//! Corpus: every input that is kept, judged without libFuzzer.

#[cfg(test)]
mod kept {
    use std::fs;
    use std::path::{Path, PathBuf};

    use nextrung_fuzz::{PLANTED, TARGETS, seed};

    /// Most bytes of the whole corpus.
    const MOST_BYTES: usize = 1 << 20;

    fn folder(target: &str) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus").join(target)
    }

    fn inputs(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
        let read = |path: PathBuf| {
            let bytes = fs::read(&path).expect("a readable input");
            (path, bytes)
        };
        let entries = fs::read_dir(folder(target)).expect("a folder for each target");
        let mut found: Vec<_> = entries.map(|entry| read(entry.expect("an entry").path())).collect();
        found.sort();
        found
    }

    #[test]
    fn every_input_is_judged() {
        for target in TARGETS {
            let inputs = inputs(target.name);
            assert!(inputs.len() >= 10, "{}: {} inputs", target.name, inputs.len());
            for (path, bytes) in inputs {
                let judged = std::panic::catch_unwind(|| (target.judge)(&bytes));
                assert!(judged.is_ok(), "{}", path.display());
            }
        }
    }

    #[test]
    fn the_corpus_is_small() {
        let inputs = TARGETS.iter().flat_map(|target| inputs(target.name));
        let bytes: usize = inputs.map(|(_, bytes)| bytes.len()).sum();
        assert!(bytes <= MOST_BYTES, "{bytes} bytes");
    }

    #[test]
    fn the_seeds_are_those_of_the_contract() {
        let requests = seed::requests().into_iter().map(|(name, input)| ("proto", name.to_owned(), input));
        let calls = seed::calls().into_iter().map(|(name, input)| ("json", name, input));
        for (target, name, input) in requests.chain(calls) {
            let path = folder(target).join(format!("seed-{name}"));
            assert_eq!(
                fs::read(&path).ok(),
                Some(input),
                "write it with the example fuzz_seeds: {}",
                path.display()
            );
        }
    }

    #[test]
    #[should_panic(expected = "the planted fault")]
    fn the_planted_fault_is_one() {
        (PLANTED.judge)(b"rung\xfe\xca\xed\x5e-up");
    }
}
