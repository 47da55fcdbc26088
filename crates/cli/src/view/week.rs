//! Week as a page.

use nextrung_api::v1;

use crate::calendar::{iso, long};
use crate::lexicon::Lexicon;
use crate::names::last;
use crate::output::Layout;
use crate::paragraph::{hanging, list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::and_list;
use crate::view::prescription::section;
use crate::words;

/// The page: what is planned, seven rows, wishes, why each day is as it is.
pub(crate) fn page(found: &v1::WeekPlan, who: &str, lexicon: &Lexicon, layout: Layout) -> String {
    let title = format!("{who}, the week from {}", long(found.start_date.as_ref()));
    let mut page = format!("{}\n", layout.strong(&title));
    let (first, more) = found.sentences.split_first().map_or(("", &[][..]), |(f, m)| (f.as_str(), m));
    page += &paragraph(first, layout.width, 0);
    page += &format!("\n{}", rows(found, lexicon, layout));
    let told: Vec<&String> =
        more.iter().filter(|s| !found.wishes.iter().any(|w| w.sentence == **s)).collect();
    let sections = [
        ("Wishes", wishes(found, layout.width)),
        ("Why", why(found, layout.width)),
        ("The plan", bullets(told, layout.width)),
        ("Cautions", bullets(&found.cautions, layout.width)),
    ];
    for (title, body) in sections {
        page += &section(title, &body, layout);
    }
    page += &format!("\n{}\n", layout.faint(&origin(found)));
    page
}

/// The name of a day's weekday, short: `Mon`.
pub(crate) fn short_day(day: &v1::PlannedDay) -> String {
    long(day.date.as_ref()).chars().take(3).collect()
}

/// What a day is for, in a word or two.
pub(crate) fn kind(day: &v1::PlannedDay) -> String {
    let sides: Vec<String> = day.sides.iter().map(|side| words::word_of::<v1::Side>(*side)).collect();
    let training = i32::from(v1::PrescriptionKind::Training);
    match (day.is_past, day.kind == training) {
        _ if day.is_missed => "missed".to_owned(),
        (true, true) => "done".to_owned(),
        (true, false) => String::new(),
        (false, true) if sides.is_empty() => "balance".to_owned(),
        (false, true) => and_list(&sides),
        (false, false) => words::phrase_of::<v1::PrescriptionKind>(day.kind),
    }
}

fn rows(found: &v1::WeekPlan, lexicon: &Lexicon, layout: Layout) -> String {
    let mut table = Columns::new(&["day", "", "for", "~parts, in order", "~hard on", ">sets"]);
    for day in &found.days {
        let mut parts: Vec<String> = Vec::new();
        let mut hard: Vec<String> = Vec::new();
        for part in &day.parts {
            parts.push(part_words(part, lexicon));
            let new = part.hard_abilities.iter().map(|a| a.replace('-', " "));
            hard.extend(new.filter(|a| !hard.contains(a)).collect::<Vec<_>>());
        }
        let sets: i32 = day.parts.iter().map(|p| p.sets).sum();
        table.row([
            short_day(day),
            iso(day.date.as_ref()),
            kind(day),
            parts.join(", "),
            hard.join(", "),
            if sets > 0 { sets.to_string() } else { String::new() },
        ]);
    }
    table.render(layout)
}

/// A part: its ladder, what it is where that is not plain working sets, and its sets.
pub(crate) fn part_words(part: &v1::PlannedPart, lexicon: &Lexicon) -> String {
    let ladder = last(&part.ladder);
    let ladder = if ladder.is_empty() { lexicon.ladder(&part.ladder) } else { ladder.to_owned() };
    let what = match v1::Block::try_from(part.block) {
        Ok(v1::Block::Attempt) => " attempts",
        Ok(v1::Block::Test) => " test",
        Ok(v1::Block::BalancePractice | v1::Block::Working | v1::Block::Unspecified) | Err(_) => "",
    };
    format!("{} x {ladder}{what}", part.sets)
}

/// Wishes, the missed ones first.
fn wishes(found: &v1::WeekPlan, width: usize) -> String {
    let (met, missed): (Vec<_>, Vec<_>) = found.wishes.iter().partition(|w| w.is_met);
    let line = |wish: &&v1::WeekWish| {
        let mark = if wish.is_met { "  met     " } else { "  missed  " };
        hanging(mark, &wish.sentence, width)
    };
    missed.iter().chain(&met).map(line).collect()
}

fn why(found: &v1::WeekPlan, width: usize) -> String {
    let line = |day: &v1::PlannedDay| hanging(&format!("  {}  ", short_day(day)), &day.sentence, width);
    found.days.iter().map(line).collect()
}

/// What it was made from.
pub(crate) fn origin(found: &v1::WeekPlan) -> String {
    format!(
        "{} points missed, the least of {} plans; open from {}; from log position {}, {}",
        found.cost,
        found.plans_weighed,
        iso(found.from_date.as_ref()),
        found.log_position,
        found.policy_version
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(number: i32, change: impl FnOnce(&mut v1::PlannedDay)) -> v1::PlannedDay {
        let mut day = v1::PlannedDay {
            date: Some(v1::Date { year: 2026, month: 11, day: number }),
            kind: v1::PrescriptionKind::Rest.into(),
            sentence: "Rest.".to_owned(),
            ..v1::PlannedDay::default()
        };
        change(&mut day);
        day
    }

    fn part(block: v1::Block, ladder: &str, sets: i32, hard: &[&str]) -> v1::PlannedPart {
        v1::PlannedPart {
            block: block.into(),
            ladder: format!("ladders/{ladder}"),
            hard_abilities: hard.iter().map(|h| (*h).to_owned()).collect(),
            sets,
        }
    }

    fn week() -> v1::WeekPlan {
        let training = i32::from(v1::PrescriptionKind::Training);
        v1::WeekPlan {
            start_date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            from_date: Some(v1::Date { year: 2026, month: 11, day: 25 }),
            log_position: 40,
            policy_version: "policy-3".to_owned(),
            days: vec![
                day(23, |d| (d.is_past, d.kind) = (true, training)),
                day(24, |d| (d.is_past, d.is_missed) = (true, true)),
                day(25, |d| {
                    d.kind = training;
                    d.sides = vec![v1::Side::BentArm.into(), v1::Side::Legs.into()];
                    d.parts = vec![
                        part(v1::Block::BalancePractice, "hand-balance", 5, &[]),
                        part(v1::Block::Attempt, "pull", 4, &["vertical-pull"]),
                        part(v1::Block::Working, "pull", 4, &["vertical-pull"]),
                    ];
                }),
                day(26, |_| ()),
            ],
            wishes: vec![
                v1::WeekWish { is_met: true, sentence: "One.".to_owned(), ..Default::default() },
                v1::WeekWish { sentence: "Two.".to_owned(), ..Default::default() },
            ],
            cost: 40.0,
            plans_weighed: 2401,
            sentences: ["Bent-arm on Wednesday.", "Two.", "And so on."].map(str::to_owned).to_vec(),
            cautions: vec!["Care.".to_owned()],
        }
    }

    #[test]
    fn a_week_stands_at_a_glance() {
        let expected = "\
hall/wren, the week from Monday 23 November 2026
Bent-arm on Wednesday.

  day              for                parts, in order                            hard on        sets
  Mon  2026-11-23  done
  Tue  2026-11-24  missed
  Wed  2026-11-25  bent-arm and legs  5 x hand-balance, 4 x pull attempts, 4 x   vertical pull    13
                                      pull
  Thu  2026-11-26  rest

Wishes
  missed  Two.
  met     One.

Why
  Mon  Rest.
  Tue  Rest.
  Wed  Rest.
  Thu  Rest.

The plan
  - And so on.

Cautions
  - Care.

40 points missed, the least of 2401 plans; open from 2026-11-25; from log position 40, policy-3
";
        assert_eq!(page(&week(), "hall/wren", &Lexicon::default(), Layout::PLAIN), expected);
    }
}
