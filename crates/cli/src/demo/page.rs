//! The page a newcomer sees first: three athletes' next day, the reasons for one, and what to type next.

use std::path::Path;

use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::demo::{Day, Shown};
use crate::lexicon::Lexicon;
use crate::names::{parent, short};
use crate::output::Layout;
use crate::paragraph::{hanging, list as bullets, paragraph};
use crate::view::{explanation, hold_back, prescription};

/// Candidates shown for the part that is explained.
const CANDIDATES: usize = 6;

/// The whole page but for what to type next.
pub(super) fn page(shown: &Shown, layout: Layout) -> String {
    let mut page = opening(shown, layout);
    page += &day(&shown.explained, &shown.lexicon, layout);
    page += &why(shown, layout);
    page += &day(&shown.other, &shown.lexicon, layout);
    page += &day(&shown.held_back, &shown.lexicon, layout);
    page += &prescription::section("Cautions", &bullets(&cautions(shown), layout.width), layout);
    page
}

fn opening(shown: &Shown, layout: Layout) -> String {
    let text = format!(
        "An invented strength group of a climbing hall: {} athletes, {} sets of half a year, sent through gRPC to a \
         fresh service on this machine and kept in {:.1} s. What should they train tomorrow, and why?",
        shown.athletes,
        shown.sets,
        shown.took.as_secs_f64()
    );
    paragraph(&text, layout.width, 0)
}

/// One athlete's day: the work, one line of reason for each part, the goals, what is held back.
fn day(day: &Day, lexicon: &Lexicon, layout: Layout) -> String {
    let made = &day.made;
    let mut page = format!("\n{}\n{}", rule(layout), prescription::head(made, &day.who, layout));
    page += &prescription::work(made, lexicon, layout);
    if !made.items.is_empty() {
        page += "\n";
    }
    for (at, item) in made.items.iter().enumerate() {
        let reason = item.reasons.first().map(|reason| reason.sentence.as_str()).unwrap_or_default();
        page += &hanging(&format!("  {}  ", at + 1), reason, layout.width);
    }
    page += &prescription::section("Goals", &prescription::goals(made, lexicon, layout.width), layout);
    let held = hold_back::page(&made.hold_backs, lexicon, layout.width);
    page + &prescription::section("Held back", &held, layout)
}

/// The candidates of the first working part, and what was known.
fn why(shown: &Shown, layout: Layout) -> String {
    let items = &shown.explained.made.items;
    let is_working = |item: &v1::ItemExplanation| {
        let prescribed = usize::try_from(item.item_index).ok().and_then(|at| items.get(at));
        prescribed.is_some_and(|item| item.block == i32::from(v1::Block::Working))
    };
    let Some(part) = shown.explanation.items.iter().find(|item| is_working(item)) else {
        return String::new();
    };
    let table = explanation::candidate_table(&part.candidates, CANDIDATES, &shown.lexicon, layout);
    let sentences: String = part.sentences.iter().map(|text| paragraph(text, layout.width, 2)).collect();
    prescription::section("Why that working rung", &(table + &sentences), layout)
}

/// The cautions of all three days, each once.
fn cautions(shown: &Shown) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for day in [&shown.explained, &shown.other, &shown.held_back] {
        for caution in &day.made.cautions {
            if !all.contains(caution) {
                all.push(caution.clone());
            }
        }
    }
    all
}

fn rule(layout: Layout) -> String {
    layout.faint(&"─".repeat(layout.width))
}

/// What to type next; every line works as it stands.
pub(super) fn next(shown: &Shown, kept: Option<&Path>, today: CivilDate) -> String {
    let program = program();
    let Some(database) = kept else {
        return format!(
            "\nNext\n  {program} demo --keep try      the same, kept, with what to type then\n  {program} --help\n"
        );
    };
    let tomorrow = today.plus_days(1);
    let athlete = short(parent(&shown.explained.made.name));
    let roster = short(parent(parent(&shown.explained.made.name)));
    format!(
        "\nNext, in one terminal\n  {}\nand in another\n  {program} athlete list {roster}\n  \
         {program} prescribe {roster}/swift --date {tomorrow}\n  {program} why {}\n  \
         {program} capacity {athlete} --ladder pull --date {tomorrow}\n  {program} record {athlete} --date {tomorrow} \
         --set 1 --rung pull/pull-up --reps 5 --target 5 --stop target\n",
        serve(database, today),
        short(&shown.explained.made.name),
    )
}

/// The command that serves a database of the demo.
pub(super) fn serve(database: &Path, today: CivilDate) -> String {
    format!("{} serve --database {} --today {today}", program(), database.display())
}

/// How this program was called, so that the commands shown work from the same place.
fn program() -> String {
    std::env::args().next().unwrap_or_else(|| "nextrung".to_owned())
}
