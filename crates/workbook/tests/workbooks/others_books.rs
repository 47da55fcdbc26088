//! Others' books: our sheet in them, and every other part as it was.

use nextrung_workbook::own_sheet::{MARK, Outcome, OwnSheetError, is_up_to_date, put};
use nextrung_workbook::session::Session;
use roxmltree::Document;
use rust_xlsxwriter::{Chart, Color, Format, Formula, Workbook};

use crate::archive::{changed, order, packed, parts, stored, text};
use crate::sample::{BAD, session};

/// What is changed where our sheet is new, besides the sheet itself.
const LISTS: [&str; 3] = ["[Content_Types].xml", "xl/_rels/workbook.xml.rels", "xl/workbook.xml"];
const OWN: &str = "xl/worksheets/nextrung1.xml";

/// A workbook as a coach keeps it: styles, a formula, a chart, a named range, a hidden sheet, and a part that nobody knows.
fn coach(sheets: &[&str]) -> Vec<u8> {
    let mut book = Workbook::new();
    for name in sheets {
        let sheet = book.add_worksheet().set_name(*name).unwrap();
        let marked = Format::new().set_bold().set_background_color(Color::Yellow);
        sheet.write_string_with_format(0, 0, "Date", &marked).unwrap();
        sheet.write_string(1, 0, "=kept").unwrap();
        sheet.write_number(1, 1, 5.0).unwrap();
        sheet.write_formula(2, 1, Formula::new("=SUM(B1:B2)").set_result("5")).unwrap();
        let mut chart = Chart::new_line();
        chart.add_series().set_values(&format!("'{name}'!$B$1:$B$2"));
        sheet.insert_chart(4, 0, &chart).unwrap();
    }
    book.define_name("best", &format!("='{}'!$B$2", sheets[0])).unwrap();
    let bytes = book.save_to_buffer().unwrap();
    let mut all: Vec<(String, Vec<u8>)> =
        order(&bytes).into_iter().map(|name| (name.clone(), parts(&bytes)[&name].clone())).collect();
    all.push(("xl/vbaProject.bin".to_owned(), vec![0xD0, 0xCF, 0, 255, 3]));
    packed(&all.iter().map(|(name, content)| (name.as_str(), content.as_slice())).collect::<Vec<_>>())
}

fn written(bytes: &[u8], sessions: &[Session]) -> Vec<u8> {
    match put("log.xlsx", bytes, sessions).unwrap() {
        Outcome::Changed(made) => made,
        Outcome::Unchanged => bytes.to_vec(),
    }
}

/// The names of the parts whose stored bytes differ.
fn differing(before: &[u8], after: &[u8]) -> Vec<String> {
    let (before, after) = (stored(before), stored(after));
    let all: std::collections::BTreeSet<&String> = before.keys().chain(after.keys()).collect();
    all.into_iter().filter(|name| before.get(*name) != after.get(*name)).cloned().collect()
}

#[test]
fn a_new_sheet_touches_the_lists_and_nothing_else() {
    let before = coach(&["Log", "Plan"]);
    let after = written(&before, &[session("Wren")]);
    assert_eq!(differing(&before, &after), [&LISTS[..], &[OWN]].concat());
    let kept: Vec<String> = order(&after).into_iter().filter(|name| name != OWN).collect();
    assert_eq!(kept, order(&before), "in the same order");
    for list in LISTS {
        let (was, is) = (text(&before, list), text(&after, list));
        let at = was.bytes().zip(is.bytes()).take_while(|(a, b)| a == b).count();
        let added = is.len() - was.len();
        assert_eq!(format!("{}{}", &is[..at], &is[at + added..]), was, "{list}: one line put in");
        Document::parse(&is).unwrap();
    }
    assert!(
        text(&after, "xl/workbook.xml")
            .contains("<sheet name=\"Next session\" sheetId=\"3\" r:id=\"rIdNextrung1\"/></sheets>")
    );
}

#[test]
fn a_later_session_touches_our_sheet_alone() {
    let before = written(&coach(&["Log"]), &[session("Wren")]);
    let after = written(&before, &[session("Wren"), session("Lark")]);
    assert_eq!(differing(&before, &after), [OWN]);
    assert_eq!(order(&before), order(&after));
    assert!(text(&after, OWN).contains("Next session of Lark"));
}

#[test]
fn what_is_there_already_is_not_written_again() {
    let book = written(&coach(&["Log"]), &[session("Wren")]);
    assert!(is_up_to_date("a.xlsx", &book, &[session("Wren")]).unwrap());
    assert_eq!(put("a.xlsx", &book, &[session("Wren")]).unwrap(), Outcome::Unchanged);
    let again = Session { origin: "hall/wren/2; from log position 9".to_owned(), ..session("Wren") };
    assert!(is_up_to_date("a.xlsx", &book, &[again]).unwrap(), "what it was made from does not count");
    let other = Session { headline: "Rest.".to_owned(), ..session("Wren") };
    assert!(!is_up_to_date("a.xlsx", &book, &[other]).unwrap());
    assert!(!is_up_to_date("a.xlsx", &book, &[]).unwrap(), "a session too many");
    assert!(!is_up_to_date("a.xlsx", &coach(&["Log"]), &[session("Wren")]).unwrap());
}

