//! Athletes as pages.

use nextrung_api::v1;

use crate::calendar::iso;
use crate::lexicon::Lexicon;
use crate::names::short;
use crate::output::Layout;
use crate::paragraph::hanging;
use crate::table::Columns;
use crate::view::roster::bands;
use crate::words;

/// A list of athletes.
pub(crate) fn list(athletes: &[v1::Athlete], layout: Layout) -> String {
    if athletes.is_empty() {
        return "no athletes yet: nextrung athlete add ROSTER/ATHLETE --name NAME\n".to_owned();
    }
    let mut table = Columns::new(&["athlete", "name", "~goals", "days", "~equipment"]);
    for athlete in athletes {
        let goals: Vec<String> = athlete.goals.iter().map(|goal| short(&goal.rung)).collect();
        table.row([
            short(&athlete.name),
            athlete.display_name.clone(),
            goals.join(", "),
            days(athlete),
            athlete.equipment.join(", "),
        ]);
    }
    table.render_wide(layout)
}

/// One athlete.
pub(crate) fn page(athlete: &v1::Athlete, lexicon: &Lexicon, layout: Layout) -> String {
    let mut page =
        format!("{}\n", layout.strong(&format!("{} ({})", athlete.display_name, short(&athlete.name))));
    for (what, text) in facts(athlete, lexicon) {
        page += &hanging(&format!("  {what:<11}"), &text, layout.width);
    }
    page
}

fn facts(athlete: &v1::Athlete, lexicon: &Lexicon) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    for goal in &athlete.goals {
        let by = goal.by_date.map(|day| format!(" by {}", iso(Some(&day)))).unwrap_or_default();
        facts.push(("goal", format!("{} [{}]{by}", lexicon.rung(&goal.rung), short(&goal.rung))));
    }
    if let Some(kg) = athlete.body_mass_kg {
        facts.push(("body mass", format!("{kg} kg")));
    }
    if athlete.birth_date.is_some() {
        facts.push(("born", iso(athlete.birth_date.as_ref())));
    }
    let equipment =
        if athlete.equipment.is_empty() { "the floor".to_owned() } else { athlete.equipment.join(", ") };
    facts.push(("equipment", equipment));
    facts.push(("days", days(athlete)));
    facts.push(("limits", limits(athlete.limits.as_ref())));
    let told = |rung: &str, reason: &str| format!("{} [{}]: {reason}", lexicon.rung(rung), short(rung));
    if let Some(limits) = &athlete.limits {
        facts.extend(limits.banned_rungs.iter().map(|ban| ("banned", told(&ban.rung, &ban.reason))));
        facts.extend(limits.pinned_rungs.iter().map(|pin| ("pinned", told(&pin.rung, &pin.reason))));
        facts.extend(limits.capped_rungs.iter().map(|cap| ("at hardest", told(&cap.rung, &cap.reason))));
    }
    for given in &athlete.clearances {
        let what = words::phrase_of::<v1::Clearance>(given.clearance);
        facts.push((
            "cleared",
            format!("{what}, {} by {}", iso(given.confirmed_date.as_ref()), given.confirmed_by),
        ));
    }
    facts.extend(bands(athlete.bands.as_ref()).into_iter().map(|line| ("bands", line)));
    facts
}

fn limits(limits: Option<&v1::AthleteLimits>) -> String {
    let limits = limits.cloned().unwrap_or_default();
    let shown = |value: Option<i32>| value.map_or_else(|| "as usual".to_owned(), |value| value.to_string());
    format!(
        "pain {}, sets {}, minutes {}",
        shown(limits.max_pain),
        shown(limits.max_sets_per_session),
        shown(limits.max_minutes)
    )
}

fn days(athlete: &v1::Athlete) -> String {
    if athlete.available_weekdays.is_empty() {
        return "any".to_owned();
    }
    let short = |number: &i32| words::word_of::<v1::Weekday>(*number).chars().take(3).collect::<String>();
    athlete.available_weekdays.iter().map(short).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wren() -> v1::Athlete {
        let limits = v1::AthleteLimits {
            max_pain: Some(2),
            banned_rungs: vec![v1::BannedRung {
                rung: "ladders/pull/rungs/archer".to_owned(),
                reason: "left elbow".to_owned(),
            }],
            ..v1::AthleteLimits::default()
        };
        v1::Athlete {
            name: "rosters/hall/athletes/wren".to_owned(),
            display_name: "Wren".to_owned(),
            body_mass_kg: Some(61.5),
            goals: vec![v1::Goal { rung: "ladders/pull/rungs/one-arm-pull-up".to_owned(), by_date: None }],
            equipment: vec!["bar".to_owned(), "band".to_owned()],
            available_weekdays: vec![1, 3],
            limits: Some(limits),
            clearances: vec![v1::Confirmation {
                clearance: i32::from(v1::Clearance::InvertedWork),
                confirmed_date: Some(v1::Date { year: 2026, month: 5, day: 4 }),
                confirmed_by: "physician".to_owned(),
            }],
            ..v1::Athlete::default()
        }
    }

    #[test]
    fn a_page_has_every_fact_that_is_known() {
        let expected = "Wren (hall/wren)
  goal       pull/one-arm-pull-up [pull/one-arm-pull-up]
  body mass  61.5 kg
  equipment  bar, band
  days       mon, wed
  limits     pain 2, sets as usual, minutes as usual
  banned     pull/archer [pull/archer]: left elbow
  cleared    inverted work, 2026-05-04 by physician
";
        assert_eq!(page(&wren(), &Lexicon::default(), Layout::PLAIN), expected);
    }

    #[test]
    fn a_list_has_one_row_each() {
        let expected = "  athlete    name  goals                 days      equipment
  hall/wren  Wren  pull/one-arm-pull-up  mon, wed  bar, band
";
        assert_eq!(list(&[wren()], Layout::PLAIN), expected);
        assert!(list(&[], Layout::PLAIN).contains("nextrung athlete add"));
    }
}
