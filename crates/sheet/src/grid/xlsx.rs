//! Xlsx: workbooks of Office Open XML (ECMA-376), row by row.

use std::collections::BTreeMap;

use crate::grid::cap::{MAX_SHEETS, MAX_STRING_BYTES, MAX_STRINGS};
use crate::grid::merge::{Merges, Span};
use crate::grid::part::{Archive, Part, Piece, attribute, contains};
use crate::grid::place::Fault;
use crate::grid::xlsx_style::{Shown, read_formats};
use crate::grid::{OnRow, SheetName};

mod row;

/// A workbook, its texts and formats read, its sheets not yet.
pub(crate) struct Xlsx<'b> {
    archive: Archive<'b>,
    sheets: Vec<(SheetName, String)>,
    strings: Strings,
    formats: Vec<Shown>,
    is_1904: bool,
}

/// The texts that cells point to, end to end.
#[derive(Debug, Default)]
struct Strings {
    text: String,
    ends: Vec<u32>,
}

impl Strings {
    fn get(&self, index: usize) -> Option<&str> {
        let end = usize::try_from(*self.ends.get(index)?).ok()?;
        let start = index.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        self.text.get(usize::try_from(start).ok()?..end)
    }
}

impl<'b> Xlsx<'b> {
    /// Reads what the sheets need.
    pub(crate) fn open(mut archive: Archive<'b>) -> Result<Self, Fault> {
        let package = links(&mut archive, "_rels/.rels", "")?;
        let book = package.into_values().find(|link| link.kind == "officeDocument").map(|link| link.target);
        let book = book.unwrap_or_else(|| "xl/workbook.xml".to_owned());
        if book.ends_with(".bin") {
            return Err(Fault::new("a binary workbook (.xlsb)", "a workbook saved as .xlsx or .ods, or CSV"));
        }
        let (folder, name) = book.rsplit_once('/').unwrap_or(("", &book));
        let links = links(&mut archive, &format!("{folder}/_rels/{name}.rels"), folder)?;
        let target =
            |kind: &str| links.values().find(|link| link.kind == kind).map(|link| link.target.clone());
        let strings = match target("sharedStrings") {
            Some(name) => read_strings(&mut archive, &name)?,
            None => Strings::default(),
        };
        let formats =
            match target("styles").map(|name| Part::open(&mut archive, &name)).transpose()?.flatten() {
                Some(mut part) => read_formats(&mut part)?,
                None => Vec::new(),
            };
        let (sheets, is_1904) = read_book(&mut archive, &book, &links)?;
        Ok(Self { archive, sheets, strings, formats, is_1904 })
    }

    pub(crate) fn sheets(&self) -> Vec<SheetName> {
        self.sheets.iter().map(|(name, _)| name.clone()).collect()
    }

    pub(crate) fn walk(&self, sheet: usize, on_row: OnRow<'_>) -> Result<(), Fault> {
        let missing = || Fault::new("no such sheet", "a sheet of the workbook");
        let (_, path) = self.sheets.get(sheet).ok_or_else(missing)?;
        let mut archive = self.archive.clone();
        // Merged ranges are told after the rows, so a sheet that has any is read for them first.
        let spans = match contains(&mut archive, path, b"mergeCell ")? {
            true => read_spans(&mut archive, path)?,
            false => Vec::new(),
        };
        let merges = Merges::new(spans)?;
        let mut part = Part::open(&mut archive, path)?.ok_or_else(missing)?;
        row::walk(self, &mut part, merges, on_row)
    }
}

/// What a part points to.
struct Link {
    kind: String,
    target: String,
}

/// The links of a part by their id, targets as names in the archive.
fn links(archive: &mut Archive<'_>, name: &str, folder: &str) -> Result<BTreeMap<String, Link>, Fault> {
    let mut links = BTreeMap::new();
    let Some(mut part) = Part::open(archive, name)? else { return Ok(links) };
    loop {
        match part.next()? {
            Piece::Open(tag) if tag.local_name().as_ref() == "Relationship" => {
                let all = (attribute(&tag, "Id")?, attribute(&tag, "Type")?, attribute(&tag, "Target")?);
                let (Some(id), Some(kind), Some(target)) = all else { continue };
                let kind = kind.rsplit('/').next().unwrap_or_default().to_owned();
                links.insert(id.into_owned(), Link { kind, target: part_at(folder, &target) });
            }
            Piece::End => return Ok(links),
            Piece::Open(_) | Piece::Close(_) | Piece::Text(_) => {}
        }
        if links.len() > 10 * MAX_SHEETS {
            return Err(Fault::new("more links than sheets can need", "a workbook with fewer parts"));
        }
    }
}

