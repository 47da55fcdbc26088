//! The page: that it stands alone, holds every figure, and lets nothing out of its place.

use nextrung_replay::evaluate::summary::Summary;
use nextrung_replay::output::{OutputError, report};

use crate::page::{elements, has_row, tables, text, tree};
use crate::sample::{HOSTILE, summary};

fn page(summary: &Summary) -> String {
    report::html(summary).expect("a page")
}

#[test]
fn it_stands_alone_and_nothing_runs() {
    let html = page(&summary());
    assert_eq!(html, page(&summary()));
    assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    for foreign in
        ["<script", "http", "url(", "@import", "@font-face", "<link", "<img", "<iframe", "javascript"]
    {
        assert!(!html.contains(foreign), "{foreign}");
    }
    let tree = tree(&html);
    for node in tree.descendants().filter(roxmltree::Node::is_element) {
        for attribute in node.attributes() {
            let is_within = attribute.name() != "href" || attribute.value().starts_with('#');
            assert!(
                is_within && !attribute.name().starts_with("on") && attribute.name() != "src",
                "{attribute:?}"
            );
        }
    }
}

#[test]
fn links_and_pictures_have_their_names() {
    let html = page(&summary());
    let tree = tree(&html);
    let mut ids: Vec<&str> = tree.descendants().filter_map(|node| node.attribute("id")).collect();
    for link in elements(&tree, "a") {
        let to = link.attribute("href").expect("a link").trim_start_matches('#');
        assert!(ids.contains(&to), "{to}");
    }
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "every name once");
    let pictures: Vec<_> =
        elements(&tree, "svg").into_iter().filter(|svg| svg.attribute("role") == Some("img")).collect();
    assert_eq!(pictures.len(), 5);
    for picture in pictures {
        let heads: Vec<String> =
            picture.children().filter(roxmltree::Node::is_element).take(2).map(text).collect();
        assert!(heads.iter().all(|words| words.len() > 20), "{heads:?}");
    }
    let colours = html.split("#").skip(1).filter(|rest| rest.starts_with(|c: char| c.is_ascii_hexdigit()));
    for colour in
        colours.filter_map(|rest| rest.get(..6)).filter(|c| c.chars().all(|c| c.is_ascii_hexdigit()))
    {
        assert!(colour[..2] == colour[2..4] && colour[2..4] == colour[4..], "{colour} is no grey");
    }
}

#[test]
fn every_cell_stands_under_a_head() {
    let html = page(&summary());
    let tree = tree(&html);
    for table in elements(&tree, "table") {
        let rows: Vec<_> = table.descendants().filter(|node| node.tag_name().name() == "tr").collect();
        let width = |row: &roxmltree::Node<'_, '_>| -> usize {
            let span = |cell: roxmltree::Node<'_, '_>| {
                cell.attribute("colspan").map_or(1, |n| n.parse().expect("a number"))
            };
            row.children().filter(roxmltree::Node::is_element).map(span).sum()
        };
        let widths: Vec<usize> = rows.iter().map(width).collect();
        assert!(widths.iter().all(|one| *one == widths[0] && *one > 1), "{widths:?} in {}", text(table));
        let heads = table.descendants().filter(|node| node.tag_name().name() == "th");
        assert!(heads.into_iter().all(|head| head.attribute("scope").is_some()));
        let named = table.children().any(|node| node.tag_name().name() == "caption")
            || table.ancestors().any(|node| node.tag_name().name() == "details");
        assert!(named, "{}", text(table));
    }
}

/// Rows that have to stand in some table of the page of the sample.
fn assert_rows(rows: &[&[&str]]) {
    let html = page(&summary());
    let tree = tree(&html);
    for row in rows {
        assert!(has_row(&tree, row), "{row:?} in {:#?}", tables(&tree));
    }
}

#[test]
fn every_count_and_score_stands_in_a_table() {
    assert_rows(&[
        &["athletes read", "13"][..],
        &["athletes with sets that were scored", "12"],
        &["sets read", "6\u{a0}654"],
        &["sets scored", "5\u{a0}432"],
        &["of these, sets that went on to their target or a failure", "4\u{a0}321"],
        &["withdrawn later", "77"],
        &["corrections of sets", "88"],
        &["rating", "what rating is"],
        &["service", "0.8123", "0.7822 to 0.8530", "0.7321", "0.4567", "41"],
        &["climatology", "1.8123", "1.7822 to 1.8530", "1.7321", "1.4567", "42"],
        &[
            "climatology",
            "\u{2212}0.0500",
            "\u{2212}0.0801 to \u{2212}0.0093",
            "better",
            "+0.0100",
            "\u{2212}0.0201 to +0.0507",
            "open",
        ],
        &[
            "rating",
            "\u{2212}0.1000",
            "\u{2212}0.1301 to \u{2212}0.0593",
            "better",
            "+0.0200",
            "\u{2212}0.0101 to +0.0607",
            "open",
        ],
        &[
            "service",
            "1\u{a0}200",
            "0.0611",
            "0.0033",
            "0.0722",
            "0.1377",
            "1\u{a0}200",
            "0.1111",
            "0.0533",
            "0.1222",
            "0.1877",
        ],
    ]);
    let html = page(&summary());
    assert!(html.contains("65.4\u{a0}% (62.4\u{a0}% to 69.5\u{a0}%)"), "the gap");
}

