//! Spread: whether predictions are as wide as they should be, by their intervals and by ranks.

use nextrung_chart::coverage::{Coverage, Held, Line};
use nextrung_chart::ranks::Ranks;

use crate::evaluate::set_score::LEVELS;
use crate::evaluate::summary::{ForecasterFigures, Summary};
use crate::output::OutputError;
use crate::output::report::figure::{NONE, count, part, plain, score, share};
use crate::output::report::first;
use crate::output::report::page::Page;
use crate::output::report::table::Table;

/// Standard deviations within which 99 of 100 draws of a normal distribution lie (a table value, from memory).
const SPREAD_99: f64 = 2.576;
/// Kolmogorov's distance times the root of the sets, passed once in 100 times when ranks are right (a table value, from
/// memory).
const DISTANCE_99: f64 = 1.63;

/// Adds the section.
pub(crate) fn add(page: &mut Page, summary: &Summary) -> Result<(), OutputError> {
    page.section("spread", "Whether predictions are as wide as they should be");
    page.paragraph(
        "Counts are whole, so that the narrowest interval of at least 80 % mostly holds more: what is found inside is to be \
         held against the mean chance of the intervals themselves. More found than expected: too wide; less: too narrow.",
    );
    page.picture(&coverage(summary).draw()?);
    page.table(&intervals(summary));
    let Some(service) = first(summary) else { return Ok(()) };
    let sets: u64 = service.ranks.counts.iter().sum();
    page.picture(&ranks(service, sets).draw()?);
    page.table(&parts(service, sets));
    if sets > 0 {
        page.paragraph(&format!(
            "The largest distance between the ranks' distribution and the even one is {} for the {}. Were its predictions \
             right and the ranks of different sets independent, {} would be passed once in 100 times.",
            score(service.ranks.distance),
            service.name,
            score(DISTANCE_99 / libm::sqrt(plain(sets))),
        ));
    }
    Ok(())
}

fn held(one: &ForecasterFigures) -> impl Iterator<Item = Option<Held>> {
    LEVELS.into_iter().map(|level| {
        let found = one.intervals.iter().find(|held| held.level.total_cmp(&level).is_eq());
        found.map(|held| Held { expected: held.expected, found: held.found })
    })
}

fn coverage(summary: &Summary) -> Coverage {
    let line = |one: &ForecasterFigures| {
        Some(Line { name: one.name.clone(), held: held(one).collect::<Option<_>>()? })
    };
    Coverage {
        title: "Counts inside the intervals foretold, against the chance they were said to have".to_owned(),
        subtitle: "Square: expected. Disc: found.".to_owned(),
        levels: LEVELS.to_vec(),
        lines: summary.forecasters.iter().filter_map(line).collect(),
        notes: vec!["Disc right of its square: intervals too wide; left of it: too narrow.".to_owned()],
    }
}

fn intervals(summary: &Summary) -> Table {
    let names = LEVELS.map(|level| format!("{:.0} % intervals", 100.0 * level));
    let mut groups = vec![("", 1)];
    groups.extend(names.iter().map(|name| (name.as_str(), 2)));
    groups.push(("ranks", 1));
    let mut heads = vec!["forecaster"];
    heads.extend(LEVELS.iter().flat_map(|_| ["expected", "found"]));
    heads.push("distance");
    let mut table =
        Table::new("Coverage of intervals, and distance of ranks from even ones", &heads).under(&groups);
    for one in &summary.forecasters {
        let mut cells = vec![one.name.clone()];
        for held in held(one) {
            cells.extend(
                held.map_or([NONE, NONE].map(str::to_owned), |held| [held.expected, held.found].map(share)),
            );
        }
        cells.push(score(one.ranks.distance));
        table.row(cells);
    }
    table
}

fn even(service: &ForecasterFigures) -> f64 {
    u32::try_from(service.ranks.counts.len()).map_or(1.0, |parts| 1.0 / f64::from(parts.max(1)))
}

fn ranks(service: &ForecasterFigures, sets: u64) -> Ranks {
    let even = even(service);
    let half = if sets == 0 { 0.0 } else { SPREAD_99 * libm::sqrt(even * (1.0 - even) / plain(sets)) };
    let counts = &service.ranks.counts;
    Ranks {
        title: format!("Ranks of what was done in what the {} foretold", service.name),
        subtitle: "Even: as wide as they should be. A hump: too wide. Heaps at the ends: too narrow. A slope: too high or too low."
            .to_owned(),
        shares: if sets == 0 { Vec::new() } else { counts.iter().filter_map(|n| part(*n, sets)).collect() },
        usual: ((even - half).max(0.0), even + half),
        notes: vec![
            "Heavy line: even. Broken lines: where 99 of 100 bars would stand were the predictions right and sets independent.".to_owned(),
        ],
    }
}

fn parts(service: &ForecasterFigures, sets: u64) -> Table {
    let caption = format!("Ranks in what the {} foretold", service.name);
    let mut table = Table::new(&caption, &["rank", "sets", "share"]).long();
    let even = even(service);
    let mut from = 0.0;
    for number in &service.ranks.counts {
        let share = part(*number, sets).map_or(NONE.to_owned(), share);
        table.row(vec![format!("{from:.2} to {:.2}", from + even), count(*number), share]);
        from += even;
    }
    table
}
