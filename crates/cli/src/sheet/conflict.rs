//! Conflict: a set that was recorded before with other content, and the command that makes it what a sheet says.

use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::problem::Problem;

use crate::calendar::iso;
use crate::shell::quoted;
use crate::{names, words};

/// Conflicts of a parcel that are told one by one; of more the mapping is the likely cause.
const FEW: usize = 20;
/// Longest text of a part that is shown, letters.
const LONGEST_SHOWN: usize = 40;
/// Where sets belong that were forgotten, and those of another sheet.
const ELSEWHERE: &str = "a forgotten set goes below the others of its day, since sets are numbered by their place, and another sheet of the same days is \
     a session of its own: --session, or session in its mapping";

/// A set of a sheet whose key the service knows with other content.
pub(super) struct Conflict<'c> {
    /// The athlete, a resource name.
    pub(super) athlete: &'c str,
    /// As the sheet has it.
    pub(super) here: &'c v1::LoggedSet,
    /// As it is recorded, where that is known.
    pub(super) there: Option<&'c v1::LoggedSet>,
}

impl Conflict<'_> {
    /// What is wrong and how to mend it, one of `count` of the same parcel.
    pub(super) fn problem(&self, count: usize) -> Problem {
        let id = &self.here.client_set_id;
        let changes = self.changes();
        let told: Vec<String> = changes.iter().map(Change::told).collect();
        let told = if told.is_empty() { String::new() } else { format!(" ({})", told.join("; ")) };
        let found = format!("`{id}`, recorded before with other content{told}");
        let field = match changes.as_slice() {
            [one] => one.here.field,
            _ => "client_set_id",
        };
        Problem::new(field, found, self.expected(&changes, count))
    }

    fn expected(&self, changes: &[Change], count: usize) -> String {
        let id = &self.here.client_set_id;
        // Problems whose expectations begin alike are told as one.
        let what = if count > FEW { "of each".to_owned() } else { format!("of `{id}`") };
        if self.there.is_some_and(|there| there.state == i32::from(v1::SetState::Withdrawn)) {
            return format!("another place {what}: it was withdrawn and its key stays taken; {ELSEWHERE}");
        }
        let many = if count > FEW { "; of so many, look at the mapping first" } else { "" };
        format!("that content or a correction {what}: {}; {ELSEWHERE}{many}", self.correction(changes))
    }

    /// The whole command that makes the recorded set what the sheet says.
    fn correction(&self, changes: &[Change]) -> String {
        let name = format!("{}/{}", names::short(self.athlete), self.here.client_set_id);
        let flags: Vec<String> = match changes {
            [] => parts(self.here).into_iter().flat_map(|part| part.flags).collect(),
            changes => changes.iter().flat_map(Change::flags).collect(),
        };
        format!("nextrung sets correct {} {} --reason 'as in the sheet'", quoted(&name), flags.join(" "))
    }

    /// What differs; nothing when the recorded set is not known.
    fn changes(&self) -> Vec<Change> {
        let there = self.there.map(parts).unwrap_or_default();
        let both = there.into_iter().zip(parts(self.here));
        both.filter(|(there, here)| there.text != here.text)
            .map(|(there, here)| Change { there, here })
            .collect()
    }
}

/// A part of a set that differs.
struct Change {
    there: Part,
    here: Part,
}

impl Change {
    fn told(&self) -> String {
        format!("{} {}, here {}", self.here.name, shown(&self.there.text), shown(&self.here.text))
    }

    fn flags(&self) -> Vec<String> {
        if self.here.flags.is_empty() {
            vec![format!("--clear {}", self.here.name)]
        } else {
            self.here.flags.clone()
        }
    }
}

fn shown(text: &str) -> String {
    match text.char_indices().nth(LONGEST_SHOWN) {
        Some((at, _)) => format!("{}...", &text[..at]),
        None if text.is_empty() => "none".to_owned(),
        None => text.to_owned(),
    }
}

