//! Hostile files: made to take memory or time; each ends with a clear error. Each is read in a process of its own, so that the
//! most memory that the process ever had is that of the file, its making included, and not what was left of another one.

#[cfg(test)]
#[path = "made/workbook.rs"]
mod workbook;

#[cfg(test)]
mod files {
    use std::fs;
    use std::io::Write;
    use std::ops::ControlFlow;
    use std::process::Command;

    use nextrung_domain::measure::Unit;
    use nextrung_domain::stop::{Purpose, Stop};
    use nextrung_sheet::grid::{Encoding, Grid};
    use nextrung_sheet::mapping::{KnownRung, Mapping};
    use nextrung_sheet::stage::{DeliveryError, Import};

    use crate::workbook::{Made, workbook};

    /// Most kilobytes of the process.
    const MOST: u64 = 256 * 1024;

    const NO_STRINGS: (&str, (usize, &str), &str) = ("<sst>", (0, ""), "</sst>");
    const TITLES: &str = "<worksheet><sheetData><row><c t=\"inlineStr\"><is><t>Date</t></is></c>\
                          <c t=\"inlineStr\"><is><t>Exercise</t></is></c><c t=\"inlineStr\"><is><t>Reps</t></is></c></row>";
    const ROW: &str = "<row><c t=\"d\"><v>2026-03-14</v></c><c t=\"inlineStr\"><is><t>pull-up</t></is></c><c><v>5</v></c></row>";
    const END: &str = "</sheetData></worksheet>";

    /// What the file comes to by the guess of its mapping: its refusal, the first problem of its rows, or how many sets were
    /// handed out.
    fn end(bytes: &[u8]) -> String {
        read(bytes).unwrap_or_else(|refusal| refusal.to_string())
    }

    fn read(bytes: &[u8]) -> Result<String, DeliveryError> {
        let rungs = [KnownRung::new("pull/pull-up", Unit::Reps)];
        let grid = Grid::open("bad", bytes, Encoding::Unicode)?;
        let mut mapping = Mapping::guess(&grid, None, &rungs)?.mapping;
        mapping.athlete.get_or_insert("wren".to_owned());
        (mapping.purpose, mapping.stop) = (Some(Purpose::Working), Some(Stop::Other));
        let import = Import::new(&grid, &mapping, &rungs)?;
        let staged = import.rehearse()?;
        if let Some(finding) = staged.findings.first() {
            return Ok(finding.to_string());
        }
        let mut sets = 0;
        import.deliver(&staged, None, &mut |_| {
            sets += 1;
            ControlFlow::Continue(())
        })?;
        Ok(format!("{sets} sets of {} athletes", staged.summary.athletes.len()))
    }

    fn most_kilobytes() -> u64 {
        let status = fs::read_to_string("/proc/self/status").expect("Linux tells");
        let line = status.lines().find(|line| line.starts_with("VmHWM:")).expect("the most memory");
        line.split_whitespace().nth(1).expect("a number").parse().expect("a number")
    }

    fn sheet(middle: (usize, &str), tail: &str) -> Vec<u8> {
        workbook((TITLES, middle, tail), NO_STRINGS)
    }

    /// The archive with the inflated size of its largest part stated as 1000 bytes.
    fn with_a_lie(mut bytes: Vec<u8>, size: usize) -> Vec<u8> {
        let size = u32::try_from(size).expect("four bytes").to_le_bytes();
        let mut places = 0;
        for at in 0..bytes.len() - 4 {
            if bytes[at..at + 4] == size {
                bytes[at..at + 4].copy_from_slice(&1000_u32.to_le_bytes());
                places += 1;
            }
        }
        assert!(places >= 1, "the size is stated");
        bytes
    }

    fn document(rows: &str) -> Vec<u8> {
        let head =
            "<office:document-content><office:body><office:spreadsheet><table:table table:name=\"Log\">";
        let titles = ["Date", "Exercise", "Reps"].map(|title| {
            format!(
                "<table:table-cell office:value-type=\"string\"><text:p>{title}</text:p></table:table-cell>"
            )
        });
        let head = format!("{head}<table:table-row>{}</table:table-row>{rows}", titles.concat());
        let tail = "</table:table></office:spreadsheet></office:body></office:document-content>";
        Made::new().part("content.xml", &head, (0, ""), tail).bytes()
    }

    fn long_text() -> String {
        format!("<si><t>{}</t></si>", "x".repeat(32_000))
    }

    type Make = fn() -> Vec<u8>;

