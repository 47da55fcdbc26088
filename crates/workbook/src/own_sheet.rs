//! Own sheet: one sheet of ours within a workbook of somebody else's, every other part of it left as it is.
//!
//! A workbook is an archive of parts. [`put`] exchanges the part of our sheet alone; where the sheet is not there yet, an entry
//! for it is put at the end of the lists of sheets, links and kinds of parts (`workbook.xml`, its `.rels`,
//! `[Content_Types].xml`). All other parts are copied as they are stored, compressed bytes and check sums, and that is compared
//! before anything is handed out. Styles are a part too and stay as they are: our sheet has bold texts by marks within its
//! own cells.
//!
//! A sheet is ours when its name is [`NAME`] and its first cell holds [`MARK`]; both stay when a spreadsheet program saves the
//! file anew. A sheet of our name that somebody else made is never written to. Whether there is anything to write is asked of
//! the texts in the cells, so that a file saved anew by another program is not written again.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use nextrung_sheet::grid::{Encoding, Grid, Refusal, part_at};

use crate::insertion::List;
use crate::package::{Archive, open, prove_others_untouched, read, with_parts};

mod content;

use crate::session::Session;
use content::Content;

/// What our sheet is called.
pub const NAME: &str = "Next session";

/// What the first cell of our sheet holds.
pub const MARK: &str =
    "Written by nextrung and written over each time: nothing typed into this sheet is kept.";

/// Tags of what somebody else may have put into our sheet, and what each is: other parts belong to it, or a list of theirs.
const GUESTS: [(&str, &str); 6] = [
    ("f", "formula"),
    ("tablePart", "table"),
    ("drawing", "chart or picture"),
    ("legacyDrawing", "comment"),
    ("oleObject", "embedded object"),
    ("control", "control"),
];

/// Why our sheet was not written; the workbook is as it was.
#[derive(Debug, thiserror::Error)]
pub enum OwnSheetError {
    /// The file is no workbook that can be read.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// It is a workbook of another kind.
    #[error("only xlsx and xlsm are written to")]
    OtherKind,
    /// There is a sheet of our name that is not ours.
    #[error(
        "its sheet `{NAME}` is somebody else's (its first cell lacks our mark): rename that sheet, and ours is added"
    )]
    NotOurs,
    /// Something stands in our sheet that cannot be taken out of it alone.
    #[error("a {what} stands in our sheet `{NAME}`: move it to a sheet of yours, or delete the whole sheet")]
    Guest {
        /// What: a formula, a table, a drawing, a comment.
        what: &'static str,
    },
    /// Its sheets are protected against being added to.
    #[error("the structure of its sheets is protected: take the protection off until our sheet is in it")]
    Protected,
    /// It is signed, and any change would break the signature.
    #[error("it is signed, and the signature would be broken")]
    Signed,
    /// The archive cannot be read or written.
    #[error("its archive is damaged")]
    Damaged {
        /// Why.
        #[source]
        source: zip::result::ZipError,
    },
    /// It is laid out in a way that is not known here.
    #[error("it is laid out in a way that is not known here: {what}")]
    Strange {
        /// What.
        what: String,
    },
}

/// A workbook with our sheet in it.
#[derive(Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It held all of it already.
    Unchanged,
    /// The bytes to write.
    Changed(Vec<u8>),
}

/// The place of our sheet in a workbook.
struct Place {
    /// The part that lists the sheets, and its links.
    book: String,
    links: String,
    sheets: List,
    targets: List,
}

/// True for the name of our sheet, in whatever case.
pub fn is_own_name(name: &str) -> bool {
    name.trim().eq_ignore_ascii_case(NAME)
}

