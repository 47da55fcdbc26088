//! Imports as pages: what a sheet comes to, what is wrong with it, and what was recorded.

use std::collections::BTreeMap;
use std::path::PathBuf;

use nextrung_sheet::counted;
use nextrung_sheet::stage::{Finding, Staged, Summary};
use serde_json::{Value, json};

use crate::names;
use crate::output::Layout;
use crate::paragraph::hanging;
use crate::table::Columns;

/// Rows of a table of counts; the rest is summed.
const MOST_COUNTS: usize = 25;
/// Findings of a page.
const MOST_FINDINGS: usize = 40;

/// What a sheet comes to, and what was done with it.
pub(crate) struct Report<'r> {
    file: &'r str,
    /// The roster by its id.
    roster: &'r str,
    sheet: Option<&'r str>,
    staged: &'r Staged,
    /// Sound sets that the service does not know yet, and those that it knows.
    known: Option<(usize, usize)>,
    /// What was recorded; nothing when nothing was.
    pub(crate) written: Option<Written>,
}

/// What was recorded.
#[derive(Debug, Default)]
pub(crate) struct Written {
    /// Sets that were not known before.
    pub(crate) fresh: usize,
    /// Sets that were known already.
    pub(crate) known: usize,
    /// Rows set aside.
    pub(crate) rows_aside: usize,
    /// Where they would be set aside.
    pub(crate) set_aside: Option<PathBuf>,
}

impl<'r> Report<'r> {
    /// Of a sheet that was rehearsed, for a roster by its resource name.
    pub(crate) fn new(file: &'r str, roster: &'r str, sheet: &'r Option<String>, staged: &'r Staged) -> Self {
        Self {
            file,
            roster: names::last(roster),
            sheet: sheet.as_deref(),
            staged,
            known: None,
            written: None,
        }
    }

    /// The same with what the service knows of the sound sets; nothing when it was not asked to the end.
    pub(crate) fn know(&mut self, fresh: usize, known: usize) {
        self.known = (fresh + known > 0).then_some((fresh, known));
    }

    /// For programs.
    pub(crate) fn to_json(&self) -> Value {
        let Summary { rows, sound_rows, bad_rows, sets, .. } = self.staged.summary;
        let summary = &self.staged.summary;
        let counts = |what: &str, counts: &BTreeMap<String, usize>| {
            counts.iter().map(|(name, sets)| json!({ what: name, "sets": sets })).collect::<Vec<_>>()
        };
        let left_out: Vec<Value> = summary
            .left_out
            .iter()
            .map(|(why, rows)| json!({ "reason": why.words(), "rows": rows }))
            .collect();
        let given: Vec<Value> = summary
            .given
            .iter()
            .map(|(given, sets)| json!({ "field": given.field, "value": given.word, "sets": sets }))
            .collect();
        let again: Vec<Value> =
            summary.again.iter().map(|again| json!({ "rows": again.rows, "like": again.like })).collect();
        json!({
            "file": self.file,
            "sheet": self.sheet,
            "roster": self.roster,
            "rows": rows,
            "daysAcross": summary.is_across,
            "soundRows": sound_rows,
            "badRows": bad_rows,
            "sets": sets,
            "firstDay": summary.days.map(|(first, _)| first.to_string()),
            "lastDay": summary.days.map(|(_, last)| last.to_string()),
            "athletes": counts("athlete", &summary.athletes),
            "rungs": counts("rung", &summary.rungs),
            "leftOut": left_out,
            "hiddenRowsRead": summary.hidden_read,
            "filledDown": summary.filled_down,
            "given": given,
            "columnsNotRead": summary.unread,
            "tornSessions": summary.torn_sessions,
            "tornSets": summary.torn_sets,
            "again": again,
            "furtherAgain": summary.more_again,
            "newSets": self.known.map(|(fresh, _)| fresh),
            "knownSets": self.known.map(|(_, known)| known),
            "findings": self.staged.findings.iter().map(finding_json).collect::<Vec<_>>(),
            "furtherFindings": self.staged.more,
            "recorded": self.written.as_ref().map(|written| json!({
                "newSets": written.fresh,
                "knownSets": written.known,
                "rowsSetAside": written.rows_aside,
                "setAside": written.set_aside.as_ref().filter(|_| written.rows_aside > 0),
            })),
        })
    }
}

fn finding_json(finding: &Finding) -> Value {
    json!({
        "file": finding.place.file,
        "sheet": finding.place.sheet,
        "cell": finding.place.cell,
        "header": finding.header,
        "count": finding.count,
        "cells": finding.cells,
        "found": finding.found,
        "expected": finding.expected,
    })
}

/// For people.
pub(crate) fn page(report: &Report<'_>, layout: Layout) -> String {
    let sheet = report.sheet.map(|name| format!(", sheet `{name}`")).unwrap_or_default();
    let head = format!("{}{sheet}, for {}", report.file, report.roster);
    let mut page = format!("{}\n\n", layout.strong(&head));
    for (label, text) in facts(report) {
        page += &hanging(&format!("  {label:<13}"), &text, layout.width);
    }
    let summary = &report.staged.summary;
    if summary.sets > 0 {
        let short = |name: &str| format!("{}/{name}", report.roster);
        page += &format!("\n{}", table("athlete", &summary.athletes, short, layout));
        page += &format!("\n{}", table("rung", &summary.rungs, str::to_owned, layout));
    }
    page += &findings(report.staged, layout);
    page += &end(report, layout);
    page
}

