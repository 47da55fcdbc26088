//! New books: as their XML has them.

use nextrung_domain::date::CivilDate;
use nextrung_workbook::book::overview::OverviewRow;
use nextrung_workbook::book::{AthleteBook, RosterBook};
use roxmltree::{Document, Node};

use crate::archive::{parts, text};
use crate::sample::{BAD, athlete_book, day};

const SHEETS: [&str; 4] = ["Next session", "Week", "Capacity", "Log"];

fn sheet(bytes: &[u8], number: usize) -> String {
    text(bytes, &format!("xl/worksheets/sheet{number}.xml"))
}

/// The texts of the table that cells point to.
fn strings(bytes: &[u8]) -> Vec<String> {
    let xml = text(bytes, "xl/sharedStrings.xml");
    let document = Document::parse(&xml).unwrap();
    let text = |node: Node<'_, '_>| {
        node.descendants().filter(Node::is_text).filter_map(|part| part.text()).collect::<String>()
    };
    document.descendants().filter(|node| node.has_tag_name_local("si")).map(text).collect()
}

trait LocalName {
    fn has_tag_name_local(&self, name: &str) -> bool;
}

impl LocalName for Node<'_, '_> {
    fn has_tag_name_local(&self, name: &str) -> bool {
        self.is_element() && self.tag_name().name() == name
    }
}

#[test]
fn nothing_that_people_wrote_becomes_a_formula() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let texts = strings(&bytes);
    for bad in BAD {
        let held: String = bad.chars().filter(|c| !c.is_control() || *c == '\t').collect();
        assert!(texts.iter().any(|text| text.contains(&held)), "{bad:?} is in the workbook: {texts:?}");
    }
    let mut cells = 0;
    for number in 1..=SHEETS.len() {
        let xml = sheet(&bytes, number);
        let document = Document::parse(&xml).unwrap();
        for cell in document.descendants().filter(|node| node.has_tag_name_local("c")) {
            cells += 1;
            assert!(!cell.children().any(|inner| inner.has_tag_name_local("f")), "{}", SHEETS[number - 1]);
            if let Some(value) = cell.descendants().find(|node| node.has_tag_name_local("v")) {
                let is_text = cell.attribute("t") == Some("s");
                assert!(is_text || value.text().unwrap().parse::<f64>().is_ok(), "{xml}");
            }
        }
    }
    assert!(cells > 150, "{cells}");
    let other = |name: &String| name.ends_with(".xml") && !name.contains("theme");
    for (name, content) in parts(&bytes).into_iter().filter(|(name, _)| other(name)) {
        let xml = String::from_utf8(content).unwrap();
        for node in Document::parse(&xml).unwrap().descendants().filter(|node| node.has_tag_name_local("f")) {
            let text = node.text().unwrap();
            assert!(name.starts_with("xl/charts/") && text.starts_with("Capacity!$"), "{name}: {text}");
        }
    }
}

#[test]
fn a_text_like_a_formula_is_marked_as_quoted_and_others_are_not() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let (texts, xml, styles) = (strings(&bytes), sheet(&bytes, 4), text(&bytes, "xl/styles.xml"));
    let (document, styles) = (Document::parse(&xml).unwrap(), Document::parse(&styles).unwrap());
    let formats = styles.descendants().find(|node| node.has_tag_name_local("cellXfs")).unwrap();
    let quoted: Vec<bool> = formats
        .children()
        .filter(Node::is_element)
        .map(|format| format.attribute("quotePrefix") == Some("1"))
        .collect();
    let mut seen = [0, 0];
    for cell in document.descendants().filter(|node| node.attribute("t") == Some("s")) {
        let text: usize = cell.descendants().find_map(|node| node.text()).unwrap().parse().unwrap();
        let style: usize = cell.attribute("s").unwrap().parse().unwrap();
        let is_like_one = texts[text].starts_with(['=', '+', '-', '@', '\t']);
        assert_eq!(quoted[style], is_like_one, "{}", texts[text]);
        seen[usize::from(is_like_one)] += 1;
    }
    assert!(seen[0] > 40 && seen[1] >= BAD.len(), "{seen:?}");
}

