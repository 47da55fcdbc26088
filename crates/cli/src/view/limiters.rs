//! Review as a page: what comes first and the change for it, the five limiters, the audit, the sets that show it.

use nextrung_api::v1;

use crate::calendar::iso;
use crate::lexicon::Lexicon;
use crate::names::last;
use crate::output::Layout;
use crate::paragraph::{list as bullets, paragraph};
use crate::table::Columns;
use crate::view::figure::{chance, units};
use crate::view::prescription::section;
use crate::words;

const LEGEND: &str = "How much: for strength, balance and line the share of the failures at the goal that each would cause; for \
                      the wrong rung the share of working sets outside the band; for training the share that was missing of \
                      what common practice asks for. First: the chance to be what holds back most; a habit that is off (training, rung) \
                      comes before the abilities even with a smaller share, since they cannot grow without it.";

/// The page.
pub(crate) fn page(found: &v1::LimiterReview, who: &str, lexicon: &Lexicon, layout: Layout) -> String {
    let goal = lexicon.rung(&found.goal_rung);
    let (start, end) = (iso(found.start_date.as_ref()), iso(found.end_date.as_ref()));
    let title = format!("{who}: what holds back from {goal}, {start} to {end}");
    let mut page = format!("{}\n", layout.strong(&title));
    let headline = found.sentences.first().map_or("", String::as_str);
    page += &paragraph(headline, layout.width, 2);
    page += &section("Change first", &paragraph(&found.change, layout.width, 2), layout);
    page += &section("What holds back", &limiters(found, layout), layout);
    page += &section("The training against common practice", &audit(&found.audit, layout), layout);
    page += &section("Sets that show it", &evidence(found, layout), layout);
    page += &section("In words", &in_words(found, layout), layout);
    page += &section("Cautions", &bullets(&found.cautions, layout.width), layout);
    page += &format!("\n{}\n", layout.faint(paragraph(LEGEND, layout.width, 0).trim_end()));
    page += &format!("{}\n", layout.faint(&format!("From log position {}.", found.log_position)));
    page
}

fn limiters(found: &v1::LimiterReview, layout: Layout) -> String {
    let mut table = Columns::new(&["", "limiter", ">how much", ">80 % range", ">first"]);
    for one in &found.findings {
        let is_first = one.limiter == found.first;
        let interval = one.interval.unwrap_or_default();
        // An ability that the goal does not ask for has no figures.
        let is_asked = !one.figures.is_empty();
        let if_asked = |text: String| if is_asked { text } else { "-".to_owned() };
        table.row([
            if is_first { "->".to_owned() } else { String::new() },
            words::phrase_of::<v1::Limiter>(one.limiter),
            if_asked(chance(one.weight)),
            if_asked(format!("{} to {}", chance(interval.low), chance(interval.high))),
            if_asked(chance(one.probability_first)),
        ]);
    }
    table.render(layout)
}

fn audit(lines: &[v1::AuditLine], layout: Layout) -> String {
    let mut table = Columns::new(&["", "counted", ">was", ">asked for", "unit"]);
    for line in lines {
        let is_share = line.unit == "share";
        let number = |value: f64| if is_share { chance(value) } else { trimmed(value) };
        let asked = match (line.at_least, line.at_most) {
            (Some(least), Some(most)) => format!("{} to {}", number(least), number(most)),
            (Some(least), None) => format!("{} or more", number(least)),
            (None, Some(most)) => format!("{} or less", number(most)),
            (None, None) => String::new(),
        };
        table.row([
            if line.is_off { "!".to_owned() } else { String::new() },
            line.measure.replace('-', " "),
            number(line.value),
            asked,
            if is_share { String::new() } else { line.unit.replace('-', " ") },
        ]);
    }
    table.render(layout)
}

/// A count without a decimal that says nothing.
fn trimmed(value: f64) -> String {
    let text = units(value);
    text.strip_suffix(".0").map_or_else(|| text.clone(), str::to_owned)
}

/// The sets behind the limiters, those of the likelier ones first.
fn evidence(found: &v1::LimiterReview, layout: Layout) -> String {
    let shown = found.findings.iter().filter(|f| !f.evidence_sets.is_empty() && f.probability_first >= 0.05);
    let line = |one: &v1::LimiterFinding| {
        let sets: Vec<&str> = one.evidence_sets.iter().map(|set| last(set)).collect();
        format!("{}: {}", words::phrase_of::<v1::Limiter>(one.limiter), sets.join(", "))
    };
    bullets(&shown.map(line).collect::<Vec<String>>(), layout.width)
}

/// The sentences between the headline and the change, which stand further up.
fn in_words(found: &v1::LimiterReview, layout: Layout) -> String {
    let rest: Vec<String> =
        found.sentences.iter().skip(1).filter(|text| **text != found.change).cloned().collect();
    bullets(&rest, layout.width)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(limiter: v1::Limiter, weight: f64, first: f64) -> v1::LimiterFinding {
        v1::LimiterFinding {
            limiter: limiter.into(),
            weight,
            interval: Some(v1::Interval { level: 0.8, low: weight / 2.0, high: weight }),
            probability_first: first,
            figures: vec![v1::Figure::default()],
            evidence_sets: vec!["rosters/hall/athletes/wren/sets/a-1".to_owned()],
            ..v1::LimiterFinding::default()
        }
    }

    #[test]
    fn the_first_is_marked_and_what_is_off_too() {
        let found = v1::LimiterReview {
            goal_rung: "ladders/press/rungs/free-press".to_owned(),
            start_date: Some(v1::Date { year: 2026, month: 9, day: 1 }),
            end_date: Some(v1::Date { year: 2026, month: 11, day: 23 }),
            log_position: 42,
            first: v1::Limiter::Balance.into(),
            findings: vec![
                finding(v1::Limiter::Balance, 0.8, 0.9),
                finding(v1::Limiter::WrongRung, 0.2, 0.01),
            ],
            audit: vec![v1::AuditLine {
                measure: "exposures-a-week".to_owned(),
                value: 2.0,
                at_least: Some(3.0),
                unit: "days-a-week".to_owned(),
                is_off: true,
                ..v1::AuditLine::default()
            }],
            change: "Practise more.".to_owned(),
            sentences: vec![
                "Balance it is.".to_owned(),
                "More on it.".to_owned(),
                "Practise more.".to_owned(),
            ],
            cautions: Vec::new(),
        };
        let page = page(&found, "hall/wren", &Lexicon::default(), Layout::PLAIN);
        let expected = "\
hall/wren: what holds back from press/free-press, 2026-09-01 to 2026-11-23
  Balance it is.

Change first
  Practise more.

What holds back
      limiter     how much    80 % range  first
  ->  balance         80 %  40 % to 80 %   90 %
      wrong rung      20 %  10 % to 20 %    1 %

The training against common practice
     counted           was  asked for  unit
  !  exposures a week    2  3 or more  days a week

Sets that show it
  - balance: a-1

In words
  - More on it.
";
        assert!(page.starts_with(expected), "{page}");
        assert!(page.ends_with("From log position 42.\n"), "{page}");
    }
}