/// A part of a set.
struct Part {
    /// As `--clear` has it, where it may be empty.
    name: &'static str,
    /// What it is called at its cell, by the contract; that of the key where there may be no cell of its own.
    field: &'static str,
    /// For people; empty when there is nothing.
    text: String,
    /// Those that set it.
    flags: Vec<String>,
}

impl Part {
    /// A part with a flag of its own name.
    fn new(name: &'static str, text: String) -> Self {
        let flags = if text.is_empty() { Vec::new() } else { vec![format!("--{name}={}", quoted(&text))] };
        Self { name, field: "client_set_id", text, flags }
    }

    fn at(self, field: &'static str) -> Self {
        Self { field, ..self }
    }
}

/// Everything that is said of a set, always in the same order.
fn parts(set: &v1::LoggedSet) -> Vec<Part> {
    let number = |value: Option<i32>| value.map(|value| value.to_string()).unwrap_or_default();
    let mass = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let shadings = set.shadings.iter().map(|id| format!("--shading {}", quoted(id))).collect();
    vec![
        Part::new("date", iso(set.training_date.as_ref())),
        Part::new("session", set.session.max(1).to_string()),
        Part::new("set", set.set_number.to_string()),
        Part::new("rung", names::short(&set.rung)).at("rung"),
        Part::new("purpose", words::word_of::<v1::Purpose>(set.purpose)),
        Part { flags: shadings, ..Part::new("shadings", set.shadings.join(", ")) },
        done(set.done),
        Part::new("target", number(set.planned_target)),
        Part::new("stop", words::word_of::<v1::Stop>(set.stop)),
        Part::new("reserve", number(set.reps_in_reserve)),
        Part::new("rest", number(set.rest_seconds)),
        Part::new("load", mass(Some(set.load_kg).filter(|load| *load != 0.0))),
        Part::new("body-mass", mass(set.body_mass_kg)),
        Part::new("tempo", set.tempo.clone()),
        Part::new("pain", number(set.pain)),
        Part::new("note", set.note.clone()),
    ]
}

