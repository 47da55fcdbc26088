//! The page a newcomer sees first: three athletes' next day, the reasons for one, and what to type next.

use std::path::Path;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::demo::{Day, Shown, Weeks};
use crate::lexicon::Lexicon;
use crate::names::{parent, short};
use crate::output::Layout;
use crate::paragraph::{hanging, list as bullets, paragraph};
use crate::shell::quoted;
use crate::view::figure::and_list;
use crate::view::{explanation, hold_back, prescription};

/// Candidates shown for the part that is explained.
const CANDIDATES: usize = 6;

/// What the columns of the table of work mean.
const LEGEND: &str = "Could do: the median of a fresh set, with its 80 % range. Chance: of landing in the band of the part; for a \
                      test, of reaching it.";

/// The whole page but for what to type next.
pub(super) fn page(shown: &Shown, layout: Layout) -> String {
    let mut page = opening(shown, layout);
    page += &day(&shown.explained, &shown.lexicon, layout);
    page += &why(shown, layout);
    page += &day(&shown.other, &shown.lexicon, layout);
    page += &day(&shown.held_back, &shown.lexicon, layout);
    page += &weeks(shown, layout);
    page += &format!("\n{}\n", rule(layout));
    page += &format!("{}\n{}", layout.strong("Cautions"), bullets(&cautions(shown), layout.width));
    page
}

fn opening(shown: &Shown, layout: Layout) -> String {
    let text = format!(
        "An invented strength group of a climbing hall: {} athletes, {} sets of half a year, sent through gRPC to a \
         fresh service on this machine and kept in {:.1} s. The working rung is the one on which an athlete's best is \
         three to five clean reps, the attempt rung the harder one on which it is one or two; holds and lowerings \
         count seconds. Three athletes tomorrow:",
        shown.athletes,
        shown.sets,
        shown.took.as_secs_f64()
    );
    format!("{}\n{}", layout.strong("Which rung next, and why"), paragraph(&text, layout.width, 0))
}

/// One athlete's day: where the goals stand, the work, one line of reason for each part, what is held back.
fn day(day: &Day, lexicon: &Lexicon, layout: Layout) -> String {
    let made = &day.made;
    let mut page = format!("\n{}\n{}\n", rule(layout), layout.strong(&prescription::title(made, &day.who)));
    if made.items.is_empty() {
        let goals: Vec<String> = made.goal_statuses.iter().map(|goal| lexicon.rung(&goal.rung)).collect();
        page += &format!("Goal: {}. {} sets on record.\n\n", and_list(&goals), day.sets);
        return page + &hold_back::page(&made.hold_backs, lexicon, layout.width);
    }
    let goals: Vec<&str> = made.goal_statuses.iter().map(|goal| goal.sentence.as_str()).collect();
    page += &paragraph(&format!("{} {} sets on record.", goals.join(" "), day.sets), layout.width, 0);
    page += &prescription::work(made, lexicon, layout);
    page.push('\n');
    for (at, item) in made.items.iter().enumerate() {
        let reason = item.reasons.first().map(|reason| reason.sentence.as_str()).unwrap_or_default();
        page += &hanging(&format!("  {}  ", at + 1), reason, layout.width);
    }
    page + &held_rungs(made, lexicon, layout)
}

/// The rungs that are held back, by name alone.
fn held_rungs(made: &v1::Prescription, lexicon: &Lexicon, layout: Layout) -> String {
    let mut rungs: Vec<String> = Vec::new();
    for held in &made.hold_backs {
        let rung = lexicon.rung(&held.rung);
        if !rungs.contains(&rung) {
            rungs.push(rung);
        }
    }
    let text = format!("Held back for now: {}.", rungs.join("; "));
    if rungs.is_empty() { String::new() } else { hanging("  -  ", &text, layout.width) }
}

/// The candidates of the first working part, and the sentences that have not been said above.
fn why(shown: &Shown, layout: Layout) -> String {
    let items = &shown.explained.made.items;
    let item_of =
        |part: &v1::ItemExplanation| usize::try_from(part.item_index).ok().and_then(|at| items.get(at));
    let working = shown.explanation.items.iter().find_map(|part| {
        let item = item_of(part).filter(|item| item.block == i32::from(v1::Block::Working))?;
        Some((part, item))
    });
    let Some((part, item)) = working else { return String::new() };
    let rung = shown.lexicon.work(&item.rung, &item.shadings, item.load_kg);
    let table = explanation::candidate_table(&part.candidates, CANDIDATES, &shown.lexicon, layout);
    let said = item.reasons.first().map(|reason| &reason.sentence);
    let rest: Vec<&str> =
        part.sentences.iter().filter(|text| Some(*text) != said).map(String::as_str).collect();
    let text = paragraph(&rest.join(" "), layout.width, 2);
    let legend = format!("{LEGEND} {}", explanation::SCORE);
    let legend = layout.faint(paragraph(&legend, layout.width, 2).trim_end());
    let title = format!("Why this working rung: {rung}");
    prescription::section(&title, &format!("{table}\n{text}{legend}\n"), layout)
}

