//! Faulty cells: each is named by row and column, with what was found and expected.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_sheet::{MAX_PROBLEMS, read_sets};

use crate::fixture::{SHEET, bent, refusal, refusals, rows};

#[test]
fn a_sound_sheet_reads_as_it_is_written() {
    let rows = rows(SHEET);
    assert_eq!(rows.iter().map(|r| r.row).collect::<Vec<_>>(), [2, 3, 4], "a row of two lines is one row");
    assert_eq!(rows.iter().map(|r| r.athlete.as_str()).collect::<Vec<_>>(), ["wren", "wren", "lark"]);
    assert_eq!(rows[0].place(), "row[2]");
    assert_eq!(
        rows[0].draft,
        SetDraft {
            client_set_id: "w-1".to_owned(),
            training_date: Some((2026, 3, 14)),
            session: 1,
            set_number: 1,
            rung: "pull/pull-up".to_owned(),
            purpose: Choice::Known(Purpose::Working),
            shadings: vec!["light-band".to_owned(), "slow-lowering".to_owned()],
            done: Some((Unit::Reps, 5)),
            planned_target: Some(5),
            stop: Choice::Known(Stop::Target),
            reps_in_reserve: Some(2),
            rest_seconds: Some(180),
            load_kg: Some(-2.5),
            body_mass_kg: Some(61.25),
            tempo: "31X1".to_owned(),
            pain: Some(0),
            note: "calm".to_owned(),
        }
    );
    assert_eq!(
        rows[1].draft,
        SetDraft {
            client_set_id: "w-2".to_owned(),
            training_date: Some((2026, 3, 14)),
            set_number: 2,
            rung: "pull/hollow-hang".to_owned(),
            purpose: Choice::Known(Purpose::Test),
            done: Some((Unit::HoldSeconds, 23)),
            stop: Choice::Known(Stop::Strength),
            note: "windy, \"cold\"\nsecond line".to_owned(),
            ..SetDraft::default()
        },
        "what is empty is not given"
    );
    assert_eq!(rows[2].draft.done, Some((Unit::LoweringSeconds, 6)));
    assert_eq!(rows[2].draft.training_date, Some((2024, 2, 29)));
}

#[test]
fn cells_are_trimmed_but_notes_kept_to_the_letter() {
    let sheet =
        bent("calm,wren,", " calm ,  wren\t,").replace(",31X1,", ", 31X1 ,").replace(",5,,,5,", ", 5 ,,,5,");
    let row = rows(sheet).remove(0);
    assert_eq!(
        (row.athlete.as_str(), row.draft.tempo.as_str(), row.draft.note.as_str()),
        ("wren", "31X1", " calm ")
    );
    assert_eq!(row.draft.done, Some((Unit::Reps, 5)));
}

#[test]
fn whole_numbers() {
    for (column, from, put) in [
        ("reps", ",5,,,5,", (",", ",,,5,")),
        ("planned_target", "5,,,5,target", ("5,,,", ",target")),
        ("reps_in_reserve", "target,2,180", ("target,", ",180")),
        ("rest_seconds", "target,2,180", ("target,2,", "")),
        ("pain", "31X1,0,", ("31X1,", ",")),
        ("session", "2024-02-29,2,7", ("2024-02-29,", ",7")),
        ("set_number", "2024-02-29,2,7", ("2024-02-29,2,", "")),
    ] {
        let row = if column == "session" || column == "set_number" { 4 } else { 2 };
        for bad in ["5.5", "5.0", "five", "1e3", "nan", "5 5", "--5", "0x5", "٥", "99999999999999999999"] {
            let sheet = bent(from, &format!("{}{bad}{}", put.0, put.1));
            let wanted = format!("row[{row}].{column}: found `{bad}`; expected a whole number");
            assert_eq!(refusal(&sheet), wanted, "{sheet}");
        }
    }
    // Whether a whole number makes sense is the domain's to say.
    assert_eq!(rows(bent(",5,,,5,", ",-7,,,5,"))[0].draft.done, Some((Unit::Reps, -7)));
}

#[test]
fn kilograms() {
    for (bad, expected) in [
        ("\"-2,5\"", "kilograms with a decimal point, not a comma, such as 12.5"),
        ("\"1,000.5\"", "kilograms with a decimal point, not a comma, such as 12.5"),
        ("nan", "kilograms such as 12.5"),
        ("NaN", "kilograms such as 12.5"),
        ("inf", "kilograms such as 12.5"),
        ("-infinity", "kilograms such as 12.5"),
        ("1e999", "kilograms such as 12.5"),
        ("1e1", "kilograms such as 12.5"),
        ("2.5kg", "kilograms such as 12.5"),
        ("\u{2212}2.5", "kilograms such as 12.5"),
        (".", "kilograms such as 12.5"),
    ] {
        let plain = bad.trim_matches('"');
        for (column, from, put) in
            [("load_kg", "180,-2.5,", ("180,", ",")), ("body_mass_kg", ",61.25,", (",", ","))]
        {
            assert_eq!(
                refusal(bent(from, &format!("{}{bad}{}", put.0, put.1))),
                format!("row[2].{column}: found `{plain}`; expected {expected}")
            );
        }
    }
    let digits = "9".repeat(400);
    assert!(refusal(bent(",61.25,", &format!(",{digits},"))).starts_with("row[2].body_mass_kg: found `9999"));
    for (good, kg) in [("+3", 3.0), ("0", 0.0), ("-0.125", -0.125), (".5", 0.5)] {
        assert_eq!(rows(bent("180,-2.5,", &format!("180,{good},")))[0].draft.load_kg, Some(kg));
    }
}