fn done(done: Option<Done>) -> Part {
    let (field, flag, count, unit) = match done {
        Some(Done::Reps(count)) => ("reps", "reps", count, "reps"),
        Some(Done::HoldSeconds(count)) => ("hold_seconds", "hold", count, "s held"),
        Some(Done::LoweringSeconds(count)) => ("lowering_seconds", "lowering", count, "s lowered"),
        None => return Part::new("done", String::new()),
    };
    Part { name: "done", field, text: format!("{count} {unit}"), flags: vec![format!("--{flag}={count}")] }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::arguments::{Arguments, Command};
    use crate::sets::SetsVerb;

    fn set(done: Done) -> v1::LoggedSet {
        v1::LoggedSet {
            client_set_id: "wren:2026-03-14:1:2".to_owned(),
            training_date: Some(v1::Date { year: 2026, month: 3, day: 14 }),
            set_number: 2,
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            purpose: i32::from(v1::Purpose::Working),
            stop: i32::from(v1::Stop::Other),
            done: Some(done),
            ..v1::LoggedSet::default()
        }
    }

    fn told(here: &v1::LoggedSet, there: Option<&v1::LoggedSet>, count: usize) -> Problem {
        Conflict { athlete: "rosters/hall/athletes/wren", here, there }.problem(count)
    }

    #[test]
    fn what_differs_is_told_with_the_command_that_mends_it() {
        let there = v1::LoggedSet { session: 1, note: "odd".to_owned(), ..set(Done::Reps(5)) };
        let rung = "ladders/pull/rungs/chin-hold".to_owned();
        let shadings = vec!["light-band".to_owned(), "deficit".to_owned()];
        let here = v1::LoggedSet { rung, shadings, load_kg: -2.5, ..set(Done::HoldSeconds(10)) };
        let problem = told(&here, Some(&there), 1);
        let differs = "rung pull/pull-up, here pull/chin-hold; shadings none, here light-band, deficit; \
                       done 5 reps, here 10 s held; load none, here -2.5; note odd, here none";
        let found = format!("`wren:2026-03-14:1:2`, recorded before with other content ({differs})");
        assert_eq!((problem.field.as_str(), problem.found), ("client_set_id", found));
        let command = "nextrung sets correct hall/wren/wren:2026-03-14:1:2 --rung=pull/chin-hold --shading light-band \
                       --shading deficit --hold=10 --load=-2.5 --clear note --reason 'as in the sheet'";
        let expected =
            format!("that content or a correction of `wren:2026-03-14:1:2`: {command}; {ELSEWHERE}");
        assert_eq!(problem.expected, expected);
    }

    /// A set of which everything is said.
    fn whole() -> v1::LoggedSet {
        v1::LoggedSet {
            session: 1,
            shadings: vec!["light-band".to_owned()],
            planned_target: Some(6),
            reps_in_reserve: Some(2),
            rest_seconds: Some(90),
            load_kg: 2.5,
            body_mass_kg: Some(70.5),
            tempo: "31X1".to_owned(),
            pain: Some(3),
            note: "calm".to_owned(),
            ..set(Done::Reps(5))
        }
    }

    /// The words of the command that a problem tells, as a shell takes them apart.
    fn words(problem: &Problem) -> Vec<String> {
        let (_, told) = problem.expected.split_once("`: nextrung ").unwrap();
        let (told, _) = told.split_once("; a forgotten").unwrap();
        let (mut words, mut is_within) = (vec!["nextrung".to_owned(), String::new()], false);
        let mut letters = told.chars();
        while let Some(letter) = letters.next() {
            match letter {
                '\'' => is_within = !is_within,
                ' ' if !is_within => words.push(String::new()),
                '\\' if !is_within => words.last_mut().unwrap().extend(letters.next()),
                letter => words.last_mut().unwrap().push(letter),
            }
        }
        words
    }

    /// Does with a set what a command says.
    fn correct(words: &[String], set: &mut v1::LoggedSet) {
        let command = Arguments::try_parse_from(words).unwrap().command;
        let Command::Sets(SetsVerb::Correct(arguments)) = command else { panic!("{command:?}") };
        arguments.apply(set);
    }

    #[test]
    fn the_command_makes_of_the_recorded_set_what_the_sheet_says() {
        type Change = fn(&mut v1::LoggedSet);
        let changes: [(&str, Change); 25] = [
            ("date", |set| set.training_date = Some(v1::Date { year: 2026, month: 3, day: 15 })),
            ("session", |set| set.session = 2),
            ("set", |set| set.set_number = 3),
            ("rung", |set| set.rung = "ladders/pull/rungs/chin-hold".to_owned()),
            ("purpose", |set| set.purpose = v1::Purpose::Test.into()),
            ("shadings", |set| set.shadings = vec!["its own".to_owned(), "deficit".to_owned()]),
            ("shadings", |set| set.shadings.clear()),
            ("done", |set| set.done = Some(Done::HoldSeconds(5))),
            ("done", |set| set.done = Some(Done::LoweringSeconds(5))),
            ("target", |set| set.planned_target = Some(8)),
            ("target", |set| set.planned_target = None),
            ("stop", |set| set.stop = v1::Stop::Strength.into()),
            ("reserve", |set| set.reps_in_reserve = Some(0)),
            ("reserve", |set| set.reps_in_reserve = None),
            ("rest", |set| set.rest_seconds = Some(120)),
            ("rest", |set| set.rest_seconds = None),
            ("load", |set| set.load_kg = -12.5),
            ("load", |set| set.load_kg = 0.0),
            ("body-mass", |set| set.body_mass_kg = Some(71.0)),
            ("body-mass", |set| set.body_mass_kg = None),
            ("tempo", |set| set.tempo = "20X0".to_owned()),
            ("pain", |set| set.pain = Some(0)),
            ("pain", |set| set.pain = None),
            ("note", |set| set.note = "it's \"hers\"; -5 $x".to_owned()),
            ("note", |set| set.note.clear()),
        ];
        for (name, change) in changes {
            let (mut there, mut here) = (whole(), whole());
            change(&mut here);
            let problem = told(&here, Some(&there), 1);
            let begins = format!("recorded before with other content ({name} ");
            assert!(problem.found.contains(&begins), "{name}: {problem:?}");
            correct(&words(&problem), &mut there);
            assert_eq!(there, here, "{name}: {problem:?}");
        }
        let mut unknown = v1::LoggedSet { client_set_id: whole().client_set_id, ..v1::LoggedSet::default() };
        correct(&words(&told(&whole(), None, 1)), &mut unknown);
        assert_eq!(unknown, whole());
        let here = v1::LoggedSet { client_set_id: "it's wren".to_owned(), ..whole() };
        assert_eq!(words(&told(&here, None, 1))[3], "hall/wren/it's wren");
    }

    #[test]
    fn what_has_a_cell_of_its_own_is_told_there() {
        let there = set(Done::Reps(5));
        let rung = "ladders/pull/rungs/chin-hold".to_owned();
        assert_eq!(told(&v1::LoggedSet { rung, ..there.clone() }, Some(&there), 1).field, "rung");
        for (done, field, words) in [
            (Done::Reps(4), "reps", "here 4 reps"),
            (Done::HoldSeconds(4), "hold_seconds", "here 4 s held"),
            (Done::LoweringSeconds(4), "lowering_seconds", "here 4 s lowered"),
        ] {
            let problem = told(&set(done), Some(&there), 1);
            assert_eq!(problem.field, field);
            assert!(problem.found.contains(words), "{problem:?}");
        }
        let paused = v1::LoggedSet { rest_seconds: Some(90), ..set(Done::Reps(5)) };
        assert_eq!(told(&paused, Some(&there), 1).field, "client_set_id");
    }

    #[test]
    fn a_recorded_set_that_is_not_known_is_corrected_as_a_whole() {
        let problem = told(&v1::LoggedSet { note: "it's -5".to_owned(), ..set(Done::Reps(4)) }, None, 1);
        assert!(problem.found.ends_with("recorded before with other content"), "{problem:?}");
        let flags = "--date=2026-03-14 --session=1 --set=2 --rung=pull/pull-up --purpose=working --reps=4 --stop=other \
                     --note='it'\\''s -5' --reason";
        assert!(problem.expected.contains(flags), "{problem:?}");
    }

    #[test]
    fn a_withdrawn_one_is_not_corrected_and_many_are_told_alike() {
        let there = v1::LoggedSet { state: i32::from(v1::SetState::Withdrawn), ..set(Done::Reps(5)) };
        let withdrawn = told(&set(Done::Reps(4)), Some(&there), 1).expected;
        assert!(withdrawn.contains("its key stays taken") && !withdrawn.contains("correct"), "{withdrawn}");
        let begins = |count: usize, id: &str| {
            let here = v1::LoggedSet { client_set_id: id.to_owned(), ..set(Done::Reps(4)) };
            told(&here, None, count).expected.split(": ").next().unwrap().to_owned()
        };
        assert_eq!(begins(FEW + 1, "a"), begins(FEW + 1, "b"));
        assert_ne!(begins(FEW, "a"), begins(FEW, "b"));
        let mapping =
            |count: usize| told(&whole(), None, count).expected.ends_with("look at the mapping first");
        assert_eq!([FEW, FEW + 1].map(mapping), [false, true]);
    }

    #[test]
    fn a_long_text_is_told_by_its_beginning() {
        let [there, here] =
            ["x", "\u{e9}"].map(|letter| v1::LoggedSet { note: letter.repeat(41), ..set(Done::Reps(5)) });
        let beginnings = ["x", "\u{e9}"].map(|letter| letter.repeat(LONGEST_SHOWN));
        let problem = told(&here, Some(&there), 1);
        let wanted = format!("(note {}..., here {}...)", beginnings[0], beginnings[1]);
        assert!(problem.found.ends_with(&wanted), "{problem:?}");
        assert!(problem.expected.contains(&format!("--note={}", quoted(&here.note))), "{problem:?}");
    }
}