#[test]
fn our_sheet_is_known_after_another_program_saved_the_file() {
    // Another program gives the part another name, keeps texts in a table, and numbers sheets anew.
    let mut book = Workbook::new();
    book.add_worksheet().set_name("Log").unwrap();
    let sheet = book.add_worksheet().set_name("NEXT session").unwrap();
    sheet.write_string(0, 0, MARK).unwrap();
    sheet.write_string(1, 0, "what stood there").unwrap();
    let before = book.save_to_buffer().unwrap();
    let after = written(&before, &[session("Wren")]);
    assert_eq!(differing(&before, &after), ["xl/worksheets/sheet2.xml"]);
    assert!(is_up_to_date("a.xlsx", &after, &[session("Wren")]).unwrap());
}

#[test]
fn a_sheet_of_our_name_that_is_not_ours_is_never_written_to() {
    for first in ["", "Session", "Written by"] {
        let mut book = Workbook::new();
        let sheet = book.add_worksheet().set_name("next Session").unwrap();
        sheet.write_string(0, 0, first).unwrap();
        sheet.write_string(4, 4, MARK).unwrap();
        let before = book.save_to_buffer().unwrap();
        let refused = put("a.xlsx", &before, &[session("Wren")]).unwrap_err();
        assert!(matches!(refused, OwnSheetError::NotOurs), "{refused}");
        assert!(is_up_to_date("a.xlsx", &before, &[session("Wren")]).is_err());
    }
}

#[test]
fn no_text_in_our_sheet_is_a_formula_or_breaks_it() {
    let mut hostile = session("=Wren <&\"'> \u{0}\u{ffff}");
    hostile.title.clone_from(&BAD[0].to_owned());
    let book = written(&coach(&["Log"]), &[hostile]);
    let xml = text(&book, OWN);
    let document = Document::parse(&xml).unwrap();
    let mut cells = 0;
    for cell in document.descendants().filter(|node| node.tag_name().name() == "c") {
        assert_eq!(cell.attribute("t"), Some("inlineStr"));
        cells += 1;
    }
    assert!(cells > 30, "{cells}");
    assert!(document.descendants().all(|node| !["f", "v"].contains(&node.tag_name().name())));
    for bad in [BAD[0], "@SUM(A1)", "=cmd|' /C calc'!A0"] {
        assert!(document.descendants().any(|node| node.text() == Some(bad)), "{bad}");
    }
}

#[test]
fn guests_in_our_sheet_are_not_thrown_out() {
    let ours = written(&coach(&["Log"]), &[session("Wren")]);
    let with = |guest: &str| {
        changed(&ours, |name, text| if name == OWN { text.replacen("<is>", guest, 1) } else { text })
    };
    let refused = put("a.xlsx", &with("<f>A2</f><is>"), &[session("Lark")]).unwrap_err();
    assert!(matches!(refused, OwnSheetError::Guest { what: "formula" }), "{refused}");
    let tabled = changed(&ours, |name, text| {
        let parts =
            "<tableParts count=\"1\"><tablePart r:id=\"rId1\" xmlns:r=\"u\"/></tableParts></worksheet>";
        if name == OWN { text.replace("</worksheet>", parts) } else { text }
    });
    let refused = put("a.xlsx", &tabled, &[session("Lark")]).unwrap_err();
    assert!(matches!(refused, OwnSheetError::Guest { what: "table" }), "{refused}");
    for (tag, guest) in [("drawing", "chart or picture"), ("legacyDrawing", "comment")] {
        let drawn = changed(&ours, |name, text| {
            let put = format!("<{tag} r:id=\"rId1\" xmlns:r=\"u\"/></worksheet>");
            if name == OWN { text.replace("</worksheet>", &put) } else { text }
        });
        let refused = put("a.xlsx", &drawn, &[session("Lark")]).unwrap_err();
        assert!(matches!(refused, OwnSheetError::Guest { what } if what == guest), "{refused}");
    }
}

#[test]
fn protected_and_signed_workbooks_and_other_kinds_stay_as_they_are() {
    let protected = changed(&coach(&["Log"]), |name, text| match name {
        "xl/workbook.xml" => text.replace("<sheets>", "<workbookProtection lockStructure=\"1\"/><sheets>"),
        _ => text,
    });
    assert!(matches!(put("a", &protected, &[session("W")]).unwrap_err(), OwnSheetError::Protected));
    let before = coach(&["Log"]);
    let mut all: Vec<(String, Vec<u8>)> = parts(&before).into_iter().collect();
    all.push(("_xmlsignatures/sig1.xml".to_owned(), b"<a/>".to_vec()));
    let signed =
        packed(&all.iter().map(|(name, content)| (name.as_str(), content.as_slice())).collect::<Vec<_>>());
    assert!(matches!(put("a", &signed, &[session("W")]).unwrap_err(), OwnSheetError::Signed));
    for other in [&b"a,b\n1,2\n"[..], b"", &[0xD0, 0xCF, 0x11, 0xE0]] {
        assert!(put("a", other, &[session("W")]).is_err());
    }
}

