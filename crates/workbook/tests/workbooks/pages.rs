//! Pages: how new books stand on the screen and on paper.

use roxmltree::{Document, Node};

use nextrung_sheet::stage::OWN_LOG;
use nextrung_workbook::book::overview::OverviewRow;
use nextrung_workbook::book::{AthleteBook, RosterBook, blank};

use crate::archive::text;
use crate::sample::{athlete_book, day};

/// Rows that a page surely holds; the sheets with charts break by it.
const PAGE: u32 = 40;

/// A filled cell.
#[derive(Debug)]
struct Cell {
    /// From 0.
    column: usize,
    row: usize,
    is_text: bool,
    /// The text, or the number as it is written.
    content: String,
    align: String,
    has_indent: bool,
}

fn tagged<'d>(node: Node<'d, 'd>, name: &'d str) -> impl Iterator<Item = Node<'d, 'd>> {
    node.descendants().filter(move |node| node.is_element() && node.tag_name().name() == name)
}

/// The filled cells of a sheet, in their order.
fn cells(bytes: &[u8], sheet: usize) -> Vec<Cell> {
    let read = |part: &str| text(bytes, part);
    let (styles, strings) = (read("xl/styles.xml"), read("xl/sharedStrings.xml"));
    let sheet = read(&format!("xl/worksheets/sheet{sheet}.xml"));
    let (styles, strings) = (Document::parse(&styles).unwrap(), Document::parse(&strings).unwrap());
    let formats = tagged(styles.root(), "cellXfs").next().unwrap();
    let formats: Vec<Node<'_, '_>> = tagged(formats, "xf").collect();
    let strings: Vec<String> = tagged(strings.root(), "si")
        .map(|node| tagged(node, "t").filter_map(|text| text.text()).collect())
        .collect();
    let document = Document::parse(&sheet).unwrap();
    let mut found = Vec::new();
    for cell in tagged(document.root(), "c") {
        let Some(value) = tagged(cell, "v").next().and_then(|value| value.text()) else { continue };
        let is_text = cell.attribute("t") == Some("s");
        let format = formats[cell.attribute("s").map_or(0, |style| style.parse().unwrap())];
        let align = tagged(format, "alignment").next();
        let place = cell.attribute("r").unwrap();
        let letters = place.trim_end_matches(|c: char| c.is_ascii_digit());
        let count = |count: usize, letter: u8| count * 26 + usize::from(letter - b'A') + 1;
        found.push(Cell {
            column: letters.bytes().fold(0, count) - 1,
            row: place[letters.len()..].parse().unwrap(),
            is_text,
            content: if is_text {
                strings[value.parse::<usize>().unwrap()].clone()
            } else {
                value.to_owned()
            },
            align: align.and_then(|align| align.attribute("horizontal")).unwrap_or_default().to_owned(),
            has_indent: align.is_some_and(|align| align.attribute("indent").is_some()),
        });
    }
    found
}

#[test]
fn no_text_touches_a_figure_left_of_it() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let mut beside = 0;
    for sheet in 1..=4 {
        for pair in cells(&bytes, sheet).windows(2) {
            let [figure, text] = pair else { continue };
            let is_right = figure.align == "right" || (!figure.is_text && figure.align.is_empty());
            let is_beside = text.row == figure.row && text.column == figure.column + 1;
            if is_beside && is_right && text.is_text && text.align != "right" {
                assert!(text.has_indent, "sheet {sheet}: {figure:?} {text:?}");
                beside += 1;
            }
        }
    }
    assert!(beside > 30, "{beside}");
}

/// A cell by its place, such as `A2`.
fn at(cells: &[Cell], column: usize, row: usize) -> &Cell {
    cells.iter().find(|cell| (cell.column, cell.row) == (column, row)).unwrap()
}