    /// Each file with what its end must say; the large ones that are read are here for their memory.
    const FILES: &[(&str, Make, &str)] = &[
        (
            "a cell at the last corner",
            || {
                sheet(
                    (1, ROW),
                    "<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row></sheetData></worksheet>",
                )
            },
            "XFD1048576: found a filled cell; expected cells in the first 256 columns",
        ),
        (
            "a row beyond the last",
            || sheet((1, ROW), "<row r=\"4294967295\"><c><v>1</v></c></row></sheetData></worksheet>"),
            "found row 4294967295 after row 2; expected rows in rising order, at most 1048576",
        ),
        (
            "rows that go back",
            || sheet((1, ROW), "<row r=\"2\"/></sheetData></worksheet>"),
            "found row 2 after row 2",
        ),
        (
            "a column of many letters",
            || sheet((0, ""), "<row><c r=\"ZZZZZZZZZZ2\"><v>1</v></c></row></sheetData></worksheet>"),
            "found the cell name `ZZZZZZZZZZ2`",
        ),
        (
            "a bomb of long texts",
            || workbook((TITLES, (1, ROW), END), ("<sst>", (2000, &long_text()), "</sst>")),
            "or more bytes in the part xl/sharedStrings.xml; expected at most 1000000 texts of 33554432 bytes",
        ),
        (
            "a bomb of empty texts",
            || workbook((TITLES, (1, ROW), END), ("<sst>", (3_000_000, "<si/>"), "</sst>")),
            "found 1000001 or more texts",
        ),
        (
            "texts that say they are many",
            || {
                workbook(
                    (
                        TITLES,
                        (1, ROW),
                        "<row><c t=\"s\"><v>99999999999</v></c></row></sheetData></worksheet>",
                    ),
                    (
                        "<sst count=\"18446744073709551615\" uniqueCount=\"18446744073709551615\"><si><t>a</t></si>",
                        (0, ""),
                        "</sst>",
                    ),
                )
            },
            "A3: found text number `99999999999`; expected one of the workbook's texts",
        ),
        (
            "a header of long titles",
            || {
                let title = format!("<c t=\"inlineStr\"><is><t>{}</t></is></c>", "x".repeat(250_000));
                let titles = TITLES.replace("</row>", &format!("{}</row>", title.repeat(100)));
                workbook((&titles, (1, ROW), END), NO_STRINGS)
            },
            "bytes of text in a row; expected rows of at most 1048576 bytes",
        ),
        (
            "exercises of long names, each another",
            || {
                let row = |n: u32| format!("2026-03-14,{n:0>30000},5\n");
                (0..2000).fold("Date,Exercise,Reps\n".to_owned(), |sheet, n| sheet + &row(n)).into_bytes()
            },
            "found `000",
        ),
        (
            "a part that inflates too far",
            || sheet((60_000_000, "<row/>"), END),
            "bytes once inflated; expected at most 268435456 bytes",
        ),
        (
            "a part that inflates too far and says it does not",
            || {
                let size = TITLES.len() + 60_000_000 * 6 + END.len();
                with_a_lie(sheet((60_000_000, "<row/>"), END), size)
            },
            "found a damaged workbook (File is larger than its declared uncompressed size)",
        ),
        (
            "a million rows",
            || sheet((1_000_000, ROW), END),
            "row 500001: found one filled row more; expected at most 500000 rows",
        ),
        (
            "a million rows of CSV",
            || format!("Date,Exercise,Reps\n{}", "2026-03-14,pull-up,5\n".repeat(1_000_000)).into_bytes(),
            "row 500001: found one filled row more",
        ),
        (
            "a text without an end",
            || sheet((1, ROW), &format!("<row><c><v>{}", "1".repeat(1_000_000))),
            "found a text or tag of more than 262144 bytes",
        ),
        (
            "a comment without an end",
            || sheet((1, ROW), &format!("<!-- {}", "<".repeat(1_000_000))),
            "more than 262144 bytes",
        ),
        ("tags within tags", || sheet((100_000, "<a>"), END), "found tags 64 deep"),
        (
            "an archive of many files",
            || (0..10_001).fold(Made::new(), |made, n| made.part(&n.to_string(), "", (0, ""), "")).bytes(),
            "found an archive of more than 10000 files",
        ),
        (
            "a million merged ranges",
            || {
                sheet(
                    (1, ROW),
                    &format!(
                        "</sheetData><mergeCells>{}</mergeCells></worksheet>",
                        "<mergeCell ref=\"A1:A9\"/>".repeat(1_000_000)
                    ),
                )
            },
            "merged ranges; expected at most 100000",
        ),
        (
            "a merged range upside down",
            || sheet((1, ROW), "</sheetData><mergeCells><mergeCell ref=\"B2:A1\"/></mergeCells></worksheet>"),
            "found the merged range `B2:A1`",
        ),
        (
            "a truncated archive",
            || {
                let mut bytes = sheet((1, ROW), END);
                bytes.truncate(bytes.len() / 2);
                bytes
            },
            "found a damaged workbook",
        ),
        ("a sheet that breaks off", || sheet((10, ROW), "<row>"), "found a sheet that ends within its rows"),
        (
            "an ods row repeated without end",
            || {
                document(&format!(
                    "<table:table-row table:number-rows-repeated=\"1000000\">{CELL}{CELL}{CELL}</table:table-row>"
                ))
            },
            "found one filled row more",
        ),
        (
            "an ods cell repeated without end",
            || {
                document(
                    "<table:table-row><table:table-cell office:value-type=\"float\" \
            office:value=\"5\" table:number-columns-repeated=\"18446744073709551615\"/></table:table-row>",
                )
            },
            "found a filled cell; expected cells in the first 256 columns",
        ),
        (
            "an ods span without end",
            || {
                document(
                    "<table:table-row><table:table-cell office:value-type=\"float\" office:value=\"5\" \
            table:number-rows-spanned=\"4294967295\"/></table:table-row><table:table-row table:number-rows-repeated=\"4294967295\"/>",
                )
            },
            "row 500001: found one filled row more",
        ),
        (
            "half a million athletes of long names",
            || {
                let row = |n: u32| format!("2026-03-14,{n:0>100},pull-up,5\n");
                (0..499_999)
                    .fold("Date,Name,Exercise,Reps\n".to_owned(), |sheet, n| sheet + &row(n))
                    .into_bytes()
            },
            "499999 sets of 499999 athletes",
        ),
        (
            "a row of separators",
            || [b"Date,Exercise,Reps\n".to_vec(), vec![b','; 60_000_000], vec![b'\n']].concat(),
            "found more than 16384 cells in a row; expected rows as wide as the header",
        ),
        (
            "a quote that takes in the file",
            || format!("Date,Exercise,Reps\n\"{}\"\n", "x".repeat(60_000_000)).into_bytes(),
            "row 2: found a cell of 60000000 bytes",
        ),
        (
            "a file in UTF-16 that grows",
            || [vec![0xFF, 0xFE], [0x00, 0x30].repeat(30_000_000)].concat(),
            "found a cell of 90000000 bytes",
        ),
        (
            "a file too large",
            || vec![b'a'; 64 * 1024 * 1024 + 1],
            "found 67108865 bytes; expected at most 67108864 bytes",
        ),
    ];