#[test]
fn days() {
    let expected = "a day that exists, from 1900 to 2199, written year-month-day such as 2026-03-14";
    for bad in [
        "2023-02-29",
        "14.03.2026",
        "3/14/2026",
        "2026-3-14",
        "20260314",
        "2026-03-14T10:00",
        "1899-12-31",
        "today",
    ] {
        assert_eq!(
            refusal(bent("2024-02-29", bad)),
            format!("row[4].training_date: found `{bad}`; expected {expected}")
        );
    }
}

#[test]
fn words() {
    let stops = "one of target, strength, balance, line, failed, chosen, pain, interrupted, other";
    let purposes = "one of working, attempt, practice, test, free";
    for (from, bad, wanted) in [
        (
            ",chosen,",
            ",chose,",
            format!("row[4].stop: found `chose`; expected {stops}; did you mean `chosen`?"),
        ),
        (
            ",chosen,",
            ",Chosen,",
            format!("row[4].stop: found `Chosen`; expected {stops}; did you mean `chosen`?"),
        ),
        (",chosen,", ",exhaustion,", format!("row[4].stop: found `exhaustion`; expected {stops}")),
        (
            ",free,",
            ",freee,",
            format!("row[4].purpose: found `freee`; expected {purposes}; did you mean `free`?"),
        ),
        (",free,", ",0,", format!("row[4].purpose: found `0`; expected {purposes}")),
    ] {
        assert_eq!(refusal(bent(from, bad)), wanted);
    }
}

#[test]
fn rungs_are_written_with_their_ladder() {
    for bad in ["pull-up", "pull/", "Pull/Pull-up", "pull/pull-up/x", "pull pull-up"] {
        assert_eq!(
            refusal(bent("pull/pull-up", bad)),
            format!("row[2].rung: found `{bad}`; expected a rung such as pull/pull-up")
        );
    }
}

#[test]
fn needed_cells_are_missed() {
    let needed = "found nothing; expected a value: this column is needed in every row";
    for (from, to, column) in [
        (",lark,", ",,", "athlete"),
        (",2024-02-29,", ", ,", "training_date"),
        (",2,7,", ",2,,", "set_number"),
        ("pull/lowering", "", "rung"),
        (",free,", ",,", "purpose"),
        (",chosen,", ",,", "stop"),
    ] {
        assert_eq!(refusal(bent(from, to)), format!("row[4].{column}: {needed}"));
    }
}

#[test]
fn one_unit_is_filled() {
    assert_eq!(
        refusal(bent(",6,8,", ",,8,")),
        "row[4].done: found nothing; expected the clean units done, in reps, hold_seconds or lowering_seconds"
    );
    assert_eq!(
        refusal(bent(",,,6,8,", ",4,,6,8,")),
        "row[4].done: found reps and lowering_seconds; expected one of these columns filled, the others empty"
    );
    assert_eq!(rows(bent(",6,8,", ",0,8,"))[2].draft.done, Some((Unit::LoweringSeconds, 0)), "0 is filled");
}

#[test]
fn rows_have_as_many_cells_as_the_header() {
    let expected = "expected 20 cells as in the header; a cell that holds the separator stands in quotes, decimals \
                    have a point";
    assert_eq!(refusal(bent("180,-2.5,", "180,-2,5,")), format!("row[2]: found 21 cells; {expected}"));
    assert_eq!(refusal(bent(",3,l-1", "")), format!("row[4]: found 18 cells; {expected}"));
    assert_eq!(refusal(format!("{SHEET}and so on\n")), format!("row[5]: found 1 cells; {expected}"));
}

#[test]
fn broken_utf8_is_named_by_row_column_and_byte() {
    let mut bytes = SHEET.as_bytes().to_vec();
    let at = SHEET.find("second line").unwrap();
    bytes[at] = 0xE9;
    assert_eq!(
        refusal(&bytes),
        format!(
            "row[3].note: found 0xE9 at byte {} of the file, which is not UTF-8; expected text in UTF-8; save the \
             sheet in that encoding",
            at + 1
        )
    );
    // In a needed number, in one of the units and in the last cell of the file; after a byte order mark.
    for (mark, row, column) in
        [("7,pull", 4, "set_number"), ("5,,,5,target", 2, "reps"), ("l-1", 4, "client_set_id")]
    {
        let at = SHEET.find(mark).unwrap();
        let mut bytes = [b"\xEF\xBB\xBF", SHEET.as_bytes()].concat();
        bytes[at + 3] = 0xC3;
        let text = refusal(&bytes);
        assert!(
            text.starts_with(&format!("row[{row}].{column}: found 0xC3 at byte {} of", at + 4)),
            "{text}"
        );
    }
}

