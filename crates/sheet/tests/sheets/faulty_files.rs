//! Faults of a whole file and of its header; encodings, separators, line breaks and limits.

use nextrung_sheet::{Column, MAX_BYTES, MAX_PROBLEMS, MAX_ROWS, SetReader};

use crate::fixture::{SHEET, bent, refusal, refusals, rows};

#[test]
fn other_dialects_read_the_same() {
    let wanted = rows(SHEET);
    let quoted = "\"windy, \"\"cold\"\"\nsecond line\"";
    let (before, after) = SHEET.split_once(quoted).unwrap();
    let semicolons = format!("{}{quoted}{}", before.replace(',', ";"), after.replace(',', ";"));
    let dialects = [
        ("semicolons", semicolons.clone()),
        ("a byte order mark", format!("\u{feff}{SHEET}")),
        ("no last line break", SHEET.trim_end().to_owned()),
        ("mark, semicolons", format!("\u{feff}{semicolons}")),
    ];
    for (what, sheet) in dialects {
        assert_eq!(rows(&sheet), wanted, "{what}");
        // A line break within a cell is kept as it is, so only the others are changed.
        let breaks = sheet.replace('\n', "\r\n").replace("\r\nsecond", "\nsecond");
        assert_eq!(rows(&breaks), wanted, "{what}, carriage returns and line feeds");
        let breaks = sheet.replace('\n', "\r").replace("\rsecond", "\nsecond");
        assert_eq!(rows(&breaks), wanted, "{what}, carriage returns");
    }
}

#[test]
fn blank_rows_are_skipped_and_counted() {
    let sheet = SHEET.replace("calm,", &format!("\n , \n{}\ncalm,", ",".repeat(19)));
    let bent = rows(&sheet);
    assert_eq!(bent.iter().map(|r| r.row).collect::<Vec<_>>(), [5, 6, 7]);
    assert!(bent.iter().zip(rows(SHEET)).all(|(bent, plain)| bent.draft == plain.draft));
}

#[test]
fn repro_a_header_of_separators_is_one_problem() {
    let wide = ",".repeat(400_000) + "athlete\n";
    let expected = "expected at most 20 columns, each once";
    assert_eq!(refusals(&wide), [format!("header: found more than 16384 cells in a row; {expected}")]);
    assert_eq!(refusals(&wide[400_000 - 999..]), [format!("header: found 1000 cells; {expected}")]);
    for cells in [180, 181, 213] {
        assert!(refusals(format!("x{}\n", ",x".repeat(cells - 1))).len() <= MAX_PROBLEMS, "{cells} cells");
    }
    // What a sheet may have by mistake is still named cell by cell.
    assert_eq!(refusals(&(SHEET.lines().next().unwrap().to_owned() + ",x,y\n")).len(), 2);
}

#[test]
fn empty_files() {
    let nothing = "file: found nothing; expected a header row and a row for each set";
    for empty in ["", "\u{feff}", "\n\n", " \r\n", ",,,\n"] {
        assert_eq!(refusal(empty), nothing, "{empty:?}");
    }
    let header = SHEET.lines().next().unwrap();
    for empty in [header.to_owned(), format!("{header}\n"), format!("{header}\n\n,,\n")] {
        assert_eq!(refusal(&empty), "file: found a header without rows; expected a row for each set");
    }
}

#[test]
fn what_is_no_csv_in_utf8() {
    let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(SHEET.bytes().flat_map(|b| [b, 0])).collect();
    assert_eq!(refusal(&utf16), "file: found text in UTF-16; expected CSV in UTF-8; save the sheet as that");
    assert_eq!(
        refusal(b"PK\x03\x04\x14\0\x06\0"),
        "file: found a zip archive, perhaps a workbook; expected CSV in UTF-8; save the sheet as that"
    );
    let mut bytes = SHEET.as_bytes().to_vec();
    let at = SHEET.find("purpose").unwrap();
    bytes[at] = 0xFC;
    let found = refusals(&bytes);
    assert!(
        found[0].starts_with(&format!("header[7]: found 0xFC at byte {} of the file", at + 1)),
        "{found:#?}"
    );
}