/// The target of a relationship in a folder of a workbook, as a name in its archive (ECMA-376, part 2; from memory).
pub fn part_at(folder: &str, target: &str) -> String {
    if let Some(absolute) = target.strip_prefix('/') {
        return absolute.to_owned();
    }
    let mut steps: Vec<&str> = folder.split('/').filter(|step| !step.is_empty()).collect();
    for step in target.split('/') {
        match step {
            "." | "" => {}
            ".." => {
                steps.pop();
            }
            _ => steps.push(step),
        }
    }
    steps.join("/")
}

type Sheets = Vec<(SheetName, String)>;

fn read_book(
    archive: &mut Archive<'_>,
    name: &str,
    links: &BTreeMap<String, Link>,
) -> Result<(Sheets, bool), Fault> {
    let missing = || Fault::new("no list of sheets", "a workbook as a spreadsheet program saves it");
    let mut part = Part::open(archive, name)?.ok_or_else(missing)?;
    let (mut sheets, mut is_1904) = (Vec::new(), false);
    loop {
        match part.next()? {
            Piece::Open(tag) => match tag.local_name().as_ref() {
                "workbookPr" => {
                    if let Some(flag) = attribute(&tag, "date1904")? {
                        is_1904 = matches!(flag.as_ref(), "1" | "true");
                    }
                }
                "sheet" => {
                    let name = attribute(&tag, "name")?.unwrap_or_default().into_owned();
                    let is_hidden = attribute(&tag, "state")?.is_some_and(|state| state != "visible");
                    let link = attribute(&tag, "id")?.and_then(|id| links.get(id.as_ref()));
                    // Sheets of charts and of macros hold no rows.
                    if let Some(link) = link.filter(|link| link.kind == "worksheet") {
                        sheets.push((SheetName { name, is_hidden }, link.target.clone()));
                    }
                }
                _ => {}
            },
            Piece::End => break,
            Piece::Close(_) | Piece::Text(_) => {}
        }
        if sheets.len() > MAX_SHEETS {
            return Err(Fault::new(format!("more than {MAX_SHEETS} sheets"), "a workbook with fewer sheets"));
        }
    }
    if sheets.is_empty() { Err(missing()) } else { Ok((sheets, is_1904)) }
}

/// Reads the texts that cells point to. What the part says about their number is not believed.
fn read_strings(archive: &mut Archive<'_>, name: &str) -> Result<Strings, Fault> {
    let mut strings = Strings::default();
    let Some(mut part) = Part::open(archive, name)? else { return Ok(strings) };
    let (mut in_text, mut is_phonetic) = (false, false);
    loop {
        match part.next()? {
            Piece::Open(tag) => match tag.local_name().as_ref() {
                "t" => in_text = true,
                "rPh" => is_phonetic = true,
                _ => {}
            },
            Piece::Text(text) if in_text && !is_phonetic => strings.text.push_str(&text),
            Piece::Close(tag) => match tag.local_name().as_ref() {
                "t" => in_text = false,
                "rPh" => is_phonetic = false,
                "si" => strings.ends.push(u32::try_from(strings.text.len()).unwrap_or(u32::MAX)),
                _ => {}
            },
            Piece::End => return Ok(strings),
            Piece::Text(_) => {}
        }
        if strings.text.len() > MAX_STRING_BYTES || strings.ends.len() > MAX_STRINGS {
            let (count, bytes) = (strings.ends.len(), strings.text.len());
            let found = format!("{count} or more texts of {bytes} or more bytes in the part {name}");
            let expected =
                format!("at most {MAX_STRINGS} texts of {MAX_STRING_BYTES} bytes; split the workbook");
            return Err(Fault::new(found, expected));
        }
    }
}

fn read_spans(archive: &mut Archive<'_>, path: &str) -> Result<Vec<Span>, Fault> {
    let mut spans = Vec::new();
    let Some(mut part) = Part::open(archive, path)? else { return Ok(spans) };
    loop {
        match part.next()? {
            Piece::Open(tag) if tag.local_name().as_ref() == "mergeCell" => {
                if let Some(range) = attribute(&tag, "ref")? {
                    spans.extend(Span::parse(&range)?);
                }
            }
            Piece::End => return Ok(spans),
            Piece::Open(_) | Piece::Close(_) | Piece::Text(_) => {}
        }
        if spans.len() > crate::grid::cap::MAX_MERGES {
            return Ok(spans);
        }
    }
}
