//! Faults of the ability file and those that only show when the files are joined.

use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder_file::{LadderProblem, NamedText, check_in_catalog};

use crate::fixture::{ABILITIES, Files, PRESS, PULL, bend, catalog, line_of};

/// File, line, key, found, expected, suggestion.
type Words<'a> = (&'a str, usize, &'a str, &'a str, &'a str, &'a str);

fn problem(words: Words<'_>) -> LadderProblem {
    let (file, line, key, found, expected, suggestion) = words;
    LadderProblem {
        file: file.to_owned(),
        line,
        key: key.to_owned(),
        found: found.to_owned(),
        expected: expected.to_owned(),
        suggestion: suggestion.to_owned(),
    }
}

#[test]
fn the_fixture_is_sound() {
    let catalog = catalog();
    assert_eq!(catalog.ladders().len(), 2);
    assert_eq!(catalog.rung_count(), 7);
    let name = RungRef::parse("press/wall-press").unwrap();
    let ix = catalog.find(&name).unwrap();
    assert_eq!(catalog.name(ix), name);
    let demands: Vec<&str> =
        catalog.rung(ix).demands.iter().map(|d| catalog.ability(d.ability).id.as_str()).collect();
    assert_eq!(demands, ["vertical-push", "hand-balance"], "in the order of the ability file");
    assert!(catalog.rung(ix).inverted);
    assert_eq!(catalog.position(ix), 2);
}

#[test]
fn faults_of_the_ability_file() {
    let twice = ABILITIES.replacen("id = \"vertical-push\"", "id = \"vertical-pull\" # again", 1);
    let cases = [
        (
            bend(ABILITIES, "kind = \"balance\"", "kind = \"balanse\""),
            "kind = \"balanse\"",
            "ability[2].kind",
            ("`balanse`", "strength, balance or line", "did you mean `balance`?"),
        ),
        (
            bend(ABILITIES, "start_sd = 0.8", "start_sd = 0"),
            "start_sd = 0\n",
            "ability[1].start_sd",
            ("the number 0", "a number from 0.05 to 4", ""),
        ),
        (
            bend(ABILITIES, "start_level = 2.5", "start_level = nan"),
            "start_level = nan",
            "ability[2].start_level",
            ("the number nan", "a number from -6 to 8", ""),
        ),
        (
            bend(ABILITIES, "anchor = \"press/pike-press\"", "anchor = \"pike-press\""),
            "anchor = \"pike-press\"",
            "ability[1].anchor",
            ("`pike-press`", "a rung such as `pull/pull-up`", ""),
        ),
        (
            bend(ABILITIES, "start_sd = 1.0", "start_sd = 1.0\nstart_levle = 2"),
            "start_levle",
            "ability[2].start_levle",
            (
                "a key nobody reads",
                "one of id, name, kind, anchor, start_level, start_sd, source",
                "did you mean `start_level`?",
            ),
        ),
        (twice, "# again", "ability[1].id", ("`vertical-pull` a second time", "an id used once", "")),
        (
            bend(ABILITIES, "name = \"Hand balance\"\n", "# gone\n"),
            "[[ability]]\nid = \"hand-balance\"",
            "ability[2].name",
            ("nothing", "a text that is not empty", "add `name = ...`"),
        ),
    ];
    for (text, mark, key, (found, expected, suggestion)) in cases {
        let mut files = Files::sound();
        files.abilities = text;
        let line = line_of(&files.abilities, mark);
        assert_eq!(
            files.problems(),
            [problem(("abilities.toml", line, key, found, expected, suggestion))],
            "{mark}"
        );
    }
}

#[test]
fn an_ability_file_holds_1_to_64_abilities() {
    let mut files = Files::sound();
    files.abilities = "# nothing\n".to_owned();
    let wanted = problem(("abilities.toml", 1, "ability", "0 abilities", "1 to 64 tables [[ability]]", ""));
    assert_eq!(files.problems(), [wanted]);
    files.abilities = (0..65)
        .map(|n| {
            ABILITIES[..ABILITIES.find("\n\n").unwrap()].replace("\"vertical-pull\"", &format!("\"a{n}\""))
        })
        .collect::<Vec<_>>()
        .join("\n\n");
    let problems = files.problems();
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(problems[0].found, "65 abilities");
}

