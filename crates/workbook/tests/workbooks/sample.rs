//! Sample: an invented athlete whose words try to be formulas.

use nextrung_domain::date::CivilDate;
use nextrung_workbook::book::AthleteBook;
use nextrung_workbook::book::capacity::{Block, Capacity};
use nextrung_workbook::book::log::LoggedRow;
use nextrung_workbook::book::week::{Day, Week};
use nextrung_workbook::session::{Item, Note, Section, Session};

/// Texts that a spreadsheet would take for formulas, or could not hold.
pub(crate) const BAD: [&str; 7] =
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "=cmd|' /C calc'!A0\u{0}\u{1b}"];

pub(crate) fn day(number: i32) -> CivilDate {
    CivilDate::LAST.plus_days(0).min(CivilDate::from_day_number(20_780 + number).unwrap_or(CivilDate::LAST))
}

pub(crate) fn session(who: &str) -> Session {
    let item = Item {
        part: "working".to_owned(),
        work: "Pull-up, light band".to_owned(),
        dose: "4 x 3-5 reps".to_owned(),
        rest: "3 min".to_owned(),
        could_do: "4.1 (3.2 to 5.3)".to_owned(),
        chance: 0.716,
        notes: vec![
            Note { label: "why", sentences: vec!["It is in the band. ".repeat(12)] },
            Note { label: "stop", sentences: vec![BAD[0].to_owned()] },
            Note { label: "cues", sentences: Vec::new() },
        ],
    };
    Session {
        title: format!("Next session of {who}, Monday 23 November 2026: training"),
        headline: BAD[3].to_owned(),
        items: vec![item.clone(), Item { work: BAD[0].to_owned(), ..item }],
        sections: vec![
            Section { title: "Goals", sentences: Vec::new() },
            Section { title: "Cautions", sentences: BAD.map(str::to_owned).to_vec() },
        ],
        origin: "hall/wren/1; from log position 7".to_owned(),
    }
}

fn logged(number: i32, note: &str) -> LoggedRow {
    LoggedRow {
        date: day(number),
        session: 1,
        set_number: number,
        work: "Pull-up".to_owned(),
        rung: "pull/pull-up".to_owned(),
        purpose: "working".to_owned(),
        reps: Some(5),
        seconds: None,
        planned_target: Some(5),
        stop: "target".to_owned(),
        reps_in_reserve: Some(0),
        rest_seconds: None,
        load_kg: -2.5,
        body_mass_kg: Some(61.5),
        tempo: "31X1".to_owned(),
        pain: None,
        note: note.to_owned(),
        id: format!("wren:{number}"),
    }
}

pub(crate) fn athlete_book() -> AthleteBook {
    let capacity = |rung: &str, median: f64| Capacity {
        rung: rung.to_owned(),
        median,
        low: median * 0.8,
        high: median * 1.3,
        band: "3-5".to_owned(),
        band_high: 5.0,
        reached: 0.93,
    };
    let day = |number: i32| Day {
        weekday: "Mon".to_owned(),
        date: day(number),
        purpose: "bent-arm".to_owned(),
        parts: "4 x pull".to_owned(),
        hard: "vertical pull".to_owned(),
        sets: 4,
        why: BAD[1].to_owned(),
    };
    AthleteBook {
        title: BAD[0].to_owned(),
        session: session("=Wren"),
        week: Week { days: (0..7).map(day).collect(), headline: BAD[2].to_owned(), ..Week::default() },
        capacity_note: BAD[0].to_owned(),
        capacities: vec![
            Block {
                title: BAD[0].to_owned(),
                unit: "Reps",
                rungs: vec![capacity("Pull-up", 4.1), capacity(BAD[0], 0.1)],
            },
            Block {
                title: "Pull".to_owned(),
                unit: "Seconds of holding",
                rungs: vec![capacity("Chin over bar", 20.0)],
            },
        ],
        log: (0..).zip(BAD).map(|(number, note)| logged(number, note)).collect(),
    }
}
