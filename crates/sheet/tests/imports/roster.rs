//! Roster: athletes of a sheet found among those of a roster, and what somebody else refused told at its cells.

use std::ops::ControlFlow;

use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::grid::{Encoding, Grid};
use nextrung_sheet::mapping::{About, Directory, KnownRung, Mapping};
use nextrung_sheet::stage::{Import, OWN_LOG, Refused, Spot, Staged};

const SHEET: &str = "\
Date,Name,Exercise,Reps
2026-03-14,WREN Hill,Pull-up,5
2026-03-14,hall/wren,Pull-up,4
2026-03-14,Sam,Pull-up,3
2026-03-15,Larc,Pull-up,2
2026-03-16,wren,Pull-up,5
";

fn directory() -> Directory {
    Directory::new("hall", [("wren", "Wren Hill"), ("sam-o", "Sam"), ("sam-p", "Sam"), ("lark", "Lark")])
}

fn mapping(grid: &Grid<'_>, said: &[(&str, &str)]) -> Mapping {
    let guess = Mapping::guess(grid, None, &rungs()).unwrap().mapping;
    let athletes = said.iter().map(|(word, id)| ((*word).to_owned(), (*id).to_owned())).collect();
    Mapping { purpose: Some(Purpose::Working), stop: Some(Stop::Other), athletes, ..guess }
}

fn rungs() -> Vec<KnownRung> {
    vec![KnownRung::new("pull/pull-up", Unit::Reps)]
}

#[test]
fn a_sheet_of_one_athlete_that_names_another_is_told() {
    let sheet = "Date,Exercise,Reps\nWren,,\n2026-03-14,Pull-up,5\nLark,,\n2026-03-14,Pull-up,2\nMarch,,\n";
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let (directory, rungs) = (directory(), rungs());
    let mapping = Mapping { athlete: Some("wren".to_owned()), ..mapping(&grid, &[]) };
    let import = Import::new(&grid, &mapping, &rungs).unwrap().with_athletes(&directory);
    let expected = "log.csv, A4 (Date): found `Lark`, another athlete; expected sets of wren alone: give each row its athlete in a \
                    column of their own";
    assert_eq!(told(&import.rehearse().unwrap()), [expected]);
}

#[test]
fn a_log_that_was_written_here_is_not_taken_in_again() {
    let sheet = format!("The log of Wren,,\n\"{OWN_LOG}\",,\n{SHEET}");
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let refused = Mapping::guess(&grid, None, &rungs()).unwrap_err().to_string();
    assert!(refused.starts_with("log.csv, A2: found a log that this program wrote; expected"), "{refused}");
    let others = Grid::open("log.csv", SHEET.as_bytes(), Encoding::Unicode).unwrap();
    let (rungs, mapping) = (rungs(), mapping(&others, &[]));
    assert!(Import::new(&grid, &mapping, &rungs).is_err());
}

fn told(staged: &Staged) -> Vec<String> {
    staged.findings.iter().map(ToString::to_string).collect()
}

#[test]
fn sets_are_of_athletes_by_id_and_others_are_told_at_their_cells() {
    let grid = Grid::open("log.csv", SHEET.as_bytes(), Encoding::Unicode).unwrap();
    let (directory, rungs) = (directory(), rungs());
    let staged = |said: &[(&str, &str)]| {
        let mapping = mapping(&grid, said);
        let import = Import::new(&grid, &mapping, &rungs).unwrap().with_athletes(&directory);
        let staged = import.rehearse().unwrap();
        let mut keys = Vec::new();
        let aside = &mut std::io::sink();
        let on_set = &mut |set: nextrung_sheet::stage::Delivered<'_>| {
            assert!(set.draft.client_set_id.starts_with(set.athlete));
            keys.push(set.draft.client_set_id);
            ControlFlow::Continue(())
        };
        import.deliver(&staged, Some(aside), on_set).unwrap();
        (told(&staged), keys)
    };
    let (findings, keys) = staged(&[]);
    assert_eq!(
        findings,
        [
            "log.csv, B4 (Name): found `Sam`; expected who `sam` is: sam-o or sam-p; say which under [athletes] in the \
             mapping",
            "log.csv, B5 (Name): found `Larc`; expected who `larc` is: an athlete of the roster, by id or name; say who under \
             [athletes] in the mapping, or add the athlete to the roster first; did you mean `lark`?",
        ]
    );
    assert_eq!(keys, ["wren:2026-03-14:1:1", "wren:2026-03-14:1:2", "wren:2026-03-16:1:1"]);
    let (findings, keys) = staged(&[("sam", "sam-p"), ("larc", "lark")]);
    assert!(
        findings.is_empty() && keys.len() == 5 && keys[2] == "sam-p:2026-03-14:1:1",
        "{findings:?} {keys:?}"
    );
    let (findings, _) = staged(&[("sam", "sam-q"), ("larc", "lark")]);
    assert!(findings[0].contains("found `Sam`, `sam-q` by the mapping"), "{findings:?}");
}