#[test]
fn anchors_exist_and_have_difficulty_zero() {
    let expected = "a rung whose difficulty on this ability is 0";
    let mut files = Files::sound();
    files.pull = bend(PULL, "difficulty = 0.0", "difficulty = 0.1");
    let line = line_of(ABILITIES, "anchor = \"pull/pull-up\"");
    let found = "`pull/pull-up` with difficulty 0.1";
    let wanted = problem(("abilities.toml", line, "vertical-pull: anchor", found, expected, ""));
    assert_eq!(files.problems(), [wanted]);

    let mut files = Files::sound();
    files.abilities = bend(ABILITIES, "anchor = \"press/pike-press\"", "anchor = \"press/pike-pres\"");
    let line = line_of(&files.abilities, "anchor = \"press/pike-pres\"");
    let found = "`press/pike-pres`, which is on no ladder";
    let suggestion = "did you mean `press/pike-press`?";
    let wanted = problem(("abilities.toml", line, "vertical-push: anchor", found, expected, suggestion));
    assert_eq!(files.problems(), [wanted]);

    let mut files = Files::sound();
    files.abilities = bend(ABILITIES, "anchor = \"press/pike-press\"", "anchor = \"pull/pull-up\" # not");
    let line = line_of(&files.abilities, "# not");
    let found = "`pull/pull-up`, which makes no demand on it";
    let wanted = problem(("abilities.toml", line, "vertical-push: anchor", found, expected, ""));
    assert_eq!(files.problems(), [wanted]);
}

#[test]
fn gates_name_rungs_that_exist_and_counts_that_can_be_reached() {
    let mut files = Files::sound();
    files.press = bend(PRESS, "rung = \"pull/hollow-hang\"", "rung = \"pull/hollow-hag\"");
    let line = line_of(&files.press, "[[rung.gate]]\nrung = \"pull/hollow-hag\"");
    let wanted = problem((
        "press.toml",
        line,
        "press/wall-press: gate[1].rung",
        "`pull/hollow-hag`",
        "a rung of one of the ladders",
        "did you mean `pull/hollow-hang`?",
    ));
    assert_eq!(files.problems(), [wanted]);

    let mut files = Files::sound();
    files.pull =
        bend(PULL, "rung = \"pull/pull-up\"\nat_least = 5", "rung = \"pull/pull-up\"\nat_least = 301");
    let line = line_of(&files.pull, "[[rung.gate]]\nrung = \"pull/pull-up\"");
    let wanted = problem((
        "pull.toml",
        line,
        "pull/high-pull-up: gate[1].rung",
        "301 units of `pull/pull-up`",
        "at most 300 reps",
        "",
    ));
    assert_eq!(files.problems(), [wanted]);
}

#[test]
fn a_ladder_id_is_used_by_one_file() {
    let mut files = Files::sound();
    files.press = bend(PRESS, "id = \"press\"", "id = \"pull\"");
    let problems = files.problems();
    let line = line_of(&files.press, "id = \"pull\"");
    let wanted = problem((
        "press.toml",
        line,
        "id",
        "`pull`, which pull.toml has too",
        "an id used by one ladder",
        "",
    ));
    assert!(problems.contains(&wanted), "{problems:#?}");
}

const DOWN: &str = "gates that lead down to a rung without gates";
const MEND: &str = "remove one of these gates";

