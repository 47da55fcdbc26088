//! The small invented catalog, and ways to bend its files and to say what must be found.

use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft, Setting};
use nextrung_domain::ladder_file::{LadderProblem, NamedText, load_catalog};
use nextrung_domain::measure::Unit;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::Profile;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_domain::stop::{Purpose, Stop};

pub(crate) const ABILITIES: &str = include_str!("../fixtures/abilities.toml");
pub(crate) const PULL: &str = include_str!("../fixtures/pull.toml");
pub(crate) const PRESS: &str = include_str!("../fixtures/press.toml");

/// The three fixture files, each as it is or bent.
#[derive(Clone)]
pub(crate) struct Files {
    pub(crate) abilities: String,
    pub(crate) pull: String,
    pub(crate) press: String,
}

impl Files {
    pub(crate) fn sound() -> Self {
        Self { abilities: ABILITIES.to_owned(), pull: PULL.to_owned(), press: PRESS.to_owned() }
    }

    pub(crate) fn load(&self) -> Result<Catalog, Vec<LadderProblem>> {
        load_catalog(
            NamedText { name: "abilities.toml", text: &self.abilities },
            &[
                NamedText { name: "pull.toml", text: &self.pull },
                NamedText { name: "press.toml", text: &self.press },
            ],
        )
    }

    pub(crate) fn problems(&self) -> Vec<LadderProblem> {
        self.load().expect_err("a bent file must be refused")
    }
}

/// `text` with the one place where `from` stands changed to `to`.
pub(crate) fn bend(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` must stand once in the fixture");
    text.replacen(from, to, 1)
}

/// The line, from 1, of the first place where `mark` stands.
pub(crate) fn line_of(text: &str, mark: &str) -> usize {
    let at = text.find(mark).unwrap_or_else(|| panic!("`{mark}` is not in the text"));
    1 + text[..at].matches('\n').count()
}

pub(crate) fn catalog() -> Catalog {
    Files::sound().load().expect("the fixture is sound")
}

pub(crate) fn day(text: &str) -> CivilDate {
    CivilDate::parse(text).expect("a day that exists")
}

pub(crate) fn today() -> CivilDate {
    day("2026-03-14")
}

/// Wren: born in 2000, body mass 60 kg.
pub(crate) fn wren(catalog: &Catalog) -> Profile {
    let draft = ProfileDraft {
        display_name: "Wren".to_owned(),
        birth_date: Some((2000, 5, 17)),
        body_mass_kg: Some(60.0),
        ..ProfileDraft::default()
    };
    draft.check(catalog, today()).expect("a sound profile")
}

/// A working set of five pull-ups that reached its target.
pub(crate) fn five_pull_ups() -> SetDraft {
    SetDraft {
        client_set_id: "w1".to_owned(),
        training_date: Some((2026, 3, 14)),
        session: 1,
        set_number: 2,
        rung: "pull/pull-up".to_owned(),
        purpose: Choice::Known(Purpose::Working),
        done: Some((Unit::Reps, 5)),
        planned_target: Some(5),
        stop: Choice::Known(Stop::Target),
        ..SetDraft::default()
    }
}

/// The problems of `draft` for Wren today.
pub(crate) fn problems_of(draft: &SetDraft) -> Vec<Problem> {
    let catalog = catalog();
    let profile = wren(&catalog);
    let setting = Setting { catalog: &catalog, profile: &profile, today: today() };
    match draft.check(&setting) {
        Ok(_) => Vec::new(),
        Err(problems) => {
            assert!(!problems.is_empty(), "a refusal must say why");
            problems
        }
    }
}

/// The one problem of `draft`, as (field, found, expected).
pub(crate) fn only_problem(draft: &SetDraft) -> (String, String, String) {
    let problems = problems_of(draft);
    assert_eq!(problems.len(), 1, "{problems:?}");
    let Problem { field, found, expected } = problems[0].clone();
    (field, found, expected)
}
