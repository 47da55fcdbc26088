//! Manuals: pages and completions that the command line makes of itself.

use std::io::Write;
use std::process::{Command, Stdio};

use crate::program::run;

/// The verbs that the first help page lists.
fn verbs() -> Vec<String> {
    let page = run(&["--help"]).page().to_owned();
    let listed =
        page.lines().skip_while(|line| *line != "Commands:").skip(1).take_while(|line| !line.is_empty());
    // A verb stands at the edge of the list, what it does further in.
    let verb = |line: &str| {
        line.strip_prefix("  ")
            .filter(|rest| !rest.starts_with(' '))
            .and_then(|rest| rest.split(' ').next().map(str::to_owned))
    };
    listed.filter_map(verb).collect()
}

#[test]
fn there_is_a_page_for_every_verb_with_its_examples() {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("pages");
    let told = run(&["manual", "pages", "--to", to.to_str().unwrap()]);
    assert!(told.said().starts_with("The pages are in"), "{}", told.said());
    let verbs = verbs();
    assert!(verbs.len() >= 20, "{verbs:?}");
    for verb in verbs {
        let page = std::fs::read_to_string(to.join(format!("nextrung-{verb}.1"))).unwrap();
        let (_, examples) = page.split_once("\n.SH EXAMPLES\n").unwrap_or_else(|| panic!("{verb}:\n{page}"));
        assert!(page.contains(".SH NAME") && examples.starts_with(".nf\n  nextrung "), "{verb}:\n{page}");
        assert!(!page.contains("EXTRA"), "{verb}:\n{page}");
    }
}

#[test]
fn examples_and_tables_stand_line_by_line_as_on_the_help_page() {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().to_str().unwrap();
    run(&["manual", "pages", "--to", to]).page();
    let pages: [(&str, &[&str]); 3] = [
        ("nextrung", &[]),
        ("nextrung-record", &["record"]),
        ("nextrung-athlete-export", &["athlete", "export"]),
    ];
    for (page, verb) in pages {
        let page = std::fs::read_to_string(folder.path().join(format!("{page}.1"))).unwrap();
        // What roff does not fill, as it shows it.
        let unfilled = page.split("\n.nf\n").skip(1).filter_map(|rest| rest.split("\n.fi").next());
        let unfilled = unfilled
            .collect::<Vec<_>>()
            .join("\n")
            .replace("\\-", "-")
            .replace("\\*(Aq", "'")
            .replace("\\\\", "\\");
        // A help page breaks lines that are longer than it is wide.
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let help = words(run(&[verb, &["--help"]].concat()).page());
        assert!(unfilled.lines().count() >= 5, "{page}");
        for line in unfilled.lines() {
            assert!(help.contains(&words(line)), "{line:?}: {help}");
        }
    }
}

#[test]
fn a_folder_that_cannot_be_written_is_told() {
    let told = run(&["manual", "pages", "--to", "/dev/null/pages"]);
    assert_eq!(told.code, 2);
    assert!(told.said().contains("/dev/null/pages"), "{}", told.said());
}

#[test]
fn a_shell_reads_its_completions() {
    let told = run(&["manual", "completions", "bash"]);
    let mut bash = Command::new("bash").stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut script = bash.stdin.take().unwrap();
    script.write_all(told.page().as_bytes()).unwrap();
    // What is offered after `nextrung pres`.
    let ask = "\nCOMP_WORDS=(nextrung pres); COMP_CWORD=1; _nextrung nextrung pres nextrung; echo \"${COMPREPLY[@]}\"\n";
    script.write_all(ask.as_bytes()).unwrap();
    drop(script);
    let answered = bash.wait_with_output().unwrap();
    assert_eq!(String::from_utf8(answered.stdout).unwrap().trim(), "prescribe prescriptions");
}