#[test]
fn the_log_begins_with_its_newest_day_and_says_whose_it_is() {
    let mut book = athlete_book();
    book.title = "Wren".to_owned();
    book.log[1].date = book.log[0].date;
    let days = book.log.len();
    let bytes = book.write(day(0)).unwrap();
    let found = cells(&bytes, 4);
    assert_eq!(at(&found, 0, 1).content, "The log of Wren");
    assert_eq!(at(&found, 0, 2).content, OWN_LOG);
    let column = |column: usize| {
        let rows = found.iter().filter(move |cell| cell.row > 3 && cell.column == column);
        rows.map(|cell| cell.content.parse::<i64>().unwrap()).collect::<Vec<_>>()
    };
    let (dates, numbers) = (column(0), column(2));
    assert_eq!(dates.len(), days);
    assert!(dates.is_sorted_by(|later, earlier| later >= earlier), "{dates:?}");
    assert_eq!(numbers, [6, 5, 4, 3, 2, 0, 1], "the sets of a day as they were done");
}

#[test]
fn the_log_prints_what_people_read() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let found = cells(&bytes, 4);
    let heads: Vec<&str> =
        found.iter().filter(|cell| cell.row == 3).map(|cell| cell.content.as_str()).collect();
    assert_eq!(heads[15..], ["note", "rung", "id"]);
    let names = text(&bytes, "xl/workbook.xml");
    assert!(names.contains("Log!$A$1:$P$10<"), "{names}");
}

/// The rows before which a sheet has a page break.
fn breaks(bytes: &[u8], sheet: usize) -> Vec<u32> {
    let xml = text(bytes, &format!("xl/worksheets/sheet{sheet}.xml"));
    let document = Document::parse(&xml).unwrap();
    tagged(document.root(), "brk").map(|node| node.attribute("id").unwrap().parse().unwrap()).collect()
}

#[test]
fn no_chart_is_cut_by_the_end_of_a_page() {
    let mut book = athlete_book();
    let few = book.capacities[0].clone();
    let mut many = few.clone();
    many.rungs = few.rungs.iter().cycle().take(11).cloned().collect();
    book.capacities = [few, many].into_iter().cycle().take(9).collect();
    let bytes = book.write(day(0)).unwrap();
    let breaks = breaks(&bytes, 3);
    let drawing = text(&bytes, "xl/drawings/drawing1.xml");
    let document = Document::parse(&drawing).unwrap();
    let row = |anchor: Node<'_, '_>, end: &str| -> u32 {
        let end = tagged(anchor, end).next().unwrap();
        tagged(end, "row").next().unwrap().text().unwrap().parse().unwrap()
    };
    let charts: Vec<(u32, u32)> = tagged(document.root(), "twoCellAnchor")
        .map(|anchor| (row(anchor, "from"), row(anchor, "to")))
        .collect();
    assert_eq!(charts.len(), 9);
    for (first, last) in charts {
        let top = breaks.iter().copied().filter(|page| *page <= first).max().unwrap_or(0);
        let next = breaks.iter().copied().find(|page| *page > first).unwrap_or(u32::MAX);
        assert!(last < next && last - top < PAGE, "{first} to {last} on a page from {top}; {breaks:?}");
    }
    assert!((2..8).contains(&breaks.len()), "several on a page: {breaks:?}");
}

#[test]
fn every_rung_of_a_chart_has_room_for_its_name() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let chart = text(&bytes, "xl/charts/chart1.xml");
    let document = Document::parse(&chart).unwrap();
    let plot = tagged(document.root(), "plotArea").next().unwrap();
    let place = tagged(plot, "manualLayout").next().expect("room of its own");
    let share = |name: &str| -> f64 {
        tagged(place, name).next().unwrap().attribute("val").unwrap().parse().unwrap()
    };
    assert!(share("x") > 0.35 && share("x") + share("w") < 1.0, "{chart}");
    assert!(share("y") + share("h") < 1.0, "{chart}");
}

#[test]
fn sentences_have_as_many_lines_as_their_rows_and_no_more() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let xml = text(&bytes, "xl/worksheets/sheet1.xml");
    let document = Document::parse(&xml).unwrap();
    let found = cells(&bytes, 1);
    let joined: Vec<&str> =
        tagged(document.root(), "mergeCell").map(|node| node.attribute("ref").unwrap()).collect();
    assert_eq!(joined.len(), 2, "what fits into a line is not joined: {joined:?}");
    for place in joined {
        let (first, last) = place.split_once(':').unwrap();
        assert!(first.starts_with('C') && last.starts_with('G'), "{place}");
        let number = &first[1..];
        let row = tagged(document.root(), "row").find(|row| row.attribute("r") == Some(number)).unwrap();
        let said = &at(&found, 2, number.parse().unwrap()).content;
        let high: f64 = row.attribute("ht").unwrap().parse().unwrap();
        assert!(
            (high - 15.0 * f64::from(u32::try_from(said.lines().count()).unwrap())).abs() < 0.01,
            "{said:?}"
        );
        // The columns are as wide as 46 + 18 + 9 + 20 + 10 digits.
        assert!(said.lines().count() > 1 && said.lines().all(|line| line.len() <= 103), "{said:?}");
        assert_eq!(said.replace('\n', " "), "It is in the band. ".repeat(12));
    }
}