#[test]
fn other_spellings_of_the_same_lists_are_written_to_in_their_own_words() {
    let strict = "http://purl.oclc.org/ooxml/spreadsheetml/main";
    let links = "http://purl.oclc.org/ooxml/officeDocument/relationships";
    let book = format!(
        "\u{feff}<?xml version='1.0'?><x:workbook xmlns:x='{strict}' xmlns:q='{links}'><x:sheets><x:sheet name='Log' sheetId='7' q:id='a'/></x:sheets></x:workbook>"
    );
    let rels = format!(
        "<p:Relationships xmlns:p='http://schemas.openxmlformats.org/package/2006/relationships'><p:Relationship Id='a' Type='{links}/worksheet' Target='/book/one.xml'/></p:Relationships>"
    );
    let root = format!(
        "<Relationships xmlns='http://schemas.openxmlformats.org/package/2006/relationships'><Relationship Id='r' Type='{links}/officeDocument' Target='/book/main.xml'/></Relationships>"
    );
    let types = "<Types xmlns='http://schemas.openxmlformats.org/package/2006/content-types'><Default Extension='xml' ContentType='application/xml'/></Types>";
    let sheet = format!("<worksheet xmlns='{strict}'><sheetData/></worksheet>");
    let before = packed(&[
        ("[Content_Types].xml", types.as_bytes()),
        ("_rels/.rels", root.as_bytes()),
        ("book/main.xml", book.as_bytes()),
        ("book/_rels/main.xml.rels", rels.as_bytes()),
        ("book/one.xml", sheet.as_bytes()),
    ]);
    let after = written(&before, &[session("Wren")]);
    let listed = text(&after, "book/main.xml");
    assert!(
        listed.contains("<x:sheet name=\"Next session\" sheetId=\"1\" q:id=\"rIdNextrung1\"/></x:sheets>"),
        "{listed}"
    );
    let linked = text(&after, "book/_rels/main.xml.rels");
    assert!(linked.contains("<p:Relationship Id=\"rIdNextrung1\""), "{linked}");
    assert!(
        linked.contains(&format!("Type=\"{links}/worksheet\" Target=\"worksheets/nextrung1.xml\"")),
        "{linked}"
    );
    assert!(
        text(&after, "book/worksheets/nextrung1.xml").contains(&format!("<worksheet xmlns=\"{strict}\">"))
    );
    assert!(text(&after, "[Content_Types].xml").contains("PartName=\"/book/worksheets/nextrung1.xml\""));
}

#[test]
fn names_and_ids_that_are_taken_stay_with_whom_they_belong_to() {
    // A sheet of the coach's goes by what ours would be called.
    let plain = coach(&["Log"]);
    let renamed = |name: &str| name.replace("/sheet1.xml", "/nextrung1.xml");
    let theirs: Vec<(String, Vec<u8>)> = order(&plain)
        .into_iter()
        .map(|name| match String::from_utf8(parts(&plain)[&name].clone()) {
            Ok(text) => (renamed(&name), renamed(&text).replace("\"rId1\"", "\"rIdNextrung1\"").into_bytes()),
            Err(_) => (name.clone(), parts(&plain)[&name].clone()),
        })
        .collect();
    let before =
        packed(&theirs.iter().map(|(name, content)| (name.as_str(), content.as_slice())).collect::<Vec<_>>());
    let after = written(&before, &[session("Wren")]);
    assert_eq!(differing(&before, &after), [&LISTS[..], &["xl/worksheets/nextrung2.xml"]].concat());
    let entry = "<sheet name=\"Next session\" sheetId=\"2\" r:id=\"rIdNextrung2\"/></sheets>";
    assert!(text(&after, "xl/workbook.xml").contains(entry));
    assert!(text(&after, "xl/worksheets/nextrung2.xml").contains(MARK));
}

#[test]
fn a_comment_of_the_archive_stays() {
    let mut before = coach(&["Log"]);
    // The archive ends with the length of its comment and the comment.
    let length = before.len() - 2;
    before.truncate(length);
    before.extend(b"\x05\x00words");
    assert!(written(&before, &[session("Wren")]).ends_with(b"\x05\x00words"));
}

#[test]
fn a_list_of_sheets_without_end_is_not_read_whole() {
    let long = changed(&coach(&["Log"]), |name, text| match name {
        "xl/workbook.xml" => text.replace("<sheets>", &format!("{}<sheets>", "<!-- -->".repeat(2_200_000))),
        _ => text,
    });
    let refused = put("a.xlsx", &long, &[session("Wren")]).unwrap_err();
    assert!(refused.to_string().ends_with("the part xl/workbook.xml is too long"), "{refused}");
}
