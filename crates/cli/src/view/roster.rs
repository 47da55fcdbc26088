//! Rosters as pages.

use nextrung_api::v1;

use crate::names::short;
use crate::output::Layout;
use crate::table::Columns;
use crate::view::figure::range;

/// A list of rosters.
pub(crate) fn list(rosters: &[v1::Roster], layout: Layout) -> String {
    if rosters.is_empty() {
        return "no rosters yet: nextrung roster add ROSTER --title TITLE\n".to_owned();
    }
    let mut table = Columns::new(&["roster", "title"]);
    for roster in rosters {
        table.row([short(&roster.name), roster.title.clone()]);
    }
    table.render_wide(layout)
}

/// One roster.
pub(crate) fn page(roster: &v1::Roster, layout: Layout) -> String {
    let mut page = format!("{}\n", layout.strong(&format!("{}: {}", short(&roster.name), roster.title)));
    for line in bands(roster.bands.as_ref()) {
        page += &format!("  {line}\n");
    }
    page
}

/// A coach's own bands, one unit a line.
pub(crate) fn bands(bands: Option<&v1::Bands>) -> Vec<String> {
    let Some(bands) = bands else { return Vec::new() };
    let units = [
        ("reps", bands.reps),
        ("hold seconds", bands.hold_seconds),
        ("lowering seconds", bands.lowering_seconds),
    ];
    let written =
        |band: Option<v1::Band>| band.map_or_else(|| "-".to_owned(), |band| range(band.low, band.high));
    let line = |(unit, pair): (&str, Option<v1::BandPair>)| {
        let pair = pair?;
        Some(format!(
            "own band for {unit}: working {}, attempt {}",
            written(pair.working),
            written(pair.attempt)
        ))
    };
    units.into_iter().filter_map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn roster() -> v1::Roster {
        let band = |low, high| Some(v1::Band { low, high });
        let pair = v1::BandPair { working: band(3, 6), attempt: band(1, 2) };
        v1::Roster {
            name: "rosters/hall".to_owned(),
            title: "The hall".to_owned(),
            bands: Some(v1::Bands { reps: Some(pair), ..v1::Bands::default() }),
            ..v1::Roster::default()
        }
    }

    #[test]
    fn a_roster_shows_its_own_bands() {
        let expected = "hall: The hall\n  own band for reps: working 3-6, attempt 1-2\n";
        assert_eq!(page(&roster(), Layout::PLAIN), expected);
    }

    #[test]
    fn an_empty_list_says_what_to_type() {
        assert_eq!(list(&[roster()], Layout::PLAIN), "  roster  title\n  hall    The hall\n");
        assert!(list(&[], Layout::PLAIN).contains("nextrung roster add"));
    }
}
