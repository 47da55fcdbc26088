//! Fuzz: what the targets assert of anything that comes from outside.
//!
//! Each target takes bytes and judges what is made of them: what is accepted is written back equal, what is refused names a
//! field that there is, and neither takes more memory than the bytes allow. [`TARGETS`] lists them; `targets/` gives each to
//! libFuzzer, `corpus.rs` holds each against the corpus that is kept, `run` does the rest.

mod allowance;
mod contract;
mod door;
mod json;
mod ladder;
pub mod mutation;
mod page;
mod planted;
mod proto;
pub mod seed;
mod sheet;
mod workbook;
mod world;

/// A target.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Its name: that of its file, its corpus and its dictionary.
    pub name: &'static str,
    /// Judges any bytes. Panics when they are judged wrongly.
    pub judge: fn(&[u8]),
}

/// Every target.
pub const TARGETS: [Target; 6] = [PROTO, SHEET, LADDER, PAGE, WORKBOOK, JSON];

/// Requests of the contract, read at the door and made values of the domain.
pub const PROTO: Target = Target { name: "proto", judge: proto::judge };
/// Sheets of sets.
pub const SHEET: Target = Target { name: "sheet", judge: sheet::judge };
/// Files of ladders and of abilities.
pub const LADDER: Target = Target { name: "ladder", judge: ladder::judge };
/// Page tokens.
pub const PAGE: Target = Target { name: "page", judge: page::judge };
/// Sheets of other people's making: xlsx, ods and CSV.
pub const WORKBOOK: Target = Target { name: "workbook", judge: workbook::judge };
/// Requests over plain HTTP: verb, path, query and body.
pub const JSON: Target = Target { name: "json", judge: json::judge };
/// A fault behind a comparison of four bytes, to see that faults are found. Not among [`TARGETS`].
pub const PLANTED: Target = Target { name: "planted", judge: planted::judge };