#[test]
fn every_step_group_and_adviser_stands_in_a_table() {
    assert_rows(&[
        &["0.12\u{a0}% to 25.00\u{a0}%", "6.2\u{a0}%", "400"][..],
        &["30.00\u{a0}% to 90.34\u{a0}%", "77.8\u{a0}%", "800"],
        &[
            "service",
            "62.4\u{a0}%",
            "61.1\u{a0}%",
            "83.5\u{a0}%",
            "82.2\u{a0}%",
            "94.6\u{a0}%",
            "93.3\u{a0}%",
            "0.0345",
        ],
        &["0.95 to 1.00", "59", "6.0\u{a0}%"],
        &["reps", "1\u{a0}234", "1.0100", "1.0200", "1.0300"],
        &["pull", "1\u{a0}234", "3.0100", "3.0200", "3.0300"],
        &[
            "rule",
            "52.0\u{a0}% (49.0\u{a0}% to 56.1\u{a0}%)",
            "62.0\u{a0}% (59.0\u{a0}% to 66.1\u{a0}%)",
            "72.0\u{a0}% (69.0\u{a0}% to 76.1\u{a0}%)",
            "2.02 (1.99 to 2.06)",
            "\u{2013}",
        ],
        &["rule", "7\u{a0}001", "6\u{a0}001", "501", "401", "98"],
        &[
            "harder rung",
            "303",
            "2\u{a0}300",
            "1\u{a0}150",
            "3",
            "4",
            "11",
            "12",
            "13",
            "14",
            "15",
            "50.0\u{a0}%",
        ],
    ]);
}

#[test]
fn it_begins_with_the_conclusions_and_ends_with_what_it_was_made_from() {
    let html = page(&summary());
    let tree = tree(&html);
    let sections = elements(&tree, "section");
    let first = text(sections[0]);
    assert!(first.contains("The first conclusion.") && first.contains("The second one."), "{first}");
    let last = text(*sections.last().expect("a section"));
    for part in [
        "1.2.3",
        "capacity-x/parameters-y",
        "rules-z",
        "press 4, pull 3",
        "2026-01-05",
        "28 days",
        "20261128",
        "99\u{a0}%",
    ] {
        assert!(last.contains(part), "{part} in {last}");
    }
    assert!(has_row(&tree, &["sets.csv", &"ab".repeat(32), "987\u{a0}654"]));
    assert!(text(tree.root_element()).contains("This does not say what any advice is worth."));
}

#[test]
fn predictions_alone_have_no_word_on_advice() {
    let mut alone = summary();
    alone.advisers.clear();
    alone.manifest.advisers.clear();
    alone.manifest.data.clear();
    let html = page(&alone);
    assert!(!html.contains("advised") && html.contains("cannot be tied to its logs"));
    assert_eq!(elements(&tree(&html), "section").len(), 8);
}

#[test]
fn hostile_names_stay_in_their_places() {
    let mut hostile = summary();
    let text = || HOSTILE.to_owned();
    hostile.forecasters[1].name = text();
    hostile.forecasters[1].about = text();
    hostile.forecasters[0].name = text();
    hostile.forecasters[0].edges[0].edge = text();
    hostile.groups[0].by = text();
    hostile.groups[0].group = text();
    hostile.advisers[0].name = text();
    hostile.conclusions[0] = text();
    hostile.counts.excluded.insert(text(), 1);
    hostile.counts.notes.insert(text(), 1);
    hostile.manifest.data[0].name = text();
    hostile.manifest.data[0].sha256 = text();
    hostile.manifest.program = text();
    hostile.manifest.model_version = text();
    hostile.manifest.challenger_version = Some(text());
    hostile.manifest.policy_version = text();
    hostile.manifest.ladder_versions.insert(text(), 1);
    hostile.manifest.selection.athletes.insert(text());
    hostile.manifest.forecasters[0] = text();
    hostile.manifest.advisers[0] = text();
    let html = page(&hostile);
    assert!(!html.contains("<script") && html.matches("</style>").count() == 1);
    let tree = tree(&html);
    assert!(elements(&tree, "script").is_empty());
    assert!(html.matches("&lt;script&gt;").count() > 20, "each is shown as it is");
}

#[test]
fn a_lone_athlete_and_forecaster_make_a_page() {
    let mut lone = summary();
    lone.forecasters.truncate(1);
    lone.forecasters[0].log_score_interval = None;
    lone.forecasters[0].ranked = None;
    lone.forecasters[0].edges.clear();
    lone.forecasters[0].intervals.clear();
    lone.forecasters[0].ranks.counts = vec![0; 20];
    lone.gap_closed = None;
    let html = page(&lone);
    assert!(html.contains("There is nobody to hold it against"));
    assert!(has_row(&tree(&html), &["service", "0.8123", "\u{2013}", "0.7321", "\u{2013}", "41"]));
    lone.forecasters.clear();
    assert!(!page(&lone).contains("NaN"));
}

#[test]
fn a_figure_that_is_none_is_refused() {
    let mut wrong = summary();
    wrong.forecasters[0].intervals[0].found = f64::NAN;
    assert!(matches!(report::html(&wrong), Err(OutputError::Picture { .. })));
}