#[test]
fn cycles_of_gates_within_a_ladder_are_reported_once_with_their_way() {
    let mut files = Files::sound();
    files.pull = bend(
        PULL,
        "rung = \"pull/hollow-hang\"\nat_least = 20",
        "rung = \"pull/high-pull-up\"\nat_least = 2",
    );
    let line = line_of(&files.pull, "[[rung.gate]]\nrung = \"pull/pull-up\"");
    let wanted = problem((
        "pull.toml",
        line,
        "pull/high-pull-up: gate[1].rung",
        "a cycle: pull/high-pull-up -> pull/pull-up -> pull/high-pull-up",
        DOWN,
        MEND,
    ));
    assert_eq!(files.problems(), [wanted]);

    let mut files = Files::sound();
    files.pull =
        bend(PULL, "rung = \"pull/hollow-hang\"\nat_least = 20", "rung = \"pull/pull-up\"\nat_least = 20");
    let line = line_of(&files.pull, "[[rung.gate]]\nrung = \"pull/pull-up\"\nat_least = 20");
    let wanted = problem((
        "pull.toml",
        line,
        "pull/pull-up: gate[0].rung",
        "a cycle: pull/pull-up -> pull/pull-up",
        DOWN,
        MEND,
    ));
    assert_eq!(files.problems(), [wanted]);
}

const BACK_TO_PRESS: &str = "band = [10, 30]\nattempt_band = [3, 8]\n\n[[rung.gate]]\nrung = \"press/wall-press\"\n\
                             at_least = 1\nwhy = \"x\"\n";

#[test]
fn cycles_of_gates_across_ladders_are_reported() {
    let mut files = Files::sound();
    files.pull = bend(PULL, "band = [10, 30]\nattempt_band = [3, 8]\n", BACK_TO_PRESS);
    let line = line_of(PRESS, "[[rung.gate]]\nrung = \"pull/hollow-hang\"");
    let wanted = problem((
        "press.toml",
        line,
        "press/wall-press: gate[1].rung",
        "a cycle: press/wall-press -> pull/hollow-hang -> press/wall-press",
        DOWN,
        MEND,
    ));
    assert_eq!(files.problems(), [wanted]);
}

#[test]
fn faults_across_files_are_reported_together() {
    let mut files = Files::sound();
    files.pull = bend(PULL, "band = [10, 30]\nattempt_band = [3, 8]\n", BACK_TO_PRESS);
    files.pull =
        bend(&files.pull, "rung = \"pull/pull-up\"\nat_least = 5", "rung = \"pull/nowhere\"\nat_least = 5");
    files.press = bend(
        PRESS,
        "ability = \"vertical-push\"\ndifficulty = 0.0",
        "ability = \"vertical-push\"\ndifficulty = -0.5",
    );
    let keys: Vec<String> = files.problems().into_iter().map(|p| p.key).collect();
    assert_eq!(
        keys,
        ["pull/high-pull-up: gate[1].rung", "vertical-push: anchor", "press/wall-press: gate[1].rung"]
    );
}

#[test]
fn a_ladder_offered_to_a_catalog_is_checked_as_if_it_stood_there() {
    let catalog = catalog();
    let check = |text: &str| check_in_catalog(NamedText { name: "new.toml", text }, &catalog);
    assert_eq!(check(PULL), [], "the same ladder again");
    let dips = PULL.replace("\"pull\"", "\"dips\"").replace("pull/", "dips/");
    assert_eq!(check(&dips), [], "one ladder more");

    let broken = bend(PULL, "version = 3", "version = 3.5");
    assert_eq!(check(&broken)[0].line, line_of(&broken, "version = 3.5"));

    let cycle = bend(PULL, "band = [10, 30]\nattempt_band = [3, 8]\n", BACK_TO_PRESS);
    let problems = check(&cycle);
    assert_eq!(problems.len(), 1, "the first rung of the cycle stands on another ladder: {problems:?}");
    assert_eq!(problems[0].found, "a cycle: press/wall-press -> pull/hollow-hang -> press/wall-press");

    // Another ladder's gate and the anchor of an ability need these rungs.
    let renamed = PULL.replace("hollow-hang", "arch-hang").replace("\"pull-up\"", "\"chin-up\"");
    let renamed = renamed.replace("pull/pull-up", "pull/chin-up");
    let found: Vec<String> = check(&renamed).into_iter().map(|p| p.found).collect();
    assert_eq!(found, ["`pull/hollow-hang`", "`pull/pull-up`, which is on no ladder"]);
}