#[test]
fn the_log_has_real_days_and_numbers_under_a_head_that_stays() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let xml = sheet(&bytes, 4);
    // 2026-11-23 is day 46,349 of spreadsheets, counted by Python's datetime from 1899-12-30.
    let first = CivilDate::parse("2026-11-23").unwrap().days_since(day(0));
    let cell = format!("<v>{}</v>", 46_349 - first);
    assert!(xml.contains(&cell), "{xml}");
    assert!(xml.contains("<v>-2.5</v>") && xml.contains("<v>61.5</v>"), "{xml}");
    for part in [
        "<pane ySplit=\"3\"",
        "state=\"frozen\"",
        "<autoFilter ref=\"A3:R10\"",
        "fitToHeight=\"0\"",
        "fitToPage=\"1\"",
    ] {
        assert!(xml.contains(part), "{part}: {xml}");
    }
    assert!(text(&bytes, "xl/workbook.xml").contains("_xlnm.Print_Titles"));
}

#[test]
fn a_chart_has_one_unit_and_the_interval_from_the_cells_beside_it() {
    let bytes = athlete_book().write(day(0)).unwrap();
    let names: Vec<String> =
        parts(&bytes).into_keys().filter(|name| name.starts_with("xl/charts/")).collect();
    assert_eq!(names.len(), 2, "reps and seconds: {names:?}");
    let reps = text(&bytes, "xl/charts/chart1.xml");
    for part in [
        "<c:barChart>",
        "<c:max val=\"10\"/>",
        "<c:majorUnit val=\"2\"/>",
        "<c:errBars>",
        "Capacity!$B$6:$B$7",
        "Capacity!$Q$6:$Q$7",
        "Capacity!$P$6:$P$7",
    ] {
        assert!(reps.contains(part), "{part}: {reps}");
    }
    assert!(reps.contains("Reps on =1+1"), "{reps}");
    assert!(!reps.contains("Capacity!$B$6:$B$8"), "the other unit has its own");
    assert!(!reps.contains("logBase"), "a scale that every program names in whole units");
}

#[test]
fn the_same_data_give_the_same_bytes() {
    let once = athlete_book().write(day(0)).unwrap();
    assert!(once == athlete_book().write(day(0)).unwrap());
    assert!(text(&once, "docProps/core.xml").contains(&format!("{}T", day(0))));
    assert!(once != athlete_book().write(day(1)).unwrap(), "the day is in it");
}

#[test]
fn an_athlete_of_whom_nothing_is_known_has_a_workbook_too() {
    let bytes = AthleteBook::default().write(day(0)).unwrap();
    for (at, name) in (1..).zip(SHEETS) {
        Document::parse(&sheet(&bytes, at)).unwrap();
        assert!(text(&bytes, "xl/workbook.xml").contains(&format!("name=\"{name}\"")));
    }
}

#[test]
fn more_sets_than_rows_are_said() {
    let book = athlete_book();
    let log = book.log.iter().cycle().take(1_048_576).cloned().collect();
    let error = AthleteBook { log, ..AthleteBook::default() }.write(day(0)).unwrap_err();
    assert_eq!(error.to_string(), "1048576 rows, and a sheet holds 1048573; ask for fewer days");
}

#[test]
fn an_overview_links_to_each_workbook() {
    let row = |name: &str| OverviewRow {
        name: name.to_owned(),
        file: "wren.xlsx".to_owned(),
        date: day(0),
        kind: "training".to_owned(),
        session: "4 x 3-5 reps Pull-up".to_owned(),
        headline: "=1".to_owned(),
        held_back: "a\nb".to_owned(),
    };
    let many = RosterBook {
        title: "The hall".to_owned(),
        rows: vec![row("=Wren"); 3000],
        cautions: vec!["Care.".to_owned()],
    };
    let bytes = many.write(day(0)).unwrap();
    let xml = sheet(&bytes, 1);
    assert!(!xml.contains("<f>"));
    assert_eq!(xml.matches("<hyperlink ").count(), 3000);
    assert!(text(&bytes, "xl/worksheets/_rels/sheet1.xml.rels").contains("wren.xlsx"));
    assert!(strings(&bytes).contains(&"=Wren".to_owned()));
}