/// True when the workbook holds our sheet with these sessions already, whatever they were made from. Fails as [`put`] does.
pub fn is_up_to_date(file: &str, bytes: &[u8], sessions: &[Session]) -> Result<bool, OwnSheetError> {
    let grid = Grid::open(file, bytes, Encoding::Unicode)?;
    let Some(sheet) = own(&grid)? else { return Ok(false) };
    let wanted = Content::of(sessions);
    let mut held: Vec<(u32, Vec<String>)> = Vec::new();
    grid.walk(sheet, &mut |row| {
        let mut cells: Vec<String> = row.cells.iter().map(|cell| cell.written('.')).collect();
        cells.truncate(cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1));
        if !cells.is_empty() {
            held.push((row.number, cells));
        }
        ControlFlow::Continue(())
    })?;
    Ok(wanted.is_held_in(&held))
}

/// The workbook `bytes`, called `file` in messages, with our sheet holding `sessions`. Fails on a workbook that must not or
/// cannot be written to.
pub fn put(file: &str, bytes: &[u8], sessions: &[Session]) -> Result<Outcome, OwnSheetError> {
    let grid = Grid::open(file, bytes, Encoding::Unicode)?;
    let at = own(&grid)?;
    let mut archive = open(bytes)?;
    judge(&archive)?;
    let place = Place::find(&mut archive)?;
    let changed = match at {
        Some(sheet) => {
            let name = grid.sheets().get(sheet).map(|sheet| sheet.name.clone()).unwrap_or_default();
            place.exchanged(&mut archive, &name, sessions)?
        }
        None => place.added(&mut archive, sessions)?,
    };
    let made = with_parts(&mut archive, &changed)?;
    prove_others_untouched(bytes, &made, &changed)?;
    if !is_up_to_date(file, &made, sessions)? {
        return Err(OwnSheetError::Strange { what: "our sheet does not read back".to_owned() });
    }
    if made == bytes { Ok(Outcome::Unchanged) } else { Ok(Outcome::Changed(made)) }
}

/// Our sheet in a workbook, counted from 0; nothing when it is not there. Fails when one of its name is not ours.
fn own(grid: &Grid<'_>) -> Result<Option<usize>, OwnSheetError> {
    let Some(sheet) = grid.sheets().iter().position(|sheet| is_own_name(&sheet.name)) else {
        return Ok(None);
    };
    let mut is_ours = false;
    grid.walk(sheet, &mut |row| {
        is_ours = row.cells.first().is_some_and(|cell| cell.written('.').trim() == MARK);
        ControlFlow::Break(())
    })?;
    if is_ours { Ok(Some(sheet)) } else { Err(OwnSheetError::NotOurs) }
}

/// Refuses workbooks that must not be changed.
fn judge(archive: &Archive<'_>) -> Result<(), OwnSheetError> {
    if archive.index_for_name("content.xml").is_some()
        || archive.index_for_name("[Content_Types].xml").is_none()
    {
        return Err(OwnSheetError::OtherKind);
    }
    let is_signed = archive.file_names().flatten().any(|name| name.starts_with("_xmlsignatures/"));
    if is_signed { Err(OwnSheetError::Signed) } else { Ok(()) }
}

impl Place {
    fn find(archive: &mut Archive<'_>) -> Result<Self, OwnSheetError> {
        let package = List::read(read(archive, "_rels/.rels")?, "Relationships")?;
        let is_book = |kind: &str| kind.ends_with("/officeDocument");
        let book = package.of("Relationship").find(|link| link.get("Type").is_some_and(is_book));
        let book = part_at("", book.and_then(|link| link.get("Target")).unwrap_or("xl/workbook.xml"));
        let (folder, name) = book.rsplit_once('/').unwrap_or(("", &book));
        let links = part_at(folder, &format!("_rels/{name}.rels"));
        let sheets = List::read(read(archive, &book)?, "sheets")?;
        let targets = List::read(read(archive, &links)?, "Relationships")?;
        Ok(Self { book, links, sheets, targets })
    }

    fn folder(&self) -> &str {
        self.book.rsplit_once('/').map_or("", |(folder, _)| folder)
    }

