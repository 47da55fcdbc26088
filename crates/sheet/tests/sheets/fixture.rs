//! A small sound sheet, and ways to ask what a bent one comes to.

use nextrung_domain::problem::Problem;
use nextrung_sheet::{SheetRow, read_sets};

/// Every column, in an order of its own; three sets of two athletes.
pub(crate) const SHEET: &str = "\
note,athlete,training_date,session,set_number,rung,purpose,shadings,reps,hold_seconds,lowering_seconds,\
planned_target,stop,reps_in_reserve,rest_seconds,load_kg,body_mass_kg,tempo,pain,client_set_id
calm,wren,2026-03-14,1,1,pull/pull-up,working,light-band slow-lowering,5,,,5,target,2,180,-2.5,61.25,31X1,0,w-1
\"windy, \"\"cold\"\"
second line\",wren,2026-03-14,,2,pull/hollow-hang,test,,,23,,,strength,,,,,,,w-2
,lark,2024-02-29,2,7,pull/lowering,free,,,,6,8,chosen,,60,,,,3,l-1
";

/// The one problem of `sheet`, as it reads.
#[track_caller]
pub(crate) fn refusal(sheet: impl AsRef<[u8]>) -> String {
    let problems = refusals(sheet);
    assert_eq!(problems.len(), 1, "{problems:#?}");
    problems[0].clone()
}

/// The problems of `sheet`, as they read.
#[track_caller]
pub(crate) fn refusals(sheet: impl AsRef<[u8]>) -> Vec<String> {
    let problems: Vec<Problem> = read_sets(sheet.as_ref()).expect_err("must be refused");
    assert!(!problems.is_empty(), "a refusal must say why");
    problems.iter().map(ToString::to_string).collect()
}

#[track_caller]
pub(crate) fn rows(sheet: impl AsRef<[u8]>) -> Vec<SheetRow> {
    read_sets(sheet.as_ref()).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

/// `SHEET` with the one place where `from` stands changed to `to`.
#[track_caller]
pub(crate) fn bent(from: &str, to: &str) -> String {
    assert_eq!(SHEET.matches(from).count(), 1, "`{from}` must stand once in the sheet");
    SHEET.replacen(from, to, 1)
}
