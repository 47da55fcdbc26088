//! A served roster with athletes that sheets name, and sheets for it.

use std::fs;
use std::path::PathBuf;

use crate::program::{Ended, Served};

/// Four athletes of `hall`: Wren, Lark Ash, and two who are both called Sam.
pub(crate) fn hall() -> Served {
    let served = Served::with_wren();
    for (id, name) in [("lark", "Lark Ash"), ("sam-o", "Sam"), ("sam-p", "Sam")] {
        served.run(&["athlete", "add", &format!("hall/{id}"), "--name", name]).page();
    }
    served
}

/// The path of a file in the service's folder.
pub(crate) fn path(served: &Served, name: &str) -> String {
    served.folder.path().join(name).to_str().unwrap().to_owned()
}

/// Writes a file into the service's folder and gives its path.
pub(crate) fn put(served: &Served, name: &str, content: impl AsRef<[u8]>) -> String {
    let path = path(served, name);
    fs::write(&path, content).unwrap();
    path
}

/// What a file of the service's folder holds.
pub(crate) fn read(served: &Served, name: &str) -> String {
    fs::read_to_string(path(served, name)).unwrap()
}

/// A sheet that the readers of workbooks are held against.
pub(crate) fn of_corpus(name: &str) -> String {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../sheet/tests/corpus");
    folder.join(name).to_str().unwrap().to_owned()
}

/// Runs `nextrung sheet VERB FILE --roster hall` with more behind it.
pub(crate) fn sheet(served: &Served, verb: &str, file: &str, more: &[&str]) -> Ended {
    served.run(&[&["sheet", verb, file, "--roster", "hall"], more].concat())
}

/// Guesses a mapping, answers what is always asked, and saves it.
pub(crate) fn mapped(served: &Served, file: &str, more: &[&str]) -> String {
    let map = path(served, "map.toml");
    let saved = ["--purpose", "working", "--stop", "other", "-o", &map, "--replace"];
    sheet(served, "map", file, &[&saved[..], more].concat()).page();
    map
}

/// The sets of an athlete as the service lists them.
pub(crate) fn sets(served: &Served, athlete: &str) -> Vec<serde_json::Value> {
    let list = served.run(&["sets", "list", athlete, "--json"]).json();
    list["sets"].as_array().cloned().unwrap_or_default()
}

/// A text on one line.
pub(crate) fn line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