#[test]
fn a_guess_asks_who_they_are() {
    let grid = Grid::open("log.csv", SHEET.as_bytes(), Encoding::Unicode).unwrap();
    let mut guess = Mapping::guess(&grid, None, &rungs()).unwrap();
    let before = guess.questions.len();
    guess.mapping.athletes.insert("larc".to_owned(), "lark".to_owned());
    guess.ask_who(&directory());
    assert_eq!(guess.questions.len(), before + 1);
    assert_eq!(guess.questions[before].about, About::Athlete("sam".to_owned()));
    guess.settle(&About::Athlete("sam".to_owned()));
    assert_eq!(guess.questions.len(), before);
}

#[test]
fn what_was_refused_under_a_day_leaves_the_other_days_alone() {
    let sheet = "Exercise,2026-03-14,2026-03-16\npull-up,5,6\npull-up,4,4\n";
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let (directory, rungs) = (directory(), rungs());
    let mapping = Mapping { athlete: Some("wren".to_owned()), ..mapping(&grid, &[]) };
    let import = || Import::new(&grid, &mapping, &rungs).unwrap().with_athletes(&directory);
    let mut spots = Vec::new();
    let staged = import().rehearse().unwrap();
    let taken = import().deliver(&staged, None, &mut |set| {
        spots.push(set.spot);
        ControlFlow::Continue(())
    });
    assert_eq!((taken.unwrap(), spots.len()), (0, 4));
    assert_eq!(spots[1].row(), 2);
    let refused = Refused::default().with([(spots[1], Problem::new("reps", "6", "fewer: look again"))]);
    let staged = import().with_refused(&refused).rehearse().unwrap();
    assert_eq!(told(&staged), ["log.csv, C2 (2026-03-16): found 6; expected fewer: look again"]);
    assert_eq!((staged.summary.torn_sessions, staged.summary.torn_sets, staged.summary.sets), (1, 1, 3));
}

#[test]
fn what_was_refused_elsewhere_is_told_at_its_cells_and_tears_its_session() {
    let sheet = SHEET.replace("Sam", "wren").replace("Larc", "lark");
    let grid = Grid::open("log.csv", sheet.as_bytes(), Encoding::Unicode).unwrap();
    let (directory, rungs) = (directory(), rungs());
    let mapping = mapping(&grid, &[]);
    let problem = |field: &str| Problem::new(field, "5", "fewer: look again");
    let found = [(3, "reps"), (6, "reps"), (6, "client_set_id")];
    let refused = Refused::default().with(found.map(|(row, field)| (Spot::of_row(row), problem(field))));
    let import = Import::new(&grid, &mapping, &rungs).unwrap().with_athletes(&directory);
    let staged = import.with_refused(&refused).rehearse().unwrap();
    assert_eq!(
        told(&staged),
        [
            "log.csv, D3 (Reps) and 1 more (D6): found 5; expected fewer: look again",
            "log.csv, row 6: found 5 as client_set_id; expected fewer: look again",
        ]
    );
    let summary = &staged.summary;
    assert_eq!(
        (summary.sound_rows, summary.bad_rows, summary.torn_sessions, summary.torn_sets),
        (3, 2, 2, 2)
    );
}