#[test]
fn unknown_columns_are_named_with_the_nearest() {
    let all = Column::ALL.map(Column::name).join(", ");
    for (name, guess) in [
        ("tmepo", "; did you mean `tempo`?"),
        ("Tempo", "; did you mean `tempo`?"),
        ("mood", ""),
        ("TEMPO", "; did you mean `tempo`?"),
    ] {
        assert_eq!(
            refusal(bent("tempo", name)),
            format!("header[18]: found `{name}`; expected one of {all}{guess}")
        );
    }
    assert_eq!(refusal(bent("tempo", "")), format!("header[18]: found nothing; expected one of {all}"));
    let long = "x".repeat(10_000_000);
    assert!(refusal(bent("tempo", &long)).len() < 500, "a long name is cut");
}

#[test]
fn columns_stand_once() {
    assert_eq!(
        refusal(bent("tempo", "pain")),
        "header[19]: found `pain` as in header[18]; expected each column once"
    );
    assert_eq!(
        refusal(bent("tempo", "shadings")),
        "header[18]: found `shadings` as in header[8]; expected each column once"
    );
}

#[test]
fn missing_columns_are_named() {
    let found = refusals("shadings,note\nlight-band,x\n");
    let name = |c: &str| format!("header: found no column `{c}`; expected a column of this name");
    let mut wanted: Vec<String> =
        ["athlete", "training_date", "set_number", "rung", "purpose", "stop"].map(name).to_vec();
    wanted.push(
        "header: found no column for the units done; expected at least one of the columns reps, hold_seconds, \
         lowering_seconds"
            .to_owned(),
    );
    assert_eq!(found, wanted);
    // The faults of a header are reported together.
    let found = refusals("athlete,athlete,day,set_number,rung,purpose,stop,reps\n");
    let fields: Vec<&str> = found.iter().map(|p| p.split(':').next().unwrap()).collect();
    assert_eq!(fields, ["header[2]", "header[3]", "header"], "{found:#?}");
}

#[test]
fn needed_columns_are_enough() {
    for unit in ["reps", "hold_seconds", "lowering_seconds"] {
        let sheet = format!(
            "{unit},stop,purpose,rung,set_number,training_date,athlete\n3,other,free,a/b,1,2026-03-14,wren\n"
        );
        let rows = rows(&sheet);
        assert_eq!(rows[0].draft.done.map(|(u, n)| (u.field(), n)), Some((unit, 3)));
        assert_eq!(rows[0].draft.client_set_id, "wren:2026-03-14:1:1");
    }
}

#[test]
fn oversize_files_are_refused() {
    let mut bytes = SHEET.as_bytes().to_vec();
    bytes.resize(MAX_BYTES, b'\n');
    assert_eq!(rows(&bytes).len(), 3, "the largest that is read");
    bytes.push(b'\n');
    assert_eq!(refusal(&bytes), "file: found 67108865 bytes; expected at most 67108864 bytes (64 MB)");
}

#[test]
fn a_million_rows_are_read_and_one_more_is_refused() {
    let row = "a,2026-03-14,1,a/b,test,1,other\n";
    let mut sheet = "athlete,training_date,set_number,rung,purpose,reps,stop\n\n".to_owned();
    sheet.push_str(&row.repeat(MAX_ROWS));
    let reader = SetReader::open(sheet.as_bytes()).unwrap();
    assert_eq!(reader.filter(Result::is_ok).count(), MAX_ROWS);
    sheet.push_str(&row.repeat(2));
    let faults: Vec<_> = SetReader::open(sheet.as_bytes()).unwrap().filter_map(Result::err).collect();
    assert_eq!(faults.len(), 1, "said once");
    assert_eq!(
        faults[0][0].to_string(),
        "row[1000003]: found one row more; expected at most 1000000 rows; nothing was read from here on"
    );
}
