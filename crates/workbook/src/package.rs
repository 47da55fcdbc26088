//! Package: the archive that a workbook is, its parts copied as they are but for a few.

use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::own_sheet::OwnSheetError;

/// The archive over the bytes of a file.
pub(crate) type Archive<'b> = ZipArchive<Cursor<&'b [u8]>>;

/// Most bytes of a part that is read whole: lists of sheets and links, and a sheet of our own.
const MOST_BYTES: u64 = 16 * 1024 * 1024;

/// Opens the archive.
pub(crate) fn open(bytes: &[u8]) -> Result<Archive<'_>, OwnSheetError> {
    ZipArchive::new(Cursor::new(bytes)).map_err(damaged)
}

/// What is told of an archive that cannot be read.
pub(crate) fn damaged(error: impl Into<zip::result::ZipError>) -> OwnSheetError {
    OwnSheetError::Damaged { source: error.into() }
}

/// A part as text. Fails when there is none of this name, and when it is too long or not UTF-8.
pub(crate) fn read(archive: &mut Archive<'_>, name: &str) -> Result<String, OwnSheetError> {
    let strange = |what: &str| OwnSheetError::Strange { what: format!("the part {name} {what}") };
    let index = archive.index_for_name(name).ok_or_else(|| strange("is missing"))?;
    let part = archive.by_index(index).map_err(damaged)?;
    let mut bytes = Vec::new();
    part.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(damaged)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > MOST_BYTES {
        return Err(strange("is too long"));
    }
    String::from_utf8(bytes).map_err(|_| strange("is not UTF-8"))
}

/// The same archive with other content for some parts, and with new ones at its end. All others are copied as they are
/// stored, in the same order.
pub(crate) fn with_parts(
    archive: &mut Archive<'_>,
    changed: &BTreeMap<String, String>,
) -> Result<Vec<u8>, OwnSheetError> {
    let comment = archive.comment().to_owned();
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    let mut left = changed.clone();
    for index in 0..archive.len() {
        let name = archive.by_index_raw(index).map_err(damaged)?.name_raw().to_vec();
        match String::from_utf8(name).ok().and_then(|name| left.remove_entry(&name)) {
            Some((name, content)) => put(&mut out, &name, &content)?,
            None => out.raw_copy_file(archive.by_index_raw(index).map_err(damaged)?).map_err(damaged)?,
        }
    }
    for (name, content) in left {
        put(&mut out, &name, &content)?;
    }
    out.set_raw_comment(comment.into_boxed_slice()).map_err(damaged)?;
    Ok(out.finish().map_err(damaged)?.into_inner())
}

/// A part of ours. It has no time of its own: the same content gives the same bytes.
fn put(out: &mut ZipWriter<Cursor<Vec<u8>>>, name: &str, content: &str) -> Result<(), OwnSheetError> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default());
    out.start_file(name, options).map_err(damaged)?;
    out.write_all(content.as_bytes()).map_err(damaged)
}

/// Checks that two archives have the same parts, byte by byte as stored, but for those named.
pub(crate) fn prove_others_untouched(
    before: &[u8],
    after: &[u8],
    changed: &BTreeMap<String, String>,
) -> Result<(), OwnSheetError> {
    let touched = |what: &str| OwnSheetError::Strange { what: format!("{what}, which must not be touched") };
    let mut stored = stored_parts(after)?;
    for name in changed.keys() {
        let written = read(&mut open(after)?, name)?;
        if changed.get(name) != Some(&written) || stored.remove(name.as_bytes()).is_none() {
            return Err(OwnSheetError::Strange { what: format!("the part {name} as it was written") });
        }
    }
    for (name, bytes) in stored_parts(before)? {
        let shown = String::from_utf8_lossy(&name).into_owned();
        if changed.contains_key(&shown) {
            continue;
        }
        if stored.remove(&name) != Some(bytes) {
            return Err(touched(&format!("the part {shown}")));
        }
    }
    if stored.is_empty() { Ok(()) } else { Err(touched("the list of parts")) }
}

/// Check sum and compressed bytes of each part, by its name.
type StoredParts = BTreeMap<Vec<u8>, (u32, Vec<u8>)>;

/// Every part as it is stored.
fn stored_parts(bytes: &[u8]) -> Result<StoredParts, OwnSheetError> {
    let mut archive = open(bytes)?;
    let mut parts = BTreeMap::new();
    for index in 0..archive.len() {
        let mut part = archive.by_index_raw(index).map_err(damaged)?;
        let mut stored = Vec::new();
        part.read_to_end(&mut stored).map_err(damaged)?;
        parts.insert(part.name_raw().to_vec(), (part.crc32(), stored));
    }
    Ok(parts)
}