#[test]
fn quotes_are_closed_and_doubled() {
    let expected = "expected cells that hold a quote in quotes, the quotes within them doubled";
    let at = SHEET.find("lark").unwrap();
    assert_eq!(
        refusal(bent("lark", "\"lark")),
        format!(
            "row[4]: found a quote that opens a cell and is never closed, at byte {} of the file; {expected}",
            at + 1
        )
    );
    assert_eq!(
        refusal(bent("lark", "\"la\"rk")),
        format!(
            "row[4]: found text after the quote that closes a cell, at byte {} of the file; {expected}",
            at + 1
        )
    );
    assert_eq!(
        refusal(bent("lark", "la\"rk")),
        format!(
            "row[4]: found a quote within a cell that does not begin with one, at byte {} of the file; {expected}",
            at + 3
        )
    );
    // The rows after a faulty one are read, with their own problems.
    let sheet = bent("calm,wren", "calm,\"wren").replace(",free,", ",fun,");
    let found = refusals(sheet);
    assert!(found[0].starts_with("row[2]: found text after the quote"), "{found:#?}");
    assert!(found.last().unwrap().starts_with("row[4].purpose: found `fun`"), "{found:#?}");
}

#[test]
fn keys_are_used_once_for_each_athlete() {
    assert_eq!(
        refusal(bent("w-2", "w-1")),
        "row[3].client_set_id: found `w-1` as in row[2]; expected a key used once for each athlete; where it is \
         derived, a set number used once in a session"
    );
    assert_eq!(rows(bent("l-1", "w-1")).len(), 3, "another athlete may have the same key");
    let twice = "athlete,training_date,set_number,rung,purpose,reps,stop\n\
                 wren,2026-03-14,1,pull/pull-up,test,3,strength\n\
                 wren,2026-03-14,1,pull/pull-up,test,2,strength\n\
                 wren,2026-03-14,1,pull/pull-up,test,2,strength\n";
    let found = refusals(twice);
    assert!(
        found[0].starts_with("row[3].client_set_id: found `wren:2026-03-14:1:1` as in row[2];"),
        "{found:#?}"
    );
    assert!(
        found[1].starts_with("row[4].client_set_id: found `wren:2026-03-14:1:1` as in row[3];"),
        "{found:#?}"
    );
}

#[test]
fn missing_keys_are_derived_the_same_each_time() {
    let sheet = bent(",w-1", ",");
    let key = rows(&sheet)[0].draft.client_set_id.clone();
    assert_eq!(key, "wren:2026-03-14:1:1");
    assert_eq!(rows(&sheet)[0].draft.client_set_id, key);
    assert_eq!(
        rows(bent(",w-2", ","))[1].draft.client_set_id,
        "wren:2026-03-14:1:2",
        "an empty session is the first"
    );
    let name = "Žuvėdra of the 早起き club, the second one of that name".to_owned();
    let long = sheet.replace("calm,wren,", &format!("calm,\"{name}\","));
    let key = rows(long)[0].draft.client_set_id.clone();
    assert_eq!(key, "-uv-dra-of-the-----club--the-second-one-:2026-03-14:1:1");
    assert!(nextrung_domain::ids::ClientSetId::new(&key).is_ok());
    let longest = nextrung_sheet::derived_set_id(
        &"x".repeat(100),
        nextrung_domain::date::CivilDate::parse("2199-12-31").unwrap(),
        9,
        200,
    );
    assert!(nextrung_domain::ids::ClientSetId::new(&longest).is_ok(), "{longest}");
}

#[test]
fn every_problem_of_a_row_and_of_all_rows_is_reported() {
    let sheet =
        bent(",5,,,5,", ",5.5,,,x,").replace("180,-2.5,", "long,\"-2,5\",").replace(",free,", ",fun,");
    let found: Vec<String> =
        refusals(sheet).iter().map(|p| p.split(':').next().unwrap().to_owned()).collect();
    assert_eq!(
        found,
        ["row[2].reps", "row[2].planned_target", "row[2].rest_seconds", "row[2].load_kg", "row[4].purpose"]
    );
}

#[test]
fn beyond_200_problems_the_rest_is_counted() {
    let header = "athlete,training_date,set_number,rung,purpose,reps,stop\n";
    let bad =
        |n: usize| format!("{header}{}", "wren,2026-03-14,1,pull/pull-up,test,many,strength\n".repeat(n));
    assert_eq!(refusals(bad(MAX_PROBLEMS)).len(), MAX_PROBLEMS);
    let found = read_sets(bad(MAX_PROBLEMS + 1234).as_bytes()).unwrap_err();
    assert_eq!(found.len(), MAX_PROBLEMS + 1);
    assert_eq!(found[MAX_PROBLEMS - 1].field, "row[201].reps");
    assert_eq!(
        found[MAX_PROBLEMS].to_string(),
        "file: found 1234 more problems; expected the problems above mended first"
    );
}