/// What there is to know about the sheet, line by line.
fn facts(report: &Report<'_>) -> Vec<(&'static str, String)> {
    let summary = &report.staged.summary;
    let mut facts = vec![(
        "rows",
        format!(
            "{}{}: {} with {}, {} with problems",
            summary.rows,
            if summary.is_across { ", of their cells under days" } else { "" },
            summary.sound_rows,
            counted(summary.sets, "set"),
            summary.bad_rows
        ),
    )];
    facts.extend(summary.days.map(|(first, last)| ("days", format!("{first} to {last}"))));
    if let Some((fresh, known)) = report.known.filter(|_| report.written.is_none()) {
        facts.push(("sets", format!("{fresh} new, {known} recorded already")));
    }
    for (why, rows) in &summary.left_out {
        facts.push(("left out", format!("{}: {}", counted(*rows, "row"), why.words())));
    }
    if summary.hidden_read > 0 {
        facts.push(("hidden", format!("{} read although hidden", counted(summary.hidden_read, "row"))));
    }
    if summary.filled_down > 0 {
        facts.push(("filled down", format!("{} from above", counted(summary.filled_down, "cell"))));
    }
    for (given, sets) in &summary.given {
        let text = format!("{} = {} by the mapping, to {}", given.field, given.word, counted(*sets, "set"));
        facts.push(("given", text));
    }
    if !summary.unread.is_empty() {
        facts.push(("not read", summary.unread.join(", ")));
    }
    if summary.torn_sessions > 0 {
        let sets = counted(summary.torn_sets, "sound set");
        facts.push(("sessions", format!("{} with bad rows, {sets} beside them", summary.torn_sessions)));
    }
    facts.extend(summary.told_again().into_iter().map(|line| ("said again", line)));
    facts
}

/// Sets by what they are of, the most first.
fn table(
    what: &str,
    counts: &BTreeMap<String, usize>,
    named: impl Fn(&str) -> String,
    layout: Layout,
) -> String {
    let mut ordered: Vec<(&String, &usize)> = counts.iter().collect();
    ordered.sort_by_key(|(name, sets)| (std::cmp::Reverse(**sets), name.as_str()));
    let mut table = Columns::new(&[what, ">sets"]);
    for (name, sets) in ordered.iter().take(MOST_COUNTS) {
        table.row([named(name), sets.to_string()]);
    }
    let rest: Vec<usize> = ordered.iter().skip(MOST_COUNTS).map(|(_, sets)| **sets).collect();
    if !rest.is_empty() {
        table.row([format!("{} more", rest.len()), rest.iter().sum::<usize>().to_string()]);
    }
    table.render(layout)
}

fn findings(staged: &Staged, layout: Layout) -> String {
    if staged.findings.is_empty() {
        return String::new();
    }
    let mut page = format!("\n{}\n", layout.strong("What is wrong"));
    for finding in staged.findings.iter().take(MOST_FINDINGS) {
        let header = if finding.header.is_empty() { String::new() } else { format!(" ({})", finding.header) };
        let others: Vec<&str> = finding.cells.iter().skip(1).map(String::as_str).collect();
        let rest = if finding.count > finding.cells.len() { ", .." } else { "" };
        let more = match finding.count {
            1 => String::new(),
            several => format!(" and {} more ({}{rest})", several - 1, others.join(", ")),
        };
        page += &hanging("  ", &format!("{}{header}{more}", finding.place), layout.width);
        page += &hanging("      found     ", &finding.found.join(", "), layout.width);
        page += &hanging("      expected  ", &finding.expected, layout.width);
    }
    let untold = staged.findings.len().saturating_sub(MOST_FINDINGS);
    if untold > 0 || staged.more > 0 {
        let kinds = format!(
            "  and {} more of other kinds; --json has them\n",
            counted(untold + staged.more, "problem")
        );
        page += &kinds;
    }
    page
}

fn end(report: &Report<'_>, layout: Layout) -> String {
    let Some(written) = &report.written else { return "\nNothing was recorded.\n".to_owned() };
    let mut page =
        format!("\n{} recorded, {} known already.\n", counted(written.fresh, "new set"), written.known);
    if let Some(path) = &written.set_aside {
        let told = match written.rows_aside {
            0 => format!("Nothing had to be set aside, so there is no {}.", path.display()),
            rows => format!(
                "{} set aside in {}: mend them there and import that file with the same mapping and flags.",
                counted(rows, "row"),
                path.display()
            ),
        };
        page += &hanging("", &told, layout.width);
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(many: usize) -> BTreeMap<String, usize> {
        (0..many).map(|n| (format!("a-{n:02}"), n + 1)).collect()
    }

    #[test]
    fn the_most_come_first_and_the_rest_is_summed() {
        let page = table("athlete", &counts(MOST_COUNTS + 2), str::to_owned, Layout::PLAIN);
        let lines: Vec<&str> = page.lines().map(str::trim).collect();
        assert_eq!((lines[0], lines[1]), ("athlete  sets", "a-26       27"));
        assert_eq!(lines.last(), Some(&"2 more      3"));
        assert_eq!(lines.len(), MOST_COUNTS + 2);
    }
}
