//! Hold-backs as pages: what is held back for the same reason stands together.

use nextrung_api::v1;

use crate::lexicon::Lexicon;
use crate::paragraph::hanging;
use crate::view::figure::and_list;
use crate::words;

/// Rungs named one by one before the rest is counted.
const NAMED: usize = 3;

/// Rungs held back by one thing.
struct Group<'h> {
    first: &'h v1::HoldBack,
    rungs: Vec<String>,
}

/// What was held back, and what would open it, one paragraph for each reason.
pub(crate) fn page(found: &[v1::HoldBack], lexicon: &Lexicon, width: usize) -> String {
    let mut page = String::new();
    for group in groups(found, lexicon) {
        let kind = words::word_of::<v1::HoldBackKind>(group.first.kind);
        let text = format!("{}: {} {}", named(&group.rungs), group.first.detail, group.first.opened_by);
        page += &hanging(&format!("  {kind:<11}"), &text, width);
    }
    page
}

/// The same as sentences.
pub(crate) fn sentences(found: &[v1::HoldBack], lexicon: &Lexicon) -> Vec<String> {
    let sentence = |group: Group<'_>| {
        let kind = words::word_of::<v1::HoldBackKind>(group.first.kind);
        format!("{} ({kind}): {} {}", named(&group.rungs), group.first.detail, group.first.opened_by)
    };
    groups(found, lexicon).into_iter().map(sentence).collect()
}

/// Hold-backs that say the same, in the order in which they first appear.
fn groups<'h>(found: &'h [v1::HoldBack], lexicon: &Lexicon) -> Vec<Group<'h>> {
    let mut groups: Vec<Group<'h>> = Vec::new();
    for one in found {
        let rung = lexicon.rung(&one.rung);
        let same = groups.iter_mut().find(|group| {
            let first = group.first;
            (first.kind, &first.detail, &first.opened_by) == (one.kind, &one.detail, &one.opened_by)
        });
        match same {
            Some(group) => group.rungs.push(rung),
            None => groups.push(Group { first: one, rungs: vec![rung] }),
        }
    }
    groups
}

fn named(rungs: &[String]) -> String {
    if rungs.len() <= NAMED + 1 {
        return and_list(rungs);
    }
    let (first, rest) = rungs.split_at(NAMED);
    format!("{} and {} more rungs", first.join(", "), rest.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(rung: &str, kind: v1::HoldBackKind) -> v1::HoldBack {
        v1::HoldBack {
            rung: format!("ladders/press/rungs/{rung}"),
            kind: i32::from(kind),
            opened_by: "Wait.".to_owned(),
            detail: "It hurt.".to_owned(),
            figures: Vec::new(),
        }
    }

    #[test]
    fn what_says_the_same_stands_together() {
        let found: Vec<_> =
            ["a", "b", "c", "d", "e"].iter().map(|rung| held(rung, v1::HoldBackKind::Pain)).collect();
        let expected = "  pain       press/a, press/b, press/c and 2 more rungs: It hurt. Wait.\n";
        assert_eq!(page(&found, &Lexicon::default(), 96), expected);
    }

    #[test]
    fn sentences_name_rungs_and_kind() {
        let found = [held("a", v1::HoldBackKind::Gate), held("b", v1::HoldBackKind::Gate)];
        assert_eq!(sentences(&found, &Lexicon::default()), ["press/a and press/b (gate): It hurt. Wait."]);
    }

    #[test]
    fn different_reasons_stand_apart() {
        let found = [held("a", v1::HoldBackKind::Gate), held("a", v1::HoldBackKind::Pain)];
        let expected = "  gate       press/a: It hurt. Wait.\n  pain       press/a: It hurt. Wait.\n";
        assert_eq!(page(&found, &Lexicon::default(), 96), expected);
    }
}
