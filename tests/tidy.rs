//! Holds the whole tree to the house style, after each rule has been seen to catch a planted violation.

use std::path::{Path, PathBuf};

use nextrung_tests::tidy::{CHECKS, Check, Tree, TreeError};

fn check(name: &str) -> Option<&'static Check> {
    CHECKS.iter().find(|check| check.name == name)
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn repository() -> Result<Tree, TreeError> {
    Tree::tracked(&root())
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

/// What is here alone compiles here and nowhere else.
#[test]
fn every_file_is_known_to_git() {
    let untracked = Tree::untracked(&root()).expect("the files git does not track");
    assert!(untracked.is_empty(), "git add them, or ignore them: {untracked:#?}");
}

#[test]
fn a_file_git_does_not_know_is_found() {
    let folder = tempfile::tempdir().expect("a folder");
    let git = std::process::Command::new("git").arg("init").arg("-q").current_dir(folder.path()).status();
    assert!(git.is_ok_and(|status| status.success()), "git init");
    std::fs::write(folder.path().join(".gitignore"), "ignored\n").expect("a list of what is ignored");
    for name in ["ignored", "forgotten.rs"] {
        std::fs::write(folder.path().join(name), "").expect("a file");
    }
    let untracked = Tree::untracked(folder.path()).expect("the files git does not track");
    assert_eq!(untracked, [".gitignore", "forgotten.rs"]);
}