    const CELL: &str = "<table:table-cell office:value-type=\"string\"><text:p>a</text:p></table:table-cell>";

    /// Names the file that a process is there for.
    const ONE: &str = "HOSTILE_FILE";
    const TEST: &str = "files::every_hostile_file_ends_with_a_clear_error_in_little_memory";
    /// What a process says first, before the most kilobytes that it had and what came of the file.
    const SAID: &str = "most kilobytes and end: ";

    #[test]
    fn every_hostile_file_ends_with_a_clear_error_in_little_memory() {
        if let Ok(asked) = std::env::var(ONE) {
            let (_, make, _) = FILES.iter().find(|(name, ..)| *name == asked).expect("a file of the list");
            let found = end(&make());
            let told = writeln!(std::io::stdout(), "{SAID}{} {found}", most_kilobytes());
            return told.expect("somebody listens");
        }
        let mut wrong = Vec::new();
        // An older encoding may take three bytes for one.
        let older = vec![0x80; 64 * 1024 * 1024];
        let refused = Grid::open("bad", &older, Encoding::Windows1252).map(drop);
        let refused = refused.map_err(|refusal| refusal.to_string()).expect_err("too much");
        let most = most_kilobytes();
        assert!(most > 60 * 1024, "{most} KB: less than the file itself, so memory is not counted");
        let says = "found 201326592 bytes of text; expected at most 134217728 bytes";
        judge("an older encoding that grows", (most, &refused), says, &mut wrong);
        for (name, _, says) in FILES {
            let (most, found) = alone(name);
            judge(name, (most, &found), says, &mut wrong);
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }

    fn judge(name: &str, (most, found): (u64, &str), says: &str, wrong: &mut Vec<String>) {
        if !found.contains(says) || most > MOST {
            wrong.push(format!("{name}: {most} KB; {found}"));
        }
    }

    /// Reads a file in a process of its own: the most kilobytes that it had, and what came of the file.
    fn alone(name: &str) -> (u64, String) {
        let program = std::env::current_exe().expect("this program");
        let done = Command::new(program).args([TEST, "--exact", "--nocapture"]).env(ONE, name).output();
        let done = done.expect("a process");
        let text = String::from_utf8_lossy(&done.stdout).into_owned();
        let said = text.split(SAID).nth(1).and_then(|rest| rest.split_once(' '));
        let (most, found) =
            said.unwrap_or_else(|| panic!("{name}: {text}{}", String::from_utf8_lossy(&done.stderr)));
        (most.parse().expect("a number"), found.to_owned())
    }
}