    /// The part of our sheet with another content.
    fn exchanged(
        &self,
        archive: &mut Archive<'_>,
        name: &str,
        sessions: &[Session],
    ) -> Result<BTreeMap<String, String>, OwnSheetError> {
        let strange = || OwnSheetError::Strange { what: "our sheet is not among its links".to_owned() };
        let entry = self.sheets.of("sheet").find(|sheet| sheet.get("name") == Some(name));
        let id = entry.and_then(|sheet| sheet.get("id")).ok_or_else(strange)?;
        let link = self.targets.of("Relationship").find(|link| link.get("Id") == Some(id));
        let target = link.and_then(|link| link.get("Target")).ok_or_else(strange)?;
        let part = part_at(self.folder(), target);
        let before = List::read(read(archive, &part)?, "worksheet")?;
        for (kind, what) in GUESTS {
            if before.of(kind).next().is_some() {
                return Err(OwnSheetError::Guest { what });
            }
        }
        Ok(BTreeMap::from([(part, Content::of(sessions).xml(&self.namespace()?))]))
    }

    /// A new part for our sheet, and its entries.
    fn added(
        &self,
        archive: &mut Archive<'_>,
        sessions: &[Session],
    ) -> Result<BTreeMap<String, String>, OwnSheetError> {
        let is_locked = |tag: &str| tag == "1" || tag == "true";
        if self.sheets.of("workbookProtection").any(|tag| tag.get("lockStructure").is_some_and(is_locked)) {
            return Err(OwnSheetError::Protected);
        }
        let strange = |what: &str| OwnSheetError::Strange { what: what.to_owned() };
        let sibling = self.sheets.of("sheet").next().ok_or_else(|| strange("a workbook without sheets"))?;
        let id_name = sibling.written("id").ok_or_else(|| strange("a sheet without a link"))?;
        let is_sheet = |kind: &str| kind.ends_with("/worksheet");
        let kind =
            self.targets.of("Relationship").filter_map(|link| link.get("Type")).find(|kind| is_sheet(kind));
        let kind = kind.ok_or_else(|| strange("a workbook without plain sheets"))?;
        let (relative, part) = self.free_part(archive);
        let id = self.targets.free("Relationship", "Id", "rIdNextrung");
        let sheet_id = self.sheets.free("sheet", "sheetId", "");
        let types = List::read(read(archive, "[Content_Types].xml")?, "Types")?;
        let part_name = format!("/{part}");
        let content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml";
        Ok(BTreeMap::from([
            (
                "[Content_Types].xml".to_owned(),
                types.with("Override", &[("PartName", &part_name), ("ContentType", content_type)])?,
            ),
            (
                self.book.clone(),
                self.sheets.with("sheet", &[("name", NAME), ("sheetId", &sheet_id), (id_name, &id)])?,
            ),
            (
                self.links.clone(),
                self.targets.with("Relationship", &[("Id", &id), ("Type", kind), ("Target", &relative)])?,
            ),
            (part, Content::of(sessions).xml(&self.namespace()?)),
        ]))
    }

    /// The namespace of sheets in this workbook: there are two editions of the format.
    fn namespace(&self) -> Result<String, OwnSheetError> {
        let root = self.sheets.of("workbook").next();
        let is_strict = |root: &crate::insertion::Entry| {
            root.get("conformance") == Some("strict")
                || root.has_value("http://purl.oclc.org/ooxml/spreadsheetml/main")
        };
        let strange = || OwnSheetError::Strange { what: "a list of sheets that is no workbook".to_owned() };
        let name = match is_strict(root.ok_or_else(strange)?) {
            true => "http://purl.oclc.org/ooxml/spreadsheetml/main",
            false => "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        };
        Ok(name.to_owned())
    }

    /// A name for a new part that is not taken, from the folder of the workbook and from the top.
    fn free_part(&self, archive: &Archive<'_>) -> (String, String) {
        let name = |number: u32| format!("worksheets/nextrung{number}.xml");
        let is_free = |relative: &String| archive.index_for_name(&part_at(self.folder(), relative)).is_none();
        let relative = (1..u32::MAX).map(name).find(is_free).unwrap_or_default();
        let part = part_at(self.folder(), &relative);
        (relative, part)
    }
}