#[test]
fn a_session_is_one_page_while_it_can_be_read_so() {
    let mut book = athlete_book();
    let is_one_high = |book: &AthleteBook| {
        let xml = text(&book.write(day(0)).unwrap(), "xl/worksheets/sheet1.xml");
        assert!(xml.contains("fitToPage=\"1\""), "{xml}");
        !xml.contains("fitToHeight=\"0\"")
    };
    assert!(is_one_high(&book));
    book.session.sections[1].sentences = vec!["Care.".to_owned(); 40];
    assert!(!is_one_high(&book));
}

#[test]
fn an_overview_says_where_there_is_no_session_and_keeps_its_cautions_together() {
    let row = |session: &str| OverviewRow {
        name: "Wren".to_owned(),
        file: "wren.xlsx".to_owned(),
        date: day(0),
        kind: "held back".to_owned(),
        session: session.to_owned(),
        headline: "Held back.".to_owned(),
        held_back: "Pain.".to_owned(),
    };
    let book = |rows: Vec<OverviewRow>| {
        let cautions = vec!["Care.".to_owned()];
        RosterBook { title: "The hall".to_owned(), rows, cautions }.write(day(0)).unwrap()
    };
    let few = book(vec![row(""), row("4 x 5 reps Pull-up")]);
    let found = cells(&few, 1);
    assert_eq!(at(&found, 3, 4).content, "no session: held back");
    assert_eq!(at(&found, 3, 5).content, "4 x 5 reps Pull-up");
    for cell in found.iter().filter(|cell| (4..6).contains(&cell.row) && cell.column > 2) {
        assert!(cell.has_indent, "apart from what is left of it: {cell:?}");
    }
    assert!(breaks(&few, 1).is_empty());
    // Of 36 lines a page, 33 athletes stand on the first one and 34 on the second, which leaves no room; 60 leave enough.
    assert!(breaks(&book(vec![row("4 x 5 reps Pull-up"); 60]), 1).is_empty());
    let many = book(vec![row("4 x 5 reps Pull-up"); 67]);
    let heading = cells(&many, 1).into_iter().find(|cell| cell.content == "Cautions").unwrap().row;
    assert_eq!(breaks(&many, 1), [u32::try_from(heading).unwrap() - 1]);
}

#[test]
fn an_empty_workbook_has_heads_and_rows_that_are_ready() {
    let bytes = blank("=Wren", day(0)).unwrap();
    let found = cells(&bytes, 1);
    let heads: Vec<&str> = found.iter().map(|cell| cell.content.as_str()).collect();
    assert_eq!(heads, ["date", "exercise", "sets", "load (kg)", "note"], "and nothing under them");
    let (xml, styles) = (text(&bytes, "xl/worksheets/sheet1.xml"), text(&bytes, "xl/styles.xml"));
    let (document, styles) = (Document::parse(&xml).unwrap(), Document::parse(&styles).unwrap());
    let formats = tagged(styles.root(), "cellXfs").next().unwrap();
    let formats: Vec<Node<'_, '_>> = tagged(formats, "xf").collect();
    let format = |place: &str| {
        let cell = tagged(document.root(), "c").find(|cell| cell.attribute("r") == Some(place)).unwrap();
        formats[cell.attribute("s").unwrap().parse::<usize>().unwrap()].attribute("numFmtId").unwrap()
    };
    // 49 is a text (ECMA-376, built-in number formats), so that 10/8 stays what was typed.
    assert_eq!([format("B2"), format("C2"), format("C501")], ["49"; 3]);
    assert_ne!(format("A2"), "49");
}
