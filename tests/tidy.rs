//! Holds the whole tree to the house style, after each rule has been seen to catch a planted violation.

use std::path::Path;

use nextrung_tests::tidy::{CHECKS, Check, Tree, TreeError};

fn check(name: &str) -> Option<&'static Check> {
    CHECKS.iter().find(|check| check.name == name)
}

fn repository() -> Result<Tree, TreeError> {
    Tree::tracked(&Path::new(env!("CARGO_MANIFEST_DIR")).join(".."))
}

fn catches_what_is_planted(check: &Check) {
    let broken = (check.broken)();
    assert!(!broken.is_empty(), "{} has no planted violation", check.name);
    for tree in broken {
        assert!(!(check.find)(&tree).is_empty(), "{} found nothing in {tree:#?}", check.name);
    }
}

fn accepts_what_is_sound(check: &Check) {
    let sound = (check.sound)();
    assert!(!sound.is_empty(), "{} has no sound example", check.name);
    for tree in sound {
        assert_eq!((check.find)(&tree), [], "{} in {tree:#?}", check.name);
    }
}

fn holds_in(check: &Check, tree: &Tree) {
    let found: Vec<String> = (check.find)(tree).iter().map(ToString::to_string).collect();
    assert!(found.is_empty(), "{} {} found:\n{}", check.rule, found.len(), found.join("\n"));
}

macro_rules! rules {
    ($($name:ident),+ $(,)?) => {
        $(mod $name {
            #[test]
            fn catches_what_is_planted() {
                super::catches_what_is_planted(super::check(stringify!($name)).expect("a rule of this name"));
            }

            #[test]
            fn accepts_what_is_sound() {
                super::accepts_what_is_sound(super::check(stringify!($name)).expect("a rule of this name"));
            }

            #[test]
            fn holds_in_the_tree() {
                let tree = super::repository().expect("the tracked files");
                super::holds_in(super::check(stringify!($name)).expect("a rule of this name"), &tree);
            }
        })+

        const TESTED: &[&str] = &[$(stringify!($name)),+];
    };
}

rules!(
    file_length,
    function_length,
    first_line_sentence,
    file_names,
    one_status_builder,
    protobuf_borders,
    sql_borders,
    pure_model,
    no_leftovers,
    no_allow,
    no_machine_paths,
    ladder_counts,
    formula_tests,
    crate_depth,
    proto_comments,
    data_sources,
);

#[test]
fn every_rule_is_tested() {
    let names: Vec<&str> = CHECKS.iter().map(|check| check.name).collect();
    assert_eq!(names, TESTED);
}

#[test]
fn the_tree_is_the_whole_repository() {
    let tree = repository().expect("the tracked files");
    for path in ["Cargo.toml", "tests/run", "tests/tidy.rs", "crates/domain/src/lib.rs"] {
        assert!(tree.files().any(|file| file.path == path), "{path} is not among the tracked files");
    }
}