/// Over the weeks: what holds one athlete back and the change proposed first, the next week, when a goal is likely.
fn weeks(shown: &Shown, layout: Layout) -> String {
    let Weeks { review, plan, forecast } = &shown.weeks;
    let line = |who: &str, what: &str, text: &str| {
        hanging(&format!("  {:<21}", format!("{who}, {what}")), text, layout.width)
    };
    let held = [review.sentences.first().map(String::as_str), Some(review.change.as_str())];
    let ahead: Vec<&str> = forecast.sentences.iter().take(3).map(String::as_str).collect();
    let assumed = forecast.lines.first().map(|line| line.assumption.as_str());
    format!("\n{}\n{}\n", rule(layout), layout.strong("Over the weeks"))
        + &line(&shown.other.who, "review", &held.into_iter().flatten().collect::<Vec<_>>().join(" "))
        + &line(&shown.other.who, "week", plan.sentences.first().map_or("", String::as_str))
        + &line(
            &shown.explained.who,
            "forecast",
            &[&ahead[..], &assumed.into_iter().collect::<Vec<_>>()].concat().join(" "),
        )
}

/// The cautions of all three days, each once: first those that all of them have.
fn cautions(shown: &Shown) -> Vec<String> {
    let days = [&shown.explained, &shown.other, &shown.held_back];
    let is_common = |text: &String| days.iter().all(|day| day.made.cautions.contains(text));
    let mut all: Vec<String> = Vec::new();
    for text in days.iter().flat_map(|day| &day.made.cautions) {
        if !all.contains(text) {
            all.push(text.clone());
        }
    }
    let (common, own): (Vec<String>, Vec<String>) = all.into_iter().partition(is_common);
    [common, own].concat()
}

fn rule(layout: Layout) -> String {
    layout.faint(&"─".repeat(layout.width))
}

/// What to type next; every line works as it stands.
pub(super) fn next(shown: &Shown, kept: Option<&Path>, today: CivilDate, layout: Layout) -> String {
    let program = program();
    let title = |text: &str| format!("\n{}\n", layout.strong(text));
    let Some(database) = kept else {
        return title("Next")
            + &format!(
                "  # the same, kept, with the commands to go on\n  {program} demo --keep try\n  {program} --help\n"
            );
    };
    let tomorrow = today.plus_days(1);
    let prescribed = short(&shown.explained.made.name);
    let athlete = short(parent(&shown.explained.made.name));
    let other = short(parent(&shown.other.made.name));
    let commands = [
        format!("athlete list {}", short(parent(parent(&shown.explained.made.name)))),
        format!("why {prescribed}"),
        format!("prescribe {other} --date {tomorrow}"),
        format!("capacity {athlete} --ladder pull --date {tomorrow}"),
        format!(
            "record {athlete} --date {tomorrow} --set 1 --rung pull/pull-up --reps 5 --target 5 --stop target"
        ),
        format!("sets list {athlete} --last 5"),
        format!("suppose {athlete} --date {tomorrow} --pause 14"),
        format!("review {other} --to {today}"),
        format!("gates {other} --date {today}"),
        format!("week {other} --start {tomorrow}"),
        format!("trend {athlete} --to {today} --svg trend.svg"),
        format!("forecast {athlete} --date {today} --svg forecast.svg"),
    ];
    let mut page = title("Next, in one terminal") + &format!("  {}\n", serve(database, today));
    page += &title("and in another");
    commands.iter().for_each(|command| page += &format!("  {program} {command}\n"));
    page
}

/// The command that serves a database of the demo.
pub(super) fn serve(database: &Path, today: CivilDate) -> String {
    format!("{} serve --database {} --today {today}", program(), quoted(&database.display().to_string()))
}

/// How this program was called, so that the commands shown work from the same place.
fn program() -> String {
    quoted(&std::env::args().next().unwrap_or_else(|| "nextrung".to_owned()))
}
